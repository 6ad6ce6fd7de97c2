"""What a plan's page says of pieces that are added to metal in use."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from studio.models import CutPlan
from studio.queries.additions import additions_on, open_addition


def added_context(plan: CutPlan) -> dict[str, Any]:
    """`adds_to_url` leads an addition's page to the plan whose metal it lies on; `additions` are
    those on this plan's own, with what is being added now."""
    if plan.adds_to_id is not None:
        return {"adds_to_url": reverse("plan", args=[plan.adds_to_id])}
    waiting = open_addition(plan) if plan.state == CutPlan.State.ISSUED else None
    added = [*additions_on(plan), *([waiting] if waiting is not None else [])]
    return {"additions": [{"plan": one, "url": reverse("plan", args=[one.pk])} for one in added]}
