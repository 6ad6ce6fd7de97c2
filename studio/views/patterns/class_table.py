"""Where does every student of the class stand with this brief? Paged, constant in queries."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet

from classroom.permissions import Visit
from classroom.queries import seats_for
from studio.models import Brief, Pattern, PlanProject, Project, Quote
from studio.telling.today.stages import NOT_STARTED, WORDS, stage_words

from .picture import thumbnail

ON_A_PAGE = 30


def class_table(request: Visit, brief: Brief) -> dict[str, Any]:
    """Context of the teacher's table: one row for each seat, narrowed to one stage by `stage`."""
    seats = _seats(request, brief)
    counts = _counts(seats, brief)
    stage = request.GET.get("stage", "")
    if stage not in WORDS:
        stage = ""
    if stage == NOT_STARTED:
        seats = seats.filter(has_project=False)
    elif stage:
        seats = seats.filter(projects__brief=brief, projects__stage=stage)
    page = Paginator(seats.prefetch_related(_projects(brief)), ON_A_PAGE).get_page(
        request.GET.get("page")
    )
    return {
        "page": page,
        "rows": [_row(seat) for seat in page],
        "stage": stage,
        "keep": urlencode({"stage": stage}) if stage else "",
        "stage_filters": _filters(counts, stage),
        "waiting": counts.get(Project.Stage.HANDED_IN, 0),
    }


def _seats(request: Visit, brief: Brief) -> QuerySet[Any]:
    """Students of the course, and those who left with work on this brief."""
    own = Project.objects.filter(brief=brief, seat=OuterRef("pk"))
    return (
        seats_for(request.user)
        .filter(course=brief.course_id)
        .annotate(has_project=Exists(own))
        .filter(Q(left_at=None) | Q(has_project=True))
        .order_by("student__display_name", "pk")
    )


def _counts(seats: QuerySet[Any], brief: Brief) -> dict[str, int]:
    """How many students stand in each stage."""
    started = (
        Project.objects.filter(brief=brief)
        .order_by()
        .values_list("stage")
        .annotate(count=Count("pk"))
    )
    counts: dict[str, int] = dict(started)
    counts[NOT_STARTED] = seats.filter(has_project=False).count()
    return counts


def _filters(counts: dict[str, int], chosen: str) -> list[dict[str, Any]]:
    everyone = {"label": "Everyone", "url": "?", "current": not chosen, "total": None}
    return [
        everyone,
        *(
            {
                "label": words.word,
                "url": f"?stage={stage}",
                "current": stage == chosen,
                "total": counts.get(stage, 0),
            }
            for stage, words in WORDS.items()
            if counts.get(stage) or stage == chosen
        ),
    ]


def _projects(brief: Brief) -> Prefetch[Any]:
    current = (
        Pattern.objects.current()
        .defer("tracing", "relabels", "changes", "remark")
        .order_by("-number")
    )
    shares = (
        PlanProject.objects.filter(live=True)
        .select_related("plan")
        .defer("plan__job", "plan__answer")
    )
    projects = (
        Project.objects.filter(brief=brief)
        .select_related("metal")
        .prefetch_related(
            Prefetch("patterns", current, to_attr="current_patterns"),
            Prefetch("plan_shares", shares, to_attr="live_shares"),
            Prefetch("quotes", Quote.objects.order_by("-at", "-pk"), to_attr="all_quotes"),
        )
    )
    return Prefetch("projects", projects, to_attr="on_this_brief")


def _row(seat: Any) -> dict[str, Any]:
    project = seat.on_this_brief[0] if seat.on_this_brief else None
    if project is None:
        return {"seat": seat, "project": None, "stage": stage_words(NOT_STARTED)}
    pattern = project.current_patterns[0] if project.current_patterns else None
    share = project.live_shares[0] if project.live_shares else None
    quote = newest_quote(project.all_quotes, share.plan_id if share else None)
    return {
        "seat": seat,
        "project": project,
        "stage": stage_words(project.stage),
        "pattern": pattern,
        "picture": thumbnail(pattern) if pattern else None,
        "plan": share.plan if share else None,
        "quote": quote,
        "over": quote is not None and quote.total > quote.allowance,
    }


def newest_quote(quotes: list[Quote], plan_id: int | None) -> Quote | None:
    """The price that counts: of the live plan, or as settled when the plan is closed."""
    for quote in quotes:
        if quote.kind == Quote.Kind.SETTLED or quote.plan_id == plan_id:
            return quote
    return None
