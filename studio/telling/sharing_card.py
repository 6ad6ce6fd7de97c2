"""The part of a cut plan's page that leads to the metal itself: parted, or passed on."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from classroom.models import User
from studio.models import CutPlan, StockStep
from studio.queries.shared_stock import shared_stock_of
from studio.queries.sharing import part_steps_for
from studio.steps.sharing.parting.may_part import why_not_part


def sharing_card(plan: CutPlan, user: User) -> dict[str, Any]:
    """For `studio/sharing/parts/sharing_card.html`: the plan's stock pieces that are parted, each
    with its step and whether this person may do it now; the plans that came out of it, which only
    a teacher sees; the shared plan out of which this one came; and stock pieces that are passed on.
    Empty where nothing is shared.
    """
    steps: list[dict[str, Any]] = [
        {
            "step": step,
            "word": _word(step),
            "may": step.done_at is None and not why_not_part(step, user),
        }
        for step in part_steps_for(user).filter(plan_stock__plan=plan)
    ]
    own = list(plan.own_plans.order_by("pk")) if user.is_teacher else []
    parent = plan.parent if user.is_teacher else None
    at_bench = plan.way == CutPlan.Way.PASSED and plan.state == CutPlan.State.ISSUED
    passed = [one.plan_stock for one in shared_stock_of([plan.pk])] if at_bench else []
    shown = bool(steps or own or parent or passed)
    return {
        "shown": shown,
        "to_come": plan.is_parted and not steps and not own and plan.is_live,
        "steps": steps,
        "own_plans": own,
        "parent": parent,
        "passed": passed,
        "labels": user.is_teacher and any(one["step"].done_at for one in steps),
    }


def _word(step: StockStep) -> str:
    if step.done_at is not None:
        return _("parted")
    return _("being parted") if step.started_at is not None else _("to be parted")
