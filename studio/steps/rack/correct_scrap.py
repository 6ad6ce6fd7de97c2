"""The scrap of a closed plan weighed otherwise than was written down: corrected by a new entry.

No money moves with it. Metal is charged by area, and a stock piece's cost is split by area
between its offcuts and what was used; what scrap weighs is in no line of any quote. It earns
something only when it is sold, and a sale has a weight of its own.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from classroom.models import School, User, record, subject_of
from classroom.refusals import Refused, a_reason
from inventory.models import ScrapEntry
from inventory.rack import scrap
from studio.models import CutPlan

from .scrap_weights import scrap_of

MOST_SCRAP_G = Decimal(100_000)


@transaction.atomic
def correct_scrap(plan: CutPlan, mass_g: Decimal, *, acting: User, reason: str) -> bool:
    """Say what the scrap of a closed plan really weighed; False when it stood so already.

    Raises Refused without a reason, for a plan that is not closed, and when the box does not
    hold what would have to go.
    """
    why = a_reason(reason)
    if plan.state != CutPlan.State.CLOSED:
        raise Refused("Scrap is weighed when a plan is closed: close it, and weigh it then.")
    if not plan.metal_return.balance["stock"]:
        raise Refused("No metal of this plan was at the bench, so there is no scrap of it.")
    if not mass_g.is_finite() or not 0 <= mass_g <= MOST_SCRAP_G:
        raise Refused(f"Give the scrap's weight in grams, from 0 to {MOST_SCRAP_G:,}.")
    school = plan.course.school
    # The school's row is the box's lock: two corrections at once stand in line.
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    mass, before = mass_g.quantize(Decimal("0.01")), scrap_of(plan)
    if mass == before:
        return False
    weighing = ScrapEntry.objects.filter(school=school, cause=subject_of(plan)).first()
    if weighing is not None:
        scrap.correct_weighing(weighing, mass, acting=acting, reason=why)
    else:
        scrap.correct_unweighed(
            school,
            plan.metal.alloy_code,
            mass - before,
            acting=acting,
            reason=f"corrects scrap of {plan}, {before} g: {why}",
            corrects=subject_of(plan.metal_return),
        )
    record(
        acting,
        "correct-scrap",
        plan,
        f"corrected the scrap of {plan}: {mass} g, before {before} g",
        reason=why,
    )
    return True
