"""The part of a cut plan's page that says how its metal is parted."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from classroom.models import User
from studio.models import CutPlan, StockStep
from studio.queries.sharing import part_steps_for
from studio.steps.sharing.parting.may_part import why_not_part


def parting_card(plan: CutPlan, user: User) -> dict[str, Any]:
    """For `studio/sharing/parts/parting_card.html`: the plan's stock pieces that are parted, each
    with its step and whether this person may do it now; the plans that came out of it, which only
    a teacher sees; and the shared plan out of which this one came. Empty where nothing is parted.
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
    shown = bool(steps or own or parent)
    return {
        "shown": shown,
        "to_come": plan.is_parted and not steps and not own and plan.is_live,
        "steps": steps,
        "own_plans": own,
        "parent": parent,
        "labels": user.is_teacher and any(one["step"].done_at for one in steps),
    }


def _word(step: StockStep) -> str:
    if step.done_at is not None:
        return _("parted")
    return _("being parted") if step.started_at is not None else _("to be parted")
