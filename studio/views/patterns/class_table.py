"""Where does every student of the class stand with this brief? Paged, constant in queries."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import QuerySet

from classroom.permissions import Visit
from studio.models import Brief, Project, Quote
from studio.queries.briefs import (
    counts_by_stage,
    figures_handed_in,
    seats_asked,
    with_layout_waste,
    with_work_on,
)
from studio.steps.layouts.outcome import waste_share
from studio.telling.today.stages import NOT_STARTED, WORDS, stage_words

from .picture import thumbnail

ON_A_PAGE = 30


def class_table(request: Visit, brief: Brief) -> dict[str, Any]:
    """Context of the teacher's table: one row for each seat, narrowed to one stage by `stage`."""
    seats: QuerySet[Any] = seats_asked(request.user, brief)
    counts = _counts(seats, brief)
    stage = request.GET.get("stage", "")
    if stage not in WORDS:
        stage = ""
    if stage == NOT_STARTED:
        seats = seats.filter(has_project=False)
    elif stage:
        seats = seats.filter(projects__brief=brief, projects__stage=stage)
    by_waste = request.GET.get("sort") == "waste"
    rows = with_work_on(with_layout_waste(seats, brief) if by_waste else seats, brief)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    kept = ({"stage": stage} if stage else {}) | ({"sort": "waste"} if by_waste else {})
    shown = [_row(seat) for seat in page]
    most = _most_wasteful(brief)
    for row in shown:
        row["wastes_most"] = row["project"] is not None and row["project"].pk == most
    lays = brief.laid_by != Brief.LaidBy.SERVER
    return {
        "page": page,
        "rows": shown,
        "stage": stage,
        "by_waste": by_waste,
        "shows_layouts": lays or any(row["layout_waste"] is not None for row in shown),
        "sort_url": "?" + urlencode(({"stage": stage} if stage else {}) | {"sort": "waste"}),
        "keep": urlencode(kept),
        "stage_filters": _filters(counts, stage),
        "waiting": counts.get(Project.Stage.HANDED_IN, 0),
    }


def _counts(seats: QuerySet[Any], brief: Brief) -> dict[str, int]:
    """How many students stand in each stage."""
    return counts_by_stage(brief) | {NOT_STARTED: seats.filter(has_project=False).count()}


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


def _most_wasteful(brief: Brief) -> int | None:
    """The project whose layout wastes most, where there are several to compare."""
    shares = [
        (share, project)
        for project, figures in figures_handed_in(brief)
        if (share := waste_share(figures)) is not None
    ]
    return max(shares)[1] if len(shares) > 1 else None


def _row(seat: Any) -> dict[str, Any]:
    project = seat.on_this_brief[0] if seat.on_this_brief else None
    if project is None:
        return {
            "seat": seat,
            "project": None,
            "stage": stage_words(NOT_STARTED),
            "layout_waste": None,
        }
    pattern = project.current_patterns[0] if project.current_patterns else None
    laid = project.layouts_handed_in
    share = project.live_shares[0] if project.live_shares else None
    quote = Quote.that_counts(project.all_quotes, share.plan_id if share else None)
    return {
        "seat": seat,
        "project": project,
        "stage": stage_words(project.stage),
        "pattern": pattern,
        "picture": thumbnail(pattern) if pattern else None,
        "plan": share.plan if share else None,
        "layout_waste": waste_share(laid[0].figures) if laid else None,
        "quote": quote,
        "over": quote is not None and quote.total > quote.allowance,
    }
