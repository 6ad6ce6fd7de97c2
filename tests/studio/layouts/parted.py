"""A class plan whose sheet is parted: the owner's piece left, the classmate's right of a cut."""

from __future__ import annotations

from typing import Any

from studio.core.cutting import Cut, Plan, job_from_json, plan_to_json
from studio.core.cutting.parting import cuts_to_json
from studio.core.verifying import Watch
from studio.models import CutPlan, Layout
from studio.steps.layouts.begin import begin_from_plan
from tests.people import Cast
from tests.studio.plans import making

SHEAR = {"parting": "shear", "parting_margin_mm": 1.0, "strip_least_mm": 15.0}
CUTS = (Cut("CU-1", 0, (60.0, 0.0), (60.0, 90.0)), Cut("CU-1", 1, (60.0, 50.0), (0.0, 50.0)))
"""Upright in the middle of the sheet of 120 × 90 mm; then the left half level at 50 mm."""


def parted_plan(cast: Cast, **more: Any) -> CutPlan:
    """Proposed: two blanks of 60 mm width, and what is over the left one goes back."""
    plan = making.shared_plan(cast)
    plan.job = plan.job | SHEAR | more
    job = job_from_json(plan.job)
    assert plan.laid is not None
    places = []
    for number, p in enumerate(sorted(plan.laid.placements, key=lambda p: p.piece)):
        x0, y0, _, _ = job.wanted_by_id[p.piece].outline.bounds
        at = {"mirror": False, "turn_deg": 0.0, "x_mm": 5.0 + 60 * number - x0, "y_mm": 5.0 - y0}
        places.append(type(p)(p.piece, p.copy, "CU-1", **at))
    found = Watch(job).judge(places, CUTS)
    assert found.faults == ()
    laid = Plan(
        tuple(places),
        (),
        found.measures,
        found.offcuts,
        1,
        0.0,
        0,
        by_hand=True,
        cuts=CUTS,
        blanks=found.blanks,
    )
    plan.answer, plan.way = plan_to_json(laid), CutPlan.Way.PARTED
    plan.save()
    return CutPlan.objects.get(pk=plan.pk)


def parted_layout(cast: Cast, **more: Any) -> Layout:
    """The teacher's, as the plan lies."""
    return begin_from_plan(parted_plan(cast, **more), acting=cast.teacher)


AS_LAID = cuts_to_json(CUTS)
