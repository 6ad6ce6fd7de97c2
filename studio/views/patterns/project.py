"""One project: where it stands, its pattern, its plan and price, and what happened."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.views.decorators.http import require_POST

from classroom.models import subject_of
from classroom.permissions import Action, Visit, requires
from classroom.queries import seats_for
from classroom.refusals import Refused
from studio.models import CutPlan, Pattern, Project, Quote
from studio.queries.briefs import brief_for
from studio.queries.errands import errands_to_show
from studio.queries.patterns import history_of_project, projects_for, quotes_of
from studio.queries.plans import plans_holding
from studio.steps.at_work import why_shut
from studio.steps.patterns.start_project import start_project
from studio.steps.patterns.versions import OPEN_STAGES
from studio.telling.today.stages import PATTERN_WORDS, stage_words, trail
from studio.telling.today.standings import whats_next, with_what_counts
from studio.views.own_layouts.handing_in import handing_in
from studio.views.plans.adding import metal_to_add_to
from studio.views.trials.panel import panel_of

from .findings import numbered
from .picture import mark_spot, picture
from .versions import ON_THE_PROJECTS_PAGE, may_change_versions, version_cards, versions_of

Stage = Project.Stage
LAYING_STAGES = (*OPEN_STAGES, Stage.HANDED_IN, Stage.PATTERN_APPROVED)
"""As long as the plan has not taken the layout's place."""
HISTORY_SHOWN = 40
BENCH_STAGES = (Stage.AT_BENCH, Stage.MADE, Stage.CLOSED)


@requires(Action.DRAW_PATTERN)
@require_POST
def project_start(request: Visit, brief_pk: int) -> HttpResponse:
    brief = brief_for(request.user, brief_pk)
    seat = seats_for(request.user).filter(course=brief.course_id, left_at=None).first()
    if seat is None:
        raise Refused("You have no seat in this course (any more).")
    project = start_project(brief, seat, acting=request.user)
    return redirect("project", pk=project.pk)


@requires(Action.SEE_PROJECT)
def project_page(request: Visit, pk: int) -> HttpResponse:
    project = get_object_or_404(with_what_counts(projects_for(request.user)), pk=pk)
    following = whats_next([project], request.user)[pk]
    versions = list(versions_of(project)[:ON_THE_PROJECTS_PAGE])
    current = versions[0] if versions else None
    may_change = may_change_versions(project, student=request.user.is_student)
    for one in versions:
        one.project = project
    plan = plans_holding([project]).defer("job").first()
    quote = Quote.that_counts(quotes_of(project), plan.pk if plan else None)
    urls = _urls(project, current, plan)
    building = may_change and hasattr(project, "builder_draft")
    context: dict[str, Any] = {
        "project": project,
        "brief": project.brief,
        "whose": _whose(project, for_teacher=request.user.is_teacher),
        "stage": stage_words(project.stage),
        "trail": trail(project, urls, waits=following.waiting),
        "pattern": current,
        "pattern_template": "studio/patterns/project/pattern.html"
        if current
        else "studio/patterns/project/no_pattern.html",
        "pattern_words": PATTERN_WORDS[current.state] if current else None,
        "returned_words": _returned_words(current),
        "picture": picture(current, school=request.user.school) if current else None,
        "mark_spot": mark_spot(current) if current else None,
        "is_teacher": request.user.is_teacher,
        "handing_in": handing_in(
            project,
            current,
            request.user.school,
            student=request.user.is_student,
            open_work=not why_shut(project),
        )
        if project.stage in LAYING_STAGES
        else None,
        "findings": numbered(current.findings, request.user.school) if current else None,
        "shut": why_shut(project) if project.stage in OPEN_STAGES else "",
        "may_build": may_change,
        "building": building,
        "build_label": _build_label(current, building=building),
        "versions": version_cards(versions, request.user.school, may_change=may_change),
        "version_count": project.patterns.count(),
        "trial_panel": panel_of(request, current) if plan is None else "",
        "plan": plan,
        "plan_url": urls.get("Cut plan", ""),
        "add_url": reverse("project_add", args=[project.pk]) if metal_to_add_to(project) else "",
        "bench_url": urls.get("Bench", ""),
        "prints": _prints(project, current, plan),
        "quote": quote,
        "following": following,
        "next_kicker": "Nothing to do now" if following.waiting else "",
        "entries": _history(project),
        "errands": [
            one for one in errands_to_show(request.user) if one.about == subject_of(project)
        ],
        "crumbs": [
            {"label": "Briefs", "url": reverse("briefs")},
            {"label": project.brief.title, "url": reverse("brief", args=[project.brief_id])},
            {"label": project.student.display_name if request.user.is_teacher else "My project"},
        ],
    }
    return render(request, "studio/patterns/project/page.html", context)


def _whose(project: Project, *, for_teacher: bool) -> str:
    """The student and the metal; students know whose it is."""
    if not for_teacher:
        return capfirst(str(project.metal)) if project.metal else ""
    name = project.student.display_name
    return f"{name}, {project.metal}" if project.metal else name


def _returned_words(pattern: Pattern | None) -> str:
    if pattern is None or pattern.state != Pattern.State.RETURNED:
        return ""
    by = pattern.reviewed_by.display_name if pattern.reviewed_by else "Your teacher"
    return f"{by} handed back pattern {pattern.number}"


def _build_label(pattern: Pattern | None, *, building: bool) -> str:
    built = pattern is not None and pattern.was_built  # type: ignore[attr-defined]
    if building or built:
        return "Go on building"
    return "Build from shapes" if pattern else "Build one from shapes"


def _urls(project: Project, pattern: Pattern | None, plan: CutPlan | None) -> dict[str, str]:
    urls: dict[str, str] = {}
    if pattern is not None:
        urls["Pattern"] = reverse("pattern", args=[pattern.pk])
    if plan is not None:
        urls["Cut plan"] = reverse("plan", args=[plan.pk])
    if project.stage in BENCH_STAGES:
        urls["Bench"] = reverse("bench", args=[project.pk])
    return urls


def _prints(
    project: Project, pattern: Pattern | None, plan: CutPlan | None
) -> list[dict[str, str]]:
    """Every paper of this project that has something on it by now."""
    wanted: list[tuple[str, str, int]] = []
    if pattern is not None and pattern.drawing.pieces:
        wanted.append(("Pattern at 1:1", "pattern_sheet", pattern.pk))
    if plan is not None and plan.is_whole:
        wanted.append(("Cut plan", "cut_plan_print", plan.pk))
        wanted.append(("Placement sheet, true size", "placement_sheet", plan.pk))
    if pattern is not None:
        wanted.append(("Preparation checklist", "preparation_checklist", project.pk))
    wanted.append(("Safety checklist to sign", "safety_checklist", project.pk))
    return [{"label": label, "url": reverse(name, args=[pk])} for label, name, pk in wanted]


_PLAN_DEEDS = {
    "plan-approved": "approved the cut plan",
    "plan-issued": "handed out the metal",
    "plan-closed": "took the metal back and closed the cut plan",
    "plan-dropped": "dropped the cut plan",
}
"""A plan may hold several students' work: its deeds are told here without names and prices."""


def _history(project: Project) -> list[dict[str, Any]]:
    rows = history_of_project(project, _PLAN_DEEDS)[:HISTORY_SHOWN]
    return [
        {
            "when": row.at,
            "who": row.actor.display_name if row.actor else "Benchledger",
            "what": _PLAN_DEEDS.get(row.verb, row.text),
            "why": "" if row.verb in _PLAN_DEEDS else row.detail.get("why", ""),
        }
        for row in rows
    ]
