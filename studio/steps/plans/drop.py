"""A cut plan is dropped: metal and money are free again, and the projects can be placed anew."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record, subject_of
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack import stock
from inventory.spending import ledger
from studio.models import CutPlan, Project

from . import lease

State = CutPlan.State


@transaction.atomic
def drop_plan(plan: CutPlan, *, acting: User, why: str = "") -> CutPlan:
    """Give up a plan whose metal has not been handed out. A second drop changes nothing.

    Raises Refused once the metal is at the bench: then it is closed with what comes back.
    """
    now = timezone.now()
    # First the job, then the plan: a worker that finishes takes the rows in the same order, so
    # that the two never wait for each other. A refusal below takes this back.
    lease.call_off(plan)
    reserved = _swap(plan, State.APPROVED, now, acting)
    if not reserved and not _swap(plan, (State.PLACING, State.PROPOSED), now, acting):
        plan.refresh_from_db()
        if plan.state == State.DROPPED:
            return plan
        raise Refused(
            "The metal of this plan has been handed out, so it cannot be dropped. "
            "Bring back what was not used and close the plan."
        )
    reason = " ".join(why.split())[:150] or "plan dropped"
    if reserved:
        _free(plan, acting, f"{plan}: {reason}")
    plan.shares.filter(live=True).update(live=False)
    drop_rivals(plan, acting=acting, why=f"plan {plan.pk} was dropped")
    record(acting, "plan-dropped", plan, "dropped the cut plan", why=reason)
    plan.refresh_from_db()
    return plan


def drop_rivals(plan: CutPlan, *, acting: User, why: str) -> None:
    """Give up the other tries beside a plan, inside the caller's transaction."""
    for rival in plan.rivals.filter(state__in=[State.PLACING, State.PROPOSED]).order_by("pk"):
        drop_plan(rival, acting=acting, why=why)


def _swap(plan: CutPlan, old: str | tuple[str, ...], now: object, acting: User) -> bool:
    states = (old,) if isinstance(old, str) else old
    return bool(
        CutPlan.objects.filter(pk=plan.pk, state__in=states).update(
            state=State.DROPPED, closed_at=now, closed_by=acting
        )
    )


def _free(plan: CutPlan, acting: User, reason: str) -> None:
    """Undo an approval: reservation, commitment and the projects' stage."""
    cause = subject_of(plan)
    held = plan.reserved.filter(live=True)
    # What an addition lies on is at the bench, and stays there.
    own = held.filter(addition=False).values("stock_piece")
    pieces = list(StockPiece.objects.filter(pk__in=own).order_by("pk"))
    held.update(live=False)
    stock.release(pieces, acting=acting, reason=reason, cause=cause)
    budget = ledger.open_budget(plan.course)
    committed = ledger.committed_for(budget, cause)
    if committed:
        ledger.release(budget, committed, acting=acting, reason=reason, cause=cause)
    Project.objects.filter(
        pk__in=plan.shares.filter(live=True).values("project"), stage=Project.Stage.PLANNED
    ).update(stage=Project.Stage.PATTERN_APPROVED, stage_since=timezone.now())
