"""The money of blanks that nobody goes on with: spoilt ones, and those of projects that left.

A shared plan was charged for every blank when its metal was handed out. Whoever goes on alone
takes that price along; of one who does not it is taken back, and what was spoilt of the metal is
the course's, at its cost.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from classroom.models import User, subject_of
from inventory.models import StockPiece
from inventory.rack import stock
from inventory.spending import ledger
from studio.models import CutPlan, PlanProject, Quote

from .entries import entries_of


@transaction.atomic
def give_up_blanks(share: PlanProject, plan: CutPlan, *, acting: User) -> None:
    """The project has left the shared plan: what it was charged is credited to the course, and
    those of its blanks that are parted already go to the rack at their price."""
    cause, reason = subject_of(plan), f"{share.project} left {plan}"
    quote = Quote.objects.get(plan=plan, project=share.project_id, kind=Quote.Kind.PLANNED)
    # Without own blanks the course's share is that of the whole plan, and no project's.
    own_share = quote.rates["course_share"] if quote.rates.get("own_blank") else 0
    charged = quote.total + Decimal(own_share)
    budget = ledger.open_budget(plan.course)
    if charged > 0:
        ledger.credit(budget, charged, acting=acting, reason=reason, cause=cause)
    elif charged < 0:  # rectangles brought more than the blank cost
        ledger.charge(
            budget, -charged, acting=acting, reason=reason, cause=cause, overdraw_reason=reason
        )
    own = {entry.made_id for entry in entries_of(plan) if entry.share_id == share.pk}
    held = plan.reserved.filter(live=True, stock_piece__in=[pk for pk in own if pk])
    pieces = list(StockPiece.objects.filter(pk__in=held.values("stock_piece")).order_by("pk"))
    held.update(live=False)
    stock.bring_back(pieces, acting=acting, reason=reason, cause=cause)


def charge_spoilt(piece: StockPiece, plan: CutPlan, *, acting: User, why: str) -> None:
    """The course bears what a spoilt blank cost. Called in the transaction that scraps it."""
    if piece.cost:
        ledger.charge(
            ledger.open_budget(plan.course),
            piece.cost,
            acting=acting,
            reason=f"spoilt at parting: {piece.code}",
            cause=subject_of(plan),
            overdraw_reason=f"spoilt: {why}"[:200],
        )
