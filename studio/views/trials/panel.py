"""The panel "Your first cut plan": what the server laid of a pattern by itself, on today's rack."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, cast

from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from classroom.figures.units import format_area, format_run
from classroom.languages import in_language
from classroom.models import School
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.wording.chosen_language import chosen_language
from inventory.models import Metal
from studio.core.cutting import Plan, job_from_json, plan_from_json
from studio.core.cutting.groups import group_of
from studio.models import Pattern, TrialLayout
from studio.queries.patterns import pattern_for
from studio.queries.trials import metals_of
from studio.running.health import nobody_works
from studio.running.trials.reaping import reap
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.may_lay import why_no_tries
from studio.steps.layouts.trial import can_be_tried, start, trial_of
from studio.steps.plans.asking import piece_id
from studio.templatetags.measures import amount
from studio.views.plans.figures import drawn

FIRST_LOOK_MS, LATER_LOOK_MS, LONGEST_LOOK_MS = 300, 1000, 8000
"""How soon the panel asks again: soon for the layout itself, slower the longer it takes."""
PANEL, OTHERS = "studio/trials/panel/panel.html", "studio/trials/panel/others.html"
LEAST = 1.0  # mm or mm²: less is no difference
LEAST_MONEY = 0.04  # a few cents are the rounding of both
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
        only_others = request.GET.get("part") == "others" and "plan" in context
        return render_to_string(OTHERS if only_others else PANEL, context, request)


def _context(request: Visit, pattern: Pattern) -> dict[str, Any]:
    project = pattern.project
    context: dict[str, Any] = {
        "pattern": pattern,
        "project": project,
        "brief": project.brief,
        "mine": set() if request.user.is_teacher else {group_of(project.pk)},
        "is_teacher": request.user.is_teacher,
        "may_lay_out": request.user.is_student and not why_no_tries(project, request.user),
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
        return context | _laid(trial, pattern, context["delay_ms"])
    return context | {"nobody": trial.is_open and nobody_works()}


def _next_look_ms(sent: str) -> int:
    """Milliseconds until the panel asks again."""
    before = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 6 else 0
    return min(LONGEST_LOOK_MS, before * 3 // 2) if before else FIRST_LOOK_MS


def _laid(trial: TrialLayout, pattern: Pattern, delay_ms: int) -> dict[str, Any]:
    plan = plan_from_json(cast(Any, trial.answer))
    job = job_from_json(trial.job)
    brief = pattern.project.brief
    price = Decimal(trial.others["price"])
    pieces = {piece_id(pattern, piece): piece for piece in pattern.drawing.pieces}
    told = trial.others.get("told", [])
    metals = metals_of([trial.others["metal"], *(one["metal"] for one in told if "metal" in one)])
    open_questions = bool(trial.others.get("todo"))
    return {
        "plan": plan,
        "wanted": job.copies,
        "pictures": drawn(job, plan, lambda: pieces, frame_depth_mm(brief.course.school)),
        "metal": metals.get(trial.others["metal"]),
        "price": price,
        "above": max(Decimal(0), price - brief.allowance),
        "strip": _strip(plan),
        "told": [_other(one, metals, brief.course.school) for one in told],
        "asking": open_questions,
        "others_ms": max(LATER_LOOK_MS, delay_ms),
    }


def _strip(plan: Plan) -> tuple[float, float] | None:
    longer, shorter = plan.measures.largest_rectangle_mm
    return (longer, shorter) if shorter else None


def _other(one: dict[str, Any], metals: dict[int, Metal], school: School) -> dict[str, Any]:
    """What something else would change, with its differences in words."""
    money = Decimal(one.get("money", "0"))
    sum_of = f"{amount(abs(money))} {school.currency}".strip()
    area, sawn = one.get("mm2", 0.0), one.get("mm", 0.0)
    told_area, told_sawn = format_area(abs(area), school.units), format_run(abs(sawn), school.units)
    less_area, more_area = _("%(area)s less metal used up"), _("%(area)s more metal used up")
    less_sawn, more_sawn = _("%(sawn)s less to saw"), _("%(sawn)s more to saw")
    differences = [
        (area, LEAST, {"area": told_area}, less_area, more_area),
        (sawn, LEAST, {"sawn": told_sawn}, less_sawn, more_sawn),
        (money, LEAST_MONEY, {"sum": sum_of}, _("%(sum)s cheaper"), _("%(sum)s dearer")),
    ]
    words = [
        (less if value < 0 else more) % told
        for value, least, told, less, more in differences
        if abs(value) > least
    ]
    return {
        "kind": one["kind"],
        "least_mm": one.get("least_mm"),
        "moved_mm": one.get("moved_mm"),
        "metal": metals.get(one.get("metal", 0)),
        "differences": ", ".join(words),
    }
