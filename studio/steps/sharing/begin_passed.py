"""Metal that is passed on has been handed out: its own steps, and whose turn is when."""

from __future__ import annotations

from django.db import transaction

from studio.models import CutPlan
from studio.queries.shared_stock import shared_stock_of

from .stock_steps import make_stock_steps
from .turns import store_turns


@transaction.atomic
def begin_passed(plan: CutPlan) -> None:
    """Give every stock piece of several students its steps, and its students their turns.

    Called when the plan is issued, before its projects get their own steps; again, it changes
    nothing. Does nothing for a plan whose metal is not passed on.
    """
    if plan.way != CutPlan.Way.PASSED:
        return
    for one in shared_stock_of([plan.pk]):
        make_stock_steps(one.plan_stock)
    store_turns(plan)
