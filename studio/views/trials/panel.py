"""The panel "Your first cut plan": what the server laid of a pattern by itself, on today's rack."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, cast

from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.utils.translation import get_language
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from classroom.languages import in_language
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.wording.chosen_language import chosen_language
from inventory.models import Metal
from studio.core.cutting import Plan, job_from_json, plan_from_json
from studio.models import Brief, Pattern, TrialLayout
from studio.queries.patterns import pattern_for
from studio.running.health import nobody_works
from studio.running.trials.reaping import reap
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.trial import can_be_tried, start, trial_of
from studio.steps.plans.asking import group_of, piece_id
from studio.views.plans.figures import drawn

FIRST_LOOK_MS, LATER_LOOK_MS, LONGEST_LOOK_MS = 300, 1000, 8000
"""How soon the panel asks again: soon for the layout itself, slower the longer it takes."""
DONE, FAILED = TrialLayout.State.DONE, TrialLayout.State.FAILED


@requires(Action.SEE_LAYOUT)
@never_cache
@require_http_methods(["GET", "POST"])
def trial_panel(request: Visit, pk: int) -> HttpResponse:
    """The panel alone, for a page that asks again; a POST asks once more for one that failed."""
    pattern = pattern_for(request.user, pk)
    if request.method == "POST":
        _ask_once_more(pattern)
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect("pattern", pk=pattern.pk)
    return HttpResponse(panel_of(request, pattern))


def _ask_once_more(pattern: Pattern) -> None:
    if can_be_tried(pattern):
        trial = trial_of(pattern)
        if trial.state == FAILED and lease.begin_anew(trial):
            start(trial)


def panel_of(request: Visit, pattern: Pattern | None) -> str:
    """The panel's HTML in its reader's language, which a page of one language may hold as it is;
    empty where there is nothing to try out."""
    if pattern is None or not can_be_tried(pattern):
        return ""
    page_language = get_language()
    with in_language(chosen_language(request, request.user.school)):
        context = _context(request, pattern)
        language = get_language()
        context["language"] = language if language != page_language else ""
        part = "others" if request.GET.get("part") == "others" and "plan" in context else "panel"
        return render_to_string(f"studio/trials/panel/{part}.html", context, request)


def _context(request: Visit, pattern: Pattern) -> dict[str, Any]:
    project = pattern.project
    context: dict[str, Any] = {
        "pattern": pattern,
        "project": project,
        "brief": project.brief,
        "mine": set() if request.user.is_teacher else {group_of(project.pk)},
        "is_teacher": request.user.is_teacher,
        "may_lay_out": request.user.is_student and project.brief.laid_by != Brief.LaidBy.SERVER,
        "delay_ms": _next_look_ms(request.GET.get("n", "")),
    }
    try:
        trial = trial_of(pattern)
    except Refused:
        return context | {"no_metal": True}
    if trial.state == TrialLayout.State.RUNNING and reap(only=trial.pk):
        trial.refresh_from_db()
    context |= {"trial": trial, "failed": trial.state == FAILED}
    if trial.state == DONE and trial.answer is not None:
        return context | _laid(trial, pattern)
    return context | {"nobody": trial.is_open and nobody_works()}


def _next_look_ms(sent: str) -> int:
    """Milliseconds until the panel asks again."""
    before = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 6 else 0
    return min(LONGEST_LOOK_MS, before * 3 // 2) if before else FIRST_LOOK_MS


def _laid(trial: TrialLayout, pattern: Pattern) -> dict[str, Any]:
    plan = plan_from_json(cast(Any, trial.answer))
    job = job_from_json(trial.job)
    brief = pattern.project.brief
    price = Decimal(trial.others["price"])
    pieces = {piece_id(pattern, piece): piece for piece in pattern.drawing.pieces}
    told = trial.others.get("told", [])
    metals = Metal.objects.in_bulk(
        [trial.others["metal"], *(one["metal"] for one in told if "metal" in one)]
    )
    open_questions = bool(trial.others.get("todo"))
    return {
        "plan": plan,
        "wanted": job.copies,
        "pictures": drawn(job, plan, lambda: pieces, frame_depth_mm(brief.course.school)),
        "metal": metals.get(trial.others["metal"]),
        "price": price,
        "above": max(Decimal(0), price - brief.allowance),
        "strip": _strip(plan),
        "told": [_other(one, metals) for one in told],
        "asking": open_questions,
        "others_ms": LATER_LOOK_MS,
    }


def _strip(plan: Plan) -> tuple[float, float] | None:
    longer, shorter = plan.measures.largest_rectangle_mm
    return (longer, shorter) if shorter else None


def _other(one: dict[str, Any], metals: dict[int, Metal]) -> dict[str, Any]:
    """What something else would change, with its differences as amounts and which way."""
    found: dict[str, Any] = {"kind": one["kind"], "least_mm": one.get("least_mm")}
    found["moved_mm"] = one.get("moved_mm")
    if "metal" in one:
        found["metal"] = metals.get(one["metal"])
    for name, least in (("mm2", 1.0), ("mm", 1.0)):
        value = float(one.get(name, 0.0))
        found[name] = abs(value) if abs(value) >= least else None
        found[f"{name}_less"] = value < 0
    money = Decimal(one.get("money", "0"))
    found["money"] = abs(money) if money else None
    found["money_less"] = money < 0
    return found
