"""What a layout that is no plan yet would cost: estimates, by the rules and rates of today."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from classroom.models import Course
from inventory.queries import stock_labelled
from studio.core.cutting import Job, Plan
from studio.models import Layout, PlanProject, TrialLayout
from studio.steps.plans.asking import project_of
from studio.steps.plans.quote import estimate


def price_of_trial(trial: TrialLayout, job: Job, plan: Plan) -> Decimal:
    """What the pattern's project would pay if this were its plan."""
    pattern = trial.pattern
    assert pattern is not None
    share = PlanProject(project=pattern.project, pattern=pattern)
    found = _estimates(job, plan, [share], pattern.project.brief.course)
    return found.get(pattern.project_id, Decimal(0))


def prices_of(layout: Layout, plan: Plan) -> dict[int, Decimal]:
    """What each project (by pk) would pay if this were how its pieces are cut.

    `plan` has its offcuts as the rack gets them, so that the estimate is what a plan would say.
    """
    if layout.plan is not None:
        rows = layout.plan.shares.select_related("project__brief", "pattern")
        shares = list(rows.defer("pattern__tracing", "pattern__findings_json"))
        course = layout.plan.course
    else:
        assert layout.project is not None
        shares = [PlanProject(project=layout.project, pattern=layout.pattern)]
        course = layout.project.brief.course
    there = {project_of(wanted.group) for wanted in layout.asked.pieces}
    shares = [share for share in shares if share.project_id in there]
    return _estimates(layout.asked, plan, shares, course)


def _estimates(
    job: Job, plan: Plan, shares: Collection[PlanProject], course: Course
) -> dict[int, Decimal]:
    if not plan.placements:
        return {}
    codes = {placed.metal for placed in plan.placements}
    prices = {piece.code: piece.price_per_mm2 for piece in stock_labelled(course.school_id, codes)}
    if codes - prices.keys():
        return {}  # a stock piece that is not in the books any more: nobody knows its price
    return estimate(job, plan, list(shares), prices, course)
