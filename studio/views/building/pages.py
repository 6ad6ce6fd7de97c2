"""Building a pattern from shapes in the browser; every change is kept at once.

All deeds are plain forms. With scripts, static/js/building/page.js sends the same forms and puts
the answer, the same workbench, in its place; without them the page comes back with the step still
chosen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.figures.units import Units
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.refused_forms import Wrong
from studio.core.building import EXAMPLES, Draft, Recipe, RecipeError, Role
from studio.core.building import edits as edit
from studio.core.building.starting import first_values
from studio.core.standing import why_pattern_is_fixed
from studio.forms.patterns.building import PREFIX, Mistyped, typed_values
from studio.models import Pattern, Project
from studio.queries.patterns import project_for
from studio.steps.at_work import why_shut
from studio.steps.patterns.build import (
    ChangedMeanwhile,
    Made,
    Opened,
    draft_of,
    keep,
    let_go,
    made_of,
    opened,
    use,
)
from studio.steps.patterns.versions import OPEN_STAGES, current_pattern
from studio.views.practice.rules import rules_to_teach

from .shown import crumbs, other_recipes, workbench

BY_SCRIPT = "X-Building"


@dataclass(frozen=True, slots=True)
class Outcome:
    """The draft after a deed, the step that is chosen then, and a word about it."""

    draft: Draft
    chosen: str
    note: str = ""


@requires(Action.DRAW_PATTERN)
@require_http_methods(["GET", "HEAD", "POST"])
def pattern_build(request: Visit, project_pk: int) -> HttpResponse:
    project = project_for(request.user, project_pk)
    if request.method == "POST":
        if request.POST.get("deed") == "use":
            return _use(request, project)
        if request.POST.get("deed") == "let-go":
            return _let_go(request, project)
        return _do(request, project)
    chosen = request.GET.get("item", "")[:4]
    if BY_SCRIPT in request.headers:
        return _bench(request, project, chosen)
    return _page(request, project, chosen)


def _use(request: Visit, project: Project) -> HttpResponse:
    """The drawing is taken as the pattern's current version; its page shows what comes next."""
    try:
        pattern = use(project, acting=request.user, base=request.POST.get("base", ""))
    except (RecipeError, Refused) as refusal:
        messages.error(request, str(refusal))
        return redirect("pattern_build", project_pk=project.pk)
    messages.success(request, _taken(project, pattern))
    return redirect("pattern", pk=pattern.pk)


def _let_go(request: Visit, project: Project) -> HttpResponse:
    let_go(project, acting=request.user, base=request.POST.get("base", ""))
    messages.success(request, "These shapes are thrown away. Your versions are as they were.")
    return redirect("pattern_build", project_pk=project.pk)


def _taken(project: Project, pattern: Pattern) -> str:
    said = f"Your drawing is pattern {pattern.number} now."
    if project.patterns.count() > 1:
        said += " The versions before it are kept on the project’s page."
    return said


def _do(request: Visit, project: Project) -> HttpResponse:
    """One deed, kept; or nothing at all, and words that say why."""
    chosen = request.POST.get("item", "")[:4]
    error = note = ""
    made: Made | None = None
    typed: Mistyped | None = None
    try:
        now = opened(project)
        if request.POST.get("base") != now.base:
            raise ChangedMeanwhile
        outcome = _DEEDS.get(request.POST.get("deed", ""), _unknown)(request, project, now.draft)
        chosen, note = outcome.chosen, outcome.note
        if outcome.draft is not now.draft:
            _, made = keep(project, outcome.draft, base=request.POST["base"])
    except RecipeError as refusal:
        error = str(refusal)
        if request.POST.get("deed") == "set":
            typed = Mistyped(request.POST.dict(), refusal.field, error)
    except Refused as refusal:
        error = str(refusal)
    if BY_SCRIPT in request.headers:
        return _bench(request, project, chosen, made, note=note, error=error, typed=typed)
    if typed is not None:
        return _page(request, project, chosen, error=error, typed=typed)
    here = reverse("pattern_build", args=[project.pk])
    if error:  # said at the top of the page, so it is not opened further down
        messages.error(request, error)
        return redirect(f"{here}?item={chosen}" if chosen.isdecimal() else here)
    if note:
        messages.success(request, note)
    return redirect(f"{here}?item={chosen}#workbench" if chosen.isdecimal() else here)


def _bench(
    request: Visit,
    project: Project,
    chosen: str,
    made: Made | None = None,
    *,
    note: str = "",
    error: str = "",
    typed: Mistyped | None = None,
) -> HttpResponse:
    context = _context(
        request, project, opened(project), chosen, made, note=note, error=error, typed=typed
    )
    return render(request, "studio/building/work.html", context, status=422 if error else 200)


def _page(
    request: Visit,
    project: Project,
    chosen: str,
    *,
    error: str = "",
    typed: Mistyped | None = None,
) -> HttpResponse:
    open_work = project.stage in OPEN_STAGES and not why_shut(project)
    context: dict[str, Any] = {
        "brief": project.brief,
        "project": project,
        "open_work": open_work,
        "shut": why_shut(project),
        "fixed": why_pattern_is_fixed(project.stage),
        "crumbs": crumbs(project),
        "taught": rules_to_teach(request, project.brief),
    }
    if open_work:
        now = opened(project)
        current = current_pattern(project)
        context |= _context(request, project, now, chosen, error=error, typed=typed)
        if typed is not None:
            context["wrongs"] = [Wrong("", error, PREFIX + typed.wrong_field)]
        context["current"] = current
        context["beside"] = current is not None and (now.unused or current.recipe is None)
        context["by_hand"] = bool(
            current is not None
            and now.begun_from == current
            and (current.changes or current.relabels)
        )
        context["earlier"] = other_recipes(project, now)
        context["returned"] = (
            current if current and current.state == Pattern.State.RETURNED else None
        )
    return render(request, "studio/building/page.html", context, status=422 if error else 200)


def _context(
    request: Visit,
    project: Project,
    now: Opened,
    chosen: str,
    made: Made | None = None,
    *,
    note: str = "",
    error: str = "",
    typed: Mistyped | None = None,
) -> dict[str, Any]:
    try:
        made = made or made_of(now.draft.recipe, project.brief.limits)
    except RecipeError as broken:  # built by rules of another release
        now, error = replace(now, draft=Draft()), str(broken)
        made = made_of(now.draft.recipe, project.brief.limits)
    return workbench(
        project,
        now,
        made,
        chosen_id=chosen,
        school=request.user.school,
        note=note,
        error=error or now.trouble,
        typed=typed,
    )


Deed = Callable[[Visit, Project, Draft], Outcome]


def _add(request: Visit, project: Project, draft: Draft) -> Outcome:
    kind, role = request.POST.get("kind", ""), request.POST.get("role", "")
    has_metal = any(
        step.kind.name == "tiling" or (step.has("role") and step.text("role") == Role.METAL)
        for step in draft.recipe
    )
    values = first_values(kind, role, project.brief.limits, has_metal=has_metal)
    recipe, chosen = edit.added(draft.recipe, kind, values)
    return Outcome(draft.changed(recipe), chosen)


def _set(request: Visit, project: Project, draft: Draft) -> Outcome:
    chosen = request.POST.get("item", "")[:4]
    step = draft.recipe.step(chosen)
    if step is None:
        raise RecipeError("This step is not in the recipe any more.", "Choose another one.")
    values = typed_values(step.kind, request.POST.dict(), Units(request.user.school.units))
    if step.kind.name == "hole" and "x" in values:
        values.setdefault("found", "here")  # moved by hand, so it no longer seeks its place
    recipe = edit.changed(draft.recipe, chosen, values, request.POST.get("name"))
    return Outcome(draft if recipe == draft.recipe else draft.changed(recipe), chosen)


def _remove(request: Visit, project: Project, draft: Draft) -> Outcome:
    recipe = edit.without(draft.recipe, request.POST.get("item", "")[:4])
    return Outcome(draft.changed(recipe), "", "Removed. Undo brings it back.")


def _copy(request: Visit, project: Project, draft: Draft) -> Outcome:
    recipe, chosen = edit.copied(draft.recipe, request.POST.get("item", "")[:4])
    return Outcome(draft.changed(recipe), chosen)


def _shift(by: int) -> Deed:
    def deed(request: Visit, project: Project, draft: Draft) -> Outcome:
        chosen = request.POST.get("item", "")[:4]
        return Outcome(draft.changed(edit.moved(draft.recipe, chosen, by)), chosen)

    return deed


def _undo(request: Visit, project: Project, draft: Draft) -> Outcome:
    return Outcome(draft.undone(), request.POST.get("item", "")[:4])


def _redo(request: Visit, project: Project, draft: Draft) -> Outcome:
    return Outcome(draft.redone(), request.POST.get("item", "")[:4])


def _example(request: Visit, project: Project, draft: Draft) -> Outcome:
    wanted = request.POST.get("example")
    example = next((each for each in EXAMPLES if each.name == wanted), None)
    if example is None:
        raise RecipeError("There is no such example.", "Choose one from the list.")
    note = f"{example.title}: change its steps as you like. Undo brings back what was here."
    return Outcome(draft.changed(example.recipe), "", note)


def _earlier(request: Visit, project: Project, draft: Draft) -> Outcome:
    number = request.POST.get("pattern", "")
    found = (
        project.patterns.filter(number=int(number), recipe__isnull=False).first()
        if number.isdecimal() and len(number) < 7
        else None
    )
    if found is None:
        raise Refused("There is no such version that was built from shapes.")
    note = f"The shapes of pattern {found.number}. Undo brings back what was here."
    return Outcome(draft.changed(draft_of(found).recipe), "", note)


def _clear(request: Visit, project: Project, draft: Draft) -> Outcome:
    return Outcome(draft.changed(Recipe()), "", "The paper is empty. Undo brings it all back.")


def _lawful(request: Visit, project: Project, draft: Draft) -> Outcome:
    chosen = request.POST.get("item", "")[:4]
    recipe = edit.changed(draft.recipe, chosen, {"found": "edge"})
    return Outcome(draft.changed(recipe), chosen)


def _unknown(request: Visit, project: Project, draft: Draft) -> Outcome:
    raise Refused("That button is not known. Load the page again.")


_DEEDS: dict[str, Deed] = {
    "add": _add,
    "set": _set,
    "remove": _remove,
    "copy": _copy,
    "earlier-step": _shift(-1),
    "later-step": _shift(1),
    "undo": _undo,
    "redo": _redo,
    "example": _example,
    "earlier": _earlier,
    "clear": _clear,
    "lawful": _lawful,
}
