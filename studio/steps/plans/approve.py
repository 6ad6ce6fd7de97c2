"""A cut plan is approved: its metal is reserved and its price committed, all of it or nothing."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record, subject_of
from classroom.refusals import Refused
from inventory.rack import stock
from inventory.spending import ledger
from studio.models import CutPlan, PlanStock, Project
from studio.queries.plans import stock_touched_by
from studio.steps.sharing.turns import store_turns

from .adding import hold_metal
from .as_placed import still_as_placed_on
from .asking import JOB_VERSION
from .drop import drop_rivals
from .quote import planned_total

State = CutPlan.State


@transaction.atomic
def approve_plan(plan: CutPlan, *, acting: User, overdraw_reason: str = "") -> CutPlan:
    """Reserve the touched stock pieces and commit the quotes' sum. A second approval is harmless.

    Raises Refused for a plan that is not proposed, leaves pieces without a place or is of a
    closed course,
    `inventory.rack.stock.SomebodyWasFirst` when a stock piece is not on the rack any more, and
    `inventory.spending.ledger.OverBudget` when the money is not there and no reason to overdraw is
    given.
    Nothing is kept of a refused approval.
    """
    now = timezone.now()
    # Another try has no say over its projects: it must have been chosen first.
    swapped = CutPlan.objects.filter(pk=plan.pk, state=State.PROPOSED, rival_of=None).update(
        state=State.APPROVED, approved_by=acting, approved_at=now
    )
    plan.refresh_from_db()
    if not swapped:
        if plan.state == State.APPROVED:
            return plan
        if plan.rival_of_id is not None:
            raise Refused(
                f"This is another try beside plan {plan.rival_of_id}. Compare the two and choose "
                "it first."
            )
        raise Refused(f"This plan cannot be approved: it is {plan.get_state_display()}.")
    if not plan.is_whole:
        raise Refused(
            "Some pieces found no place on this plan. Receive more metal and place again, or make "
            "the plan without those projects."
        )
    if plan.job["version"] < JOB_VERSION:
        raise Refused(
            "This plan was laid before pieces got room for saw and file. Place them again."
        )
    if not plan.way:
        raise Refused("This plan was laid before sheets were shared by rule. Place them again.")
    if plan.course.closed_at is not None:
        raise Refused(
            "This course is closed, so no metal is set aside for it. Open it again first."
        )
    cause = subject_of(plan)
    reason = f"reserved for {plan}"
    if plan.adds_to_id is None:
        pieces = stock_touched_by(plan)
        stock.reserve(pieces, acting=acting, reason=reason, cause=cause)
        still_as_placed_on(plan)
        PlanStock.objects.bulk_create(PlanStock(plan=plan, stock_piece=piece) for piece in pieces)
    else:
        hold_metal(plan)
    total = planned_total(plan)
    ledger.commit(
        ledger.open_budget(plan.course),
        total,
        acting=acting,
        reason=f"set aside for {plan}",
        cause=cause,
        overdraw_reason=overdraw_reason,
    )
    _move_projects(plan)
    if plan.way == CutPlan.Way.PASSED:
        store_turns(plan)  # what is printed from now on keeps the order in which they saw
    drop_rivals(plan, acting=acting, why=f"plan {plan.pk} was approved")
    currency = plan.course.school.currency
    record(
        acting,
        "plan-approved",
        plan,
        f"approved the cut plan for {total:,.2f} {currency}",
        why=overdraw_reason,
        total=str(total),
    )
    return plan


def _move_projects(plan: CutPlan) -> None:
    """Every project of the plan goes from approved pattern to planned, or none does."""
    shares = plan.shares.filter(live=True)
    moved = Project.objects.filter(
        pk__in=shares.values("project"), stage=Project.Stage.PATTERN_APPROVED
    ).update(stage=Project.Stage.PLANNED, stage_since=timezone.now())
    if moved != shares.count():
        raise Refused(
            "A project of this plan has moved on meanwhile (its pattern was handed back). "
            "Place the pieces again without it."
        )
