"""What did the scrap of a closed plan weigh? As written when it came back, with all corrections.

The return keeps what was typed then. A correction is an entry of the scrap box that names the
weighing, or the return itself where nothing was weighed. Whoever shows or adds up a scrap weight
asks here, so that a correction reaches every page and every file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from classroom.models import subject_of
from inventory.models import ScrapEntry
from inventory.rack.scrap import corrections_of
from studio.models import CutPlan, Return


@dataclass(frozen=True, slots=True)
class ScrapCorrection:
    """One correction of a plan's scrap weight: what it came to, and why."""

    entry: ScrapEntry
    mass_g: Decimal


def scrap_corrections(returns: Iterable[Return]) -> dict[int, Decimal]:
    """By how much each return's scrap was corrected, by plan; three queries for all of them."""
    rows = list(returns)
    by_cause = {f"cutplan:{row.plan_id}": row.plan_id for row in rows}
    found = {by_cause[cause]: mass for cause, mass in corrections_of(by_cause).items()}
    by_return = {subject_of(row): row.plan_id for row in rows}
    late = ScrapEntry.objects.filter(cause__in=list(by_return)).order_by().values_list("cause")
    for cause, mass in late.annotate(mass=Sum("mass_g")):
        plan = by_return[cause]
        found[plan] = found.get(plan, Decimal(0)) + Decimal(str(mass)).quantize(Decimal("0.01"))
    return found


def scrap_of(plan: CutPlan) -> Decimal:
    """The scrap of a closed plan in grams, corrections included."""
    back = plan.metal_return
    return back.scrap_mass_g + scrap_corrections([back]).get(plan.pk, Decimal(0))


def history_of_scrap(plan: CutPlan) -> list[ScrapCorrection]:
    """Every correction, oldest first, with the weight that counted from then on."""
    back = plan.metal_return
    weighings = ScrapEntry.objects.filter(cause=subject_of(plan))
    causes = [subject_of(entry) for entry in weighings] + [subject_of(back)]
    mass, found = back.scrap_mass_g, []
    rows = ScrapEntry.objects.filter(school=plan.course.school_id, cause__in=causes)
    for entry in rows.select_related("actor").order_by("pk"):
        mass += entry.mass_g
        found.append(ScrapCorrection(entry, mass))
    return found
