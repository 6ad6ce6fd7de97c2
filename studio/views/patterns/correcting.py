"""The student corrects on screen: lines over the picture of the paper, one change at a time.

The script and plain forms send the same things to the same addresses. A script is answered with
what is other now, a plain form with the page itself.
"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.validators import slug_re
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from classroom.figures.units import Units, length_to_type
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.refused_forms import Wrong
from studio.core.correcting import middle_of
from studio.core.reading import Line
from studio.forms.patterns.correcting import DRILL_CHOICES, REACHES_MM, changes_asked
from studio.models import Pattern
from studio.queries.patterns import pattern_for
from studio.steps.at_work import why_shut
from studio.steps.patterns import correct as correct_step
from studio.steps.patterns.relabel import LABEL_CHOICES, OPEN_STATES
from studio.steps.patterns.sheet_picture import open_paper
from studio.steps.patterns.versions import current_pattern
from studio.views.house.sure_send import wants_json

from .correcting_state import (
    LABEL_NAMES,
    Correcting,
    gap_row,
    sheet_of,
    state_after,
    undone,
    unit_words,
    whole_state,
)
from .findings import counted, tally
from .picture import picture

MEANT = {
    "diameter": "id-diameter",
    "new-hole": "id-hole-x",
    "move-point": "id-point",
    "add-point": "id-point",
    "remove-point": "id-point",
}
"""The id of the field to go back to when a plain form was refused, by its button."""
POINTS_LISTED = 200
"""The page without scripts lists so many points of a line; the picture has them all."""


@requires(Action.DRAW_PATTERN)
@require_GET
def pattern_correct(request: Visit, pk: int) -> HttpResponse:
    """The page itself. What can no longer be changed is shown on the pattern's own page."""
    pattern = pattern_for(request.user, pk)
    if pattern.state not in OPEN_STATES or why_shut(pattern.project):
        messages.info(request, "This pattern cannot be changed now.")
        return redirect("pattern", pk=pattern.pk)
    return _page(request, pattern, request.GET.get("line"))


def _page(
    request: Visit, pattern: Pattern, line: str | None, wrong: Wrong | None = None
) -> HttpResponse:
    """The page with a line chosen; after a refusal with what was typed and what is wrong."""
    school = request.user.school
    now = Correcting.of(pattern, school)
    chosen = now.line(line)
    row = next((each for each in now.rows if chosen is not None and each["id"] == chosen.id), None)
    project = pattern.project
    state = whole_state(now) | {
        "unit": unit_words(school),
        "names": LABEL_NAMES,
        "drills": [float(size) for size, _ in DRILL_CHOICES],
        "sheet": sheet_of(pattern),
    }
    context: dict[str, Any] = {
        "project": project,
        "brief": project.brief,
        "pattern": pattern,
        "state": state,
        "version": state["version"],
        "count": state["count"],
        "picture": picture(pattern, school=school, lines=now.lines, labels=now.labels),
        "sheet": state["sheet"],
        "findings": now.findings,
        "summary": state["summary"],
        "gaps": [gap_row(gap, school) for gap in now.gaps],
        "chosen": row,
        "shape": None if chosen is None else _shape(chosen, Units(school.units)),
        "label_choices": LABEL_CHOICES,
        "drill_choices": DRILL_CHOICES,
        "reaches": [(f"{reach:g}", _reach_words(reach)) for reach in REACHES_MM],
        "unit_name": unit_words(school)["name"],
        "typed": request.POST if wrong is not None else {},
        "wrongs": [wrong] if wrong is not None else [],
        "crumbs": [
            {"label": "My project", "url": reverse("project", args=[project.pk])},
            {"label": f"Pattern {pattern.number}", "url": reverse("pattern", args=[pattern.pk])},
            {"label": "Correct the lines"},
        ],
    }
    return render(request, "studio/patterns/correct/correct.html", context)


def _reach_words(reach: float) -> str:
    return f"{reach:g} mm of the line" if reach else "only the point"


def _shape(line: Line, units: Units) -> dict[str, Any]:
    """What the forms of the chosen line offer: its points, or its middle and diameter."""
    x, y = middle_of(line) if line.closed else line.points[0]
    return {
        "closed": line.closed,
        "diameter": "" if line.round is None else length_to_type(line.round.diameter_mm, units),
        "x": _typed(x, units),
        "y": _typed(y, units),
        "count": len(line.points),
        "points": [
            {"number": number, "x": _typed(x, units), "y": _typed(y, units)}
            for number, (x, y) in enumerate(line.points[:POINTS_LISTED], start=1)
        ],
    }


def _typed(mm: float, units: Units) -> str:
    return ("-" if mm < 0 else "") + length_to_type(abs(mm), units)


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_change(request: Visit, pk: int) -> HttpResponse:
    """One or several changes put on (`changes` as JSON, or the fields of one plain form)."""
    pattern = pattern_for(request.user, pk)
    typed = Units(request.user.school.units).typed
    try:
        after = correct_step.correct(
            pattern,
            changes_asked(request.POST, typed),
            acting=request.user,
            seen=request.POST.get("seen", ""),
            key=_key(request.POST.get("key", "")),
        )
    except Refused as refusal:
        return _refused(request, pattern, refusal)
    return _done(request, pattern, after, [])


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_undo(request: Visit, pk: int) -> HttpResponse:
    """The newest change taken off; `all` takes everything off."""
    pattern = pattern_for(request.user, pk)
    try:
        if "all" in request.POST:
            after = correct_step.undo_all(pattern, acting=request.user)
        else:
            seen = request.POST.get("seen", "")
            after = correct_step.undo(pattern, acting=request.user, seen=seen)
    except Refused as refusal:
        return _refused(request, pattern, refusal)
    return _done(request, pattern, after, undone(pattern.changes, after))


def _key(sent: str) -> str:
    """What a page of ours calls its sending; anything else names none."""
    return sent if len(sent) <= correct_step.KEY_LENGTH and slug_re.fullmatch(sent) else ""


def _done(
    request: Visit, before: Pattern, after: Pattern, taken_off: list[dict[str, Any]]
) -> HttpResponse:
    if not wants_json(request):
        messages.success(request, f"Checked again: {counted(tally(after.findings))}.")
        line = request.POST.get("line", "")
        asked = f"?line={line}" if line.isascii() and line.isalnum() else ""
        return redirect(reverse("pattern_correct", args=[after.pk]) + asked + "#picture")
    now = Correcting.of(after, request.user.school)
    if request.POST.get("seen") == correct_step.version_of(before):
        state = state_after(now, {line.id: line for line in before.traced.lines})
    else:  # sent again by a page that had heard no answer
        state = whole_state(now)
    return JsonResponse({"state": state, "undone": taken_off})


def _refused(request: Visit, pattern: Pattern, refusal: Refused) -> HttpResponse:
    """The rule in words, and how the drawing really stands, so that the picture can go back."""
    if not wants_json(request):
        open_still = pattern.state in OPEN_STATES and not why_shut(pattern.project)
        if request.POST.get("do", "") not in MEANT or not open_still:
            raise refusal
        sent = request.POST
        wrong = Wrong("", str(refusal), goes_to=MEANT[sent["do"]])
        return _page(request, pattern, sent.get("line"), wrong)
    newest = current_pattern(pattern.project) or pattern
    answer: dict[str, Any] = {"text": str(refusal)}
    if newest.state in OPEN_STATES:
        answer["state"] = whole_state(Correcting.of(newest, request.user.school))
    else:
        answer["go"] = reverse("pattern", args=[newest.pk])
    return JsonResponse(answer, status=409)


@requires(Action.SEE_PROJECT)
@require_GET
def pattern_paper(request: Visit, pk: int) -> HttpResponse:
    """The small grey picture of the sheet, made by us from what was read."""
    pattern = pattern_for(request.user, pk)
    try:
        with open_paper(pattern) as picture:
            response = HttpResponse(picture.read(), content_type="image/jpeg")
    except FileNotFoundError as missing:
        raise Http404("This pattern was no scan and no photo.") from missing
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
