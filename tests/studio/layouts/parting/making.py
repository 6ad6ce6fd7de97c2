"""A class plan whose sheet is parted: the owner's piece left, the classmate's right of a cut."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from shapely.geometry import box

from studio.core.cutting import Cut, Placement, Plan, job_from_json, plan_to_json
from studio.core.cutting.parting import cuts_to_json
from studio.core.verifying import Watch
from studio.models import CutPlan, Layout, PlanProject
from studio.steps.layouts.begin import begin_from_plan
from studio.steps.plans.asking import make_job
from studio.steps.plans.quote import make_quotes
from tests.people import Cast
from tests.studio.plans import making

from ..laying import pattern_of

SHEAR = {"parting": "shear", "parting_margin_mm": 1.0, "strip_least_mm": 15.0}
CUTS = (Cut("CU-1", 0, (60.0, 0.0), (60.0, 90.0)), Cut("CU-1", 1, (60.0, 50.0), (0.0, 50.0)))
"""Upright in the middle of the sheet of 120 × 90 mm; then the left half level at 50 mm."""


def parted_plan(cast: Cast, copies: int = 1, **more: Any) -> CutPlan:
    """Proposed: two blanks of 60 mm width, and what is over the left one goes back."""
    metal = making.copper(cast)
    sheet = making.stock(metal, "CU-1", box(0, 0, 120, 90), cost="12.00")
    making.supplies(cast)
    making.allot(cast, "50.00")
    brief = making.brief(cast, metal, allowance=Decimal("0.50"))
    projects = [
        making.approved_project(brief, cast.seat, metal, copies=copies, title="Harbour tag"),
        making.approved_project(
            brief, cast.classmate_seat, metal, making.FISH, title="Secret fish"
        ),
    ]
    patterns = [pattern_of(project) for project in projects]
    asked = make_job(patterns, [sheet], cast.school) | SHEAR | more
    job = job_from_json(asked)
    places = []
    for number, wanted in enumerate(job.pieces):
        x0, y0, _, _ = wanted.outline.bounds
        x, y = 5.0 + 60 * number - x0, 5.0 - y0
        for copy in range(wanted.count):
            up = y + 22.0 * copy
            places.append(Placement(wanted.id, copy, "CU-1", False, 0.0, x, up))
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
    plan = CutPlan.objects.create(
        course=cast.course,
        metal=metal,
        state=CutPlan.State.PROPOSED,
        way=CutPlan.Way.PARTED,
        job=asked,
        answer=plan_to_json(laid),
        created_by=cast.teacher,
    )
    for project, pattern in zip(projects, patterns, strict=True):
        PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
    make_quotes(plan)
    return CutPlan.objects.get(pk=plan.pk)


def parted_layout(cast: Cast, **more: Any) -> Layout:
    """The teacher's, as the plan lies."""
    return begin_from_plan(parted_plan(cast, **more), acting=cast.teacher)


AS_LAID = cuts_to_json(CUTS)
