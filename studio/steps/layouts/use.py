"""A teacher's layout of a class plan becomes the plan: judged as any, approved as any."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.queries import stock_labelled
from studio.core.cutting import Placement, Plan, plan_to_json
from studio.core.verifying import Judgement
from studio.models import CutPlan, Layout, PlanProject
from studio.steps.plans import layout_words as words
from studio.steps.plans.asking import make_job, usable
from studio.steps.plans.by_hand import propose_by_hand
from studio.steps.plans.drop import drop_plan

from .judged import judged_fit
from .parting import parted_as

State = CutPlan.State


@dataclass(frozen=True, slots=True)
class _Judged:
    """What the judge said of what lies there by this job."""

    job: dict[str, Any]
    judgement: Judgement


def use_layout(layout: Layout, *, acting: User) -> CutPlan:
    """A proposed plan with exactly these placements; the plan that it was laid for is dropped.

    All of it or nothing. Raises Refused where the plan is over, issued or another try, where a
    stock piece is not free, and where the judge finds a fault by today's rules.
    """
    if layout.plan_id is None:
        raise Refused("This is one student’s layout. It comes into a plan with its pattern.")
    plan = _plan_of(layout)
    _may_be_replaced(plan)
    # Judged before anything is held, for which no stock piece need be free yet.
    rows = stock_labelled(plan.course.school, _codes(layout))
    ahead = _judged(plan, _shares_of(plan), list(rows), layout)
    with transaction.atomic():
        return _use(layout, ahead, acting)


def _use(layout: Layout, ahead: _Judged, acting: User) -> CutPlan:
    plan = _plan_of(layout)
    _may_be_replaced(plan)
    shares = _shares_of(plan)
    drop_plan(plan, acting=acting, why=f"laid out by hand by {acting.display_name}")
    placements = layout.laid
    now = _judged(plan, shares, _on_the_rack(plan, _codes(layout)), layout, ahead)
    found = now.judgement
    laid = Plan(
        placements,
        (),
        found.measures,
        found.offcuts,
        1,
        0.0,
        0,
        by_hand=True,
        cuts=layout.parted,
        blanks=found.blanks,
    )
    fresh = [_share_of(share, placements) for share in shares]
    made = propose_by_hand(plan, now.job, plan_to_json(laid), fresh, acting=acting)
    record(
        acting,
        "plan-by-hand",
        made,
        f"laid the pieces of plan {plan.pk} out by hand",
        layout=layout.pk,
    )
    return made


def _plan_of(layout: Layout) -> CutPlan:
    assert layout.plan_id is not None
    return CutPlan.objects.select_related("course__school", "metal").get(pk=layout.plan_id)


def _shares_of(plan: CutPlan) -> list[PlanProject]:
    shares = list(
        plan.shares.filter(live=True)
        .select_related("project__brief__course", "pattern", "layout")
        .order_by("pk")
    )
    for share in shares:
        share.pattern.project = share.project
    return shares


def _judged(
    plan: CutPlan,
    shares: Sequence[PlanProject],
    stock: Sequence[StockPiece],
    layout: Layout,
    ahead: _Judged | None = None,
) -> _Judged:
    """By today's rules; what was judged `ahead` is taken where the job is the same still."""
    job = make_job([share.pattern for share in shares], stock, plan.course.school)
    job = parted_as(job, plan.job)
    if ahead is not None and ahead.job == job:
        return ahead
    return _Judged(job, judged_fit(usable(job), layout.laid, layout.parted))


def _codes(layout: Layout) -> list[str]:
    codes = sorted({p.metal for p in layout.laid})
    if not codes:
        raise Refused("No piece lies on the metal yet.")
    return codes


def _share_of(share: PlanProject, placements: tuple[Placement, ...]) -> PlanProject:
    """The project's share of the new plan: a student's layout is still taken where it lies as it
    was handed in."""
    own = {p for p in placements if p.piece.startswith(f"{share.pattern_id}/")}
    kept = share.layout is not None and set(share.layout.laid) == own
    had_one = share.layout is not None or bool(share.layout_told)
    return PlanProject(
        project=share.project,
        pattern=share.pattern,
        layout=share.layout if kept else None,
        layout_told=words.told(words.BY_HAND) if had_one and not kept else "",
    )


def _may_be_replaced(plan: CutPlan) -> None:
    if plan.state == State.DROPPED:
        raise Refused("This plan is dropped already; its pieces may lie on a newer one.")
    if plan.rival_of_id is not None:
        raise Refused("This is another try beside a plan. Choose it first, then use the layout.")
    if plan.state not in (State.PLACING, State.PROPOSED, State.APPROVED):
        raise Refused("The metal of this plan has been handed out, so it stays as it is.")


def _on_the_rack(plan: CutPlan, codes: list[str]) -> list[StockPiece]:
    rows = {row.code: row for row in stock_labelled(plan.course.school, codes)}
    for code in codes:
        row = rows.get(code)
        if row is None or row.state != StockPiece.State.RACK or row.metal_id != plan.metal_id:
            raise Refused(
                f"{code} is not free on the rack any more. Lay its pieces on other metal."
            )
    return [rows[code] for code in codes]
