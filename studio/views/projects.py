"""One project: where it stands, its pattern, its plan and price, and what happened."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_POST

from classroom.models import History
from classroom.permissions import Action, Visit, requires
from classroom.queries import seats_for
from classroom.refusals import Refused
from studio import queries
from studio.models import Pattern, Project, Quote
from studio.steps.start_project import start_project

from .class_table import newest_quote
from .findings import numbered
from .pattern_picture import picture
from .stages import PATTERN_WORDS, trail, words_of

Stage = Project.Stage
HISTORY_SHOWN = 40
BENCH_STAGES = (Stage.AT_BENCH, Stage.MADE, Stage.CLOSED)


@requires(Action.DRAW_PATTERN)
@require_POST
def project_start(request: Visit, brief_pk: int) -> HttpResponse:
    brief = queries.brief_for(request.user, brief_pk)
    seat = seats_for(request.user).filter(course=brief.course_id, left_at=None).first()
    if seat is None:
        raise Refused("You have no seat in this course (any more).")
    project = start_project(brief, seat, acting=request.user)
    return redirect("project", pk=project.pk)


@requires(Action.SEE_PROJECT)
def project_page(request: Visit, pk: int) -> HttpResponse:
    project = queries.project_for(request.user, pk)
    patterns = list(project.patterns.defer("tracing", "relabels").select_related("reviewed_by"))
    for one in patterns:
        one.project = project
    current = next((one for one in patterns if one.state != Pattern.State.REPLACED), None)
    share = project.plan_shares.filter(live=True).select_related("plan").first()
    plan = share.plan if share else None
    quotes = list(Quote.objects.filter(project=project).prefetch_related("lines"))
    quote = newest_quote(quotes, plan.pk if plan else None)
    urls = _urls(project, current, plan)
    context: dict[str, Any] = {
        "project": project,
        "brief": project.brief,
        "stage": words_of(project.stage),
        "trail": trail(project, urls),
        "pattern": current,
        "pattern_words": PATTERN_WORDS[current.state] if current else None,
        "picture": picture(current, school=request.user.school) if current else None,
        "findings": numbered(current.findings, request.user.school) if current else None,
        "revisions": [{"pattern": one, "words": _revision_words(one)} for one in patterns],
        "plan": plan,
        "plan_url": urls.get("Cut plan", ""),
        "bench_url": urls.get("Bench", ""),
        "quote": quote,
        "next": _next(request, project, current, urls),
        "entries": _history(project),
        "crumbs": [
            {"label": "Briefs", "url": reverse("briefs")},
            {"label": project.brief.title, "url": reverse("brief", args=[project.brief_id])},
            {"label": project.student.display_name if request.user.is_teacher else "My project"},
        ],
    }
    return render(request, "studio/projects/page.html", context)


def _revision_words(pattern: Pattern) -> Any:
    """A replaced revision that carried a remark was returned first; that is what matters."""
    if pattern.state == Pattern.State.REPLACED and pattern.reviewed_at is not None:
        return PATTERN_WORDS["returned"]
    return PATTERN_WORDS[pattern.state]


def _urls(project: Project, pattern: Pattern | None, plan: Any) -> dict[str, str]:
    urls: dict[str, str] = {}
    if pattern is not None:
        urls["Pattern"] = reverse("pattern", args=[pattern.pk])
    if plan is not None:
        urls["Cut plan"] = _address("plan", plan.pk)
    if project.stage in BENCH_STAGES:
        urls["Bench"] = _address("bench", project.pk)
    return {label: url for label, url in urls.items() if url}


def _address(name: str, pk: int) -> str:
    try:
        return reverse(name, args=[pk])
    except NoReverseMatch:
        return ""


def _next(
    request: Visit, project: Project, pattern: Pattern | None, urls: dict[str, str]
) -> dict[str, str] | None:
    """What to do next, for whoever is looking; None where somebody else's turn it is."""
    if request.user.is_teacher:
        return _next_for_teacher(project, pattern, urls)
    upload = reverse("pattern_upload", args=[project.pk])
    open_brief = project.brief.closed_at is None and project.brief.course.closed_at is None
    if project.stage == Stage.RETURNED and pattern is not None and open_brief:
        return {
            "title": "Mend your pattern",
            "text": "Your teacher returned it with a remark. Read it, mend the drawing and "
            "upload it again.",
            "url": upload,
            "label": "Upload the mended pattern",
        }
    if project.stage == Stage.DRAWING and pattern is None and open_brief:
        return {
            "title": "Bring your pattern",
            "text": "Draw the outline of your piece and its windows, save it as SVG and upload it.",
            "url": upload,
            "label": "Upload a pattern",
        }
    if project.stage == Stage.DRAWING and pattern is not None:
        ready = pattern.may_be_handed_in
        return {
            "title": "Hand your pattern in" if ready else "Mend the stops",
            "text": "It has no stop. Look at it once more, then hand it in."
            if ready
            else "Look at the numbered places, mend the drawing and upload it again.",
            "url": urls.get("Pattern", ""),
            "label": "To the pattern",
        }
    if project.stage == Stage.AT_BENCH and urls.get("Bench"):
        return {
            "title": "Go on at the bench",
            "text": "Your metal is handed out. The steps are waiting for you.",
            "url": urls["Bench"],
            "label": "To the bench steps",
        }
    return None


def _next_for_teacher(
    project: Project, pattern: Pattern | None, urls: dict[str, str]
) -> dict[str, str] | None:
    if project.stage == Stage.HANDED_IN and pattern is not None:
        return {
            "title": "Look at the pattern",
            "text": f"{project.student.display_name} is waiting for your answer.",
            "url": reverse("pattern_review", args=[pattern.pk]),
            "label": "Review the pattern",
        }
    if project.stage in (Stage.PATTERN_APPROVED, Stage.PLANNED) and urls.get("Cut plan"):
        approved = project.stage == Stage.PLANNED
        return {
            "title": "Hand out the metal" if approved else "Look at the cut plan",
            "text": "The metal is reserved and the money set aside."
            if approved
            else "Placing has begun or is done; approve the plan to reserve the metal.",
            "url": urls["Cut plan"],
            "label": "To the cut plan",
        }
    if project.stage == Stage.PATTERN_APPROVED:
        return {
            "title": "Place it on metal",
            "text": "The pattern is approved, and no cut plan holds it yet.",
            "url": _address("plan_new", project.brief.course_id),
            "label": "Make a cut plan",
        }
    if project.stage == Stage.MADE and urls.get("Cut plan"):
        return {
            "title": "Take the metal back",
            "text": "The piece is made. Offcuts go to the rack, scrap is weighed.",
            "url": urls["Cut plan"],
            "label": "To the cut plan",
        }
    return None


def _history(project: Project) -> list[dict[str, Any]]:
    rows = History.objects.about(project).select_related("actor")[:HISTORY_SHOWN]
    return [
        {
            "when": row.at,
            "who": row.actor.display_name if row.actor else "Benchledger",
            "what": row.text,
            "why": row.detail.get("why", ""),
        }
        for row in rows
    ]
