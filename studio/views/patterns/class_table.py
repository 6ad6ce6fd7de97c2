"""Where does every student of the class stand with this brief? Paged, constant in queries."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import QuerySet

from classroom.permissions import Visit
from studio.models import Brief, Project, Quote
from studio.queries.briefs import counts_by_stage, seats_asked, with_work_on
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
    page = Paginator(with_work_on(seats, brief), ON_A_PAGE).get_page(request.GET.get("page"))
    return {
        "page": page,
        "rows": [_row(seat) for seat in page],
        "stage": stage,
        "keep": urlencode({"stage": stage}) if stage else "",
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


def _row(seat: Any) -> dict[str, Any]:
    project = seat.on_this_brief[0] if seat.on_this_brief else None
    if project is None:
        return {"seat": seat, "project": None, "stage": stage_words(NOT_STARTED)}
    pattern = project.current_patterns[0] if project.current_patterns else None
    share = project.live_shares[0] if project.live_shares else None
    quote = Quote.that_counts(project.all_quotes, share.plan_id if share else None)
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
