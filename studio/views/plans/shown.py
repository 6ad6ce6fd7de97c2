"""What a cut plan's page shows, for the teacher and for a student who shares the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_noop

from classroom.figures.rounding import rest_of, share_of_area
from classroom.models import User
from classroom.queries import history_of
from inventory.models import StockPiece
from inventory.queries import budget_of
from studio.core.cutting import Job, Plan
from studio.core.cutting.groups import group_of, project_of
from studio.core.picturing.plan import labels_of
from studio.core.picturing.why import Waiting, why, with_letters
from studio.models import Brief, CutPlan, PlacingJob, PlanProject, Quote
from studio.queries.additions import shares_lying
from studio.queries.patterns import projects_for
from studio.queries.plans import patterns_without_plan, stock_touched_by
from studio.running.health import nobody_works
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.layouts.may_lay import why_plan_is_fixed
from studio.steps.plans.asking import sides_of
from studio.steps.plans.by_hand import BY_HAND
from studio.steps.plans.layout_words import words_of
from studio.steps.plans.place import projects_unplaced
from studio.steps.plans.quote import course_share, pieces_of, planned_total, words_of_rule
from studio.steps.plans.rivals import rival_beside
from studio.steps.sharing.turns import groups_in_turn
from studio.telling.sharing_card import sharing_card

from .added import added_context
from .decision import decision_on
from .figures import bar_of, curve_of, drawn
from .reasons import placed_with, reasons_of
from .storeys import PartRow, storeys

State = CutPlan.State
HISTORY_ROWS = 20
UNPLACED_ROWS = 60
MOST_WAITING = 20  # projects that are looked at to see whether they would fit beside
WAITING_LONG_SECONDS = 20.0

WORDS: dict[str, tuple[str, str]] = {
    State.PLACING: ("waiting", gettext_noop("Being placed")),
    State.PROPOSED: ("current", gettext_noop("Proposed")),
    State.APPROVED: ("waiting", gettext_noop("Approved, metal reserved")),
    State.ISSUED: ("current", gettext_noop("Metal handed out")),
    State.CLOSED: ("closed", gettext_noop("Closed")),
    State.DROPPED: ("locked", gettext_noop("Dropped")),
    State.PARTED: ("closed", gettext_noop("Parted into blanks")),
}


TOLD_TO_STUDENTS: dict[str, dict[str, str]] = {
    State.PROPOSED: {
        "kind": "info",
        "title": gettext_noop("Your teacher decides next"),
        "text": gettext_noop("The plan reserves no metal and costs nothing until it is approved."),
    },
    State.APPROVED: {
        "kind": "done",
        "title": gettext_noop("Approved"),
        "text": gettext_noop(
            "The metal is reserved for your class. Your teacher hands it out at the bench."
        ),
    },
    State.DROPPED: {
        "kind": "info",
        "title": gettext_noop("This plan was dropped"),
        "text": gettext_noop("Your pieces are placed anew on another plan."),
    },
}


def status_words(plan: CutPlan, partial: bool) -> tuple[str, str]:
    """The mark and word of a plan's state; one that leaves pieces over is not to be approved."""
    if partial and plan.state == State.PROPOSED:
        return "stop", gettext("Not every piece has a place")
    if plan.broke_off:
        return "stop", gettext("Placing broke off")
    kind, word = WORDS[plan.state]
    return kind, gettext(word)


@dataclass(slots=True)
class ShareRow:
    """One project on the plan, as its row in "Whose pieces"."""

    letter: str
    share: PlanProject
    count: int
    area_mm2: float
    quote: Quote | None
    unplaced: int
    blanks: list[PartRow] = field(default_factory=list)  # of a parted plan, once it is placed

    @property
    def not_taken(self) -> str:
        """Why the student's own layout is not in the plan; empty where it is, or there is none."""
        return words_of(self.share.layout_told)

    @property
    def above(self) -> Decimal:
        """By how much the price is above the allowance."""
        if self.quote is None:
            return Decimal(0)
        return max(Decimal(0), self.quote.total - self.quote.allowance)


LARGE_IN_LAYOUTS = tuple(
    f"layout__{name}" for name in ("job", "placements", "past", "future", "figures", "beside")
)


def plan_context(user: User, plan: CutPlan) -> dict[str, Any]:
    """Everything for the page; names and prices only of projects that are the user's to see."""
    job = plan.asked
    shares = list(
        shares_lying(plan)
        .select_related("project__brief", "project__seat__student", "pattern", "layout__owner")
        .defer("pattern__tracing", "pattern__findings_json", *LARGE_IN_LAYOUTS)
    )
    own = set(
        projects_for(user)
        .filter(pk__in=[share.project_id for share in shares])
        .values_list("pk", flat=True)
    )
    laid = plan.laid
    kind, word = status_words(plan, bool(laid and laid.unplaced))
    context: dict[str, Any] = {
        "plan": plan,
        "status_kind": kind,
        "status_word": word,
        "crumbs": [
            {"label": gettext("Cut plans"), "url": reverse("plans")},
            {"label": capfirst(str(plan))},
        ],
        "is_teacher": user.is_teacher,
        "body_template": _body_template(user, plan),
        "told": _told(plan),
        "rows": _rows(plan, job, laid, [s for s in shares if s.project_id in own]),
        "others": len(shares) - len(own),
        "wanted": job.copies,
        "prints": _prints(plan),
        "by_hand": plan.engine_version == BY_HAND,
        "by_hand_url": _own_blank_url(plan),
    }
    context |= added_context(plan)
    context["card"] = sharing_card(plan, user)
    context["several"] = len({share.project.seat_id for share in shares}) > 1
    if laid is not None:
        context |= _answer_context(user, plan, job, laid, shares, own)
        for row in context["rows"]:
            row.blanks = context.get("own_parts", {}).get(row.share.project_id, [])
    if plan.state == State.PLACING:
        context |= progress_context(user, plan, job, shares, own)
    if user.is_teacher:
        context |= _teacher_context(plan, job, shares)
    return context


def _told(plan: CutPlan) -> dict[str, str] | None:
    told = TOLD_TO_STUDENTS.get(plan.state)
    return told and told | {name: gettext(told[name]) for name in ("title", "text")}


def _body_template(user: User, plan: CutPlan) -> str:
    who = "teacher" if user.is_teacher else "student"
    when = "placing" if plan.state == State.PLACING else "placed"
    return f"studio/plans/body/{who}_{when}.html"


def progress_context(
    user: User, plan: CutPlan, job: Job, shares: list[PlanProject], own: set[int]
) -> dict[str, Any]:
    """The plan while it is being placed: the best so far, and how it got better."""
    placing = plan.placing
    best = placing.best
    pictures = (
        drawn(job, best, lambda: pieces_of(shares), frame_depth_mm(plan.course.school))
        if best
        else []
    )
    waiting = placing.state == PlacingJob.State.QUEUED
    return {
        "is_teacher": user.is_teacher,
        "placing": placing,
        "failed": placing.state == PlacingJob.State.FAILED,
        "waiting": waiting,
        "nobody": waiting and nobody_works(),
        "waiting_long": waiting
        and (timezone.now() - placing.queued_at).total_seconds() > WAITING_LONG_SECONDS,
        "best": best,
        "placed": len(best.placements) if best else 0,
        "wanted": job.copies,
        "pictures": pictures,
        "mine": _own_groups(user, own),
        "again": placing.attempts > 0,
        "curve": curve_of(placing.progress.get("curve", []), plan.seconds),
    }


def _own_groups(user: User, own: set[int]) -> set[str]:
    """Groups drawn as "yours": for a student the own projects, for a teacher none."""
    return set() if user.is_teacher else {group_of(pk) for pk in own}


def _answer_context(
    user: User,
    plan: CutPlan,
    job: Job,
    laid: Plan,
    shares: list[PlanProject],
    own: set[int],
) -> dict[str, Any]:
    measures = laid.measures
    touched = measures.piece_area_mm2 + measures.kept_mm2 + measures.scrap_mm2
    in_pieces = share_of_area(measures.piece_area_mm2, measures.consumed_mm2)
    depth = frame_depth_mm(plan.course.school)
    pictures = drawn(job, laid, lambda: pieces_of(shares), depth, groups_in_turn(plan))
    mine = _own_groups(user, own)
    reasons = why(
        job,
        laid,
        pictures,
        groups=None if user.is_teacher else mine,
        waiting=_waiting(user, plan) if plan.state == State.PROPOSED else (),
    )
    pictures = [with_letters(reasons, one) for one in pictures]
    return {
        "why": reasons,
        "for_two_mm": sum(one.for_two_mm for one in pictures),
        "answer": laid,
        "measures": measures,
        "used_share": in_pieces,
        "scrap_share": None if in_pieces is None else rest_of(in_pieces),
        "kept_share": share_of_area(measures.kept_mm2, touched),
        "touched_mm2": touched,
        "consumed_g": plan.metal.mass_g(measures.consumed_mm2),
        "kept_g": plan.metal.mass_g(measures.kept_mm2),
        "scrap_g": plan.metal.mass_g(measures.scrap_mm2),
        "pictures": pictures,
        "mine": mine,
        "sharing_rule": gettext(words_of_rule(plan)),
        "reasons": reasons_of(job, laid),
        "with": placed_with(job, laid, shares),
        "bars": [bar_of(one, plan.course.school.units) for one in pictures],
        "stock_by_code": _stock(plan) if user.is_teacher else {},
    } | storeys(plan, job, laid, [share for share in shares if share.project_id in own], mine)


def _waiting(user: User, plan: CutPlan) -> list[Waiting]:
    """Projects of this metal that wait for a plan, for a teacher who may place them together."""
    if not user.is_teacher:
        return []
    return [
        Waiting(
            tuple(
                sides_of(piece.outline)
                for piece in pattern.drawing.pieces
                for _ in range(pattern.copies)
            ),
            along_grain=pattern.project.brief.grain_deg is not None,
        )
        for pattern in patterns_without_plan(user, plan)[:MOST_WAITING]
    ]


def _rows(plan: CutPlan, job: Job, laid: Plan | None, shares: list[PlanProject]) -> list[ShareRow]:
    letters = labels_of(job)
    quotes = {
        quote.project_id: quote
        for quote in plan.quotes.filter(kind=Quote.Kind.PLANNED).prefetch_related("lines")
    }
    counts: dict[str, int] = {}
    areas: dict[str, float] = {}
    for wanted in job.pieces:
        group = wanted.group or ""
        counts[group] = counts.get(group, 0) + wanted.count
        areas[group] = areas.get(group, 0.0) + wanted.count * wanted.outline.area
    missing: dict[int, int] = {}
    for one in laid.unplaced if laid else ():
        pk = project_of(job.wanted_by_id[one.piece].group)
        missing[pk] = missing.get(pk, 0) + 1
    return [
        ShareRow(
            letters[group],
            share,
            counts[group],
            areas[group],
            quotes.get(share.project_id),
            missing.get(share.project_id, 0),
        )
        for share in shares
        if (group := group_of(share.project_id)) in letters
    ]


def _stock(plan: CutPlan) -> dict[str, StockPiece]:
    return {piece.code: piece for piece in stock_touched_by(plan)}


def _taken(plan: CutPlan) -> list[StockPiece]:
    """Stock pieces of the plan that are not on the rack any more."""
    return [one for one in stock_touched_by(plan) if one.state != StockPiece.State.RACK]


def _has_layout(share: PlanProject) -> bool:
    """Whether the student has laid it, taken or not."""
    return bool(share.layout_id or share.layout_told)


def _by_hand_url(plan: CutPlan) -> str:
    """Where a teacher lays the plan out by hand, as long as it may be another."""
    if plan.parent_id is not None:
        return _own_blank_url(plan)
    if plan.rival_of_id or plan.state not in (State.PROPOSED, State.APPROVED):
        return ""
    return reverse("plan_layout", args=[plan.pk])


def _own_blank_url(plan: CutPlan) -> str:
    """Where a student's pieces are laid on the own blank, until papers are stuck on it."""
    if plan.parent_id is None or why_plan_is_fixed(plan):
        return ""
    return reverse("own_blank_layout", args=[plan.pk])


def _teacher_context(plan: CutPlan, job: Job, shares: list[PlanProject]) -> dict[str, Any]:
    total = planned_total(plan)
    left = budget_of(plan.course).left
    partial = plan.laid is not None and not plan.is_whole
    taken = _taken(plan) if plan.state == State.PROPOSED else []
    return {
        "total": total,
        "course_share": course_share(list(plan.quotes.filter(kind=Quote.Kind.PLANNED))),
        "budget_left": left,
        "left_after": left - total,
        "missing": max(Decimal(0), total - left),
        "taken": taken,
        "partial": partial,
        "decision": decision_on(plan, partial=partial, taken=bool(taken)),
        "own_layouts": any(_has_layout(share) for share in shares),
        "standing": [
            str(share.project)
            for share in shares
            if share.layout_id and share.project.brief.laid_by == Brief.LaidBy.STANDS
        ],
        "by_hand_url": _by_hand_url(plan),
        "rival": rival_beside(plan) if plan.state == State.PROPOSED else None,
        "unplaced": _unplaced(plan, job),
        "can_go_without": partial and _somebody_is_placed(plan),
        "entries": [
            {"when": row.at, "who": row.actor or "The placing worker", "what": row.text}
            | ({"why": row.detail["why"]} if row.detail.get("why") else {})
            for row in history_of(plan)[:HISTORY_ROWS]
        ],
    }


def _unplaced(plan: CutPlan, job: Job) -> list[dict[str, Any]]:
    """Pieces without a place, by project and reason, with how many."""
    if plan.laid is None:
        return []
    letters = labels_of(job)
    counts: dict[tuple[str, str], int] = {}
    for one in plan.laid.unplaced:
        key = (job.wanted_by_id[one.piece].group or "", one.why)
        counts[key] = counts.get(key, 0) + 1
    names = {
        group_of(share.project_id): str(share.project)
        for share in plan.shares.select_related("project__brief", "project__seat__student")
    }
    return [
        {"letter": letters[group], "project": names.get(group, ""), "why": why, "count": count}
        for (group, why), count in list(counts.items())[:UNPLACED_ROWS]
    ]


def _somebody_is_placed(plan: CutPlan) -> bool:
    return plan.shares.exclude(project__in=projects_unplaced(plan)).exists()


def _prints(plan: CutPlan) -> list[dict[str, str]]:
    """Papers of this plan, once there is something to print."""
    if not plan.is_whole:
        return []
    papers = (
        ("cut_plan_print", gettext("Print the cut plan")),
        ("placement_sheet", gettext("Print it at true size")),
    )
    return [{"url": reverse(name, args=[plan.pk]), "label": label} for name, label in papers]
