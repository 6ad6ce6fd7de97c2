"""What a pattern's trial layout would cost if it were its plan: by the rules and rates of today."""

from __future__ import annotations

from decimal import Decimal

from inventory.queries import stock_labelled
from studio.core.cutting import Job, Plan
from studio.models import PlanProject, TrialLayout
from studio.steps.plans.quote import estimate


def price_of_trial(trial: TrialLayout, job: Job, plan: Plan) -> Decimal:
    """What the pattern's project would pay; nothing where no piece lies, or where a stock piece is
    not in the books any more."""
    pattern = trial.pattern
    assert pattern is not None
    course = pattern.project.brief.course
    codes = {placed.metal for placed in plan.placements}
    prices = {piece.code: piece.price_per_mm2 for piece in stock_labelled(course.school_id, codes)}
    if not codes or codes - prices.keys():
        return Decimal(0)
    share = PlanProject(project=pattern.project, pattern=pattern)
    return estimate(job, plan, [share], prices, course).get(pattern.project_id, Decimal(0))
