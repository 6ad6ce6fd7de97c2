"""A closed plan has used up blades, abrasive, adhesive and drills: taken off what there is.

By the frozen quotes: what each project was priced for, with the rates as they stand now. A
project that was given up counts with the supplies of the steps that it began.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from classroom.models import User, subject_of
from inventory.buying import supplying
from inventory.models import Consumable
from studio.models import CutPlan, Project, Quote

HUNDREDTH = Decimal("0.01")
Per = Consumable.Per


def use_supplies(plan: CutPlan, made: Iterable[Project], *, acting: User) -> None:
    """Write what the plan's projects used, an entry for each supply; in the closing transaction."""
    finished = {project.pk for project in made}
    quotes = list(
        plan.quotes.filter(kind=Quote.Kind.SETTLED).prefetch_related("lines").order_by("project_id")
    )
    supplies = Consumable.objects.filter(
        school=plan.course.school_id, retired_at=None, on_hand__isnull=False
    )
    for supply in supplies.order_by("pk"):
        used = [
            quote
            for quote in quotes
            if quote.project_id in finished
            or any(line.kind == supply.kind for line in quote.lines.all())
        ]
        measure = sum((measure_of(supply, quote) for quote in used), Decimal(0))
        supplying.use_up(
            supply,
            measure.quantize(HUNDREDTH),
            acting=acting,
            reason=f"used for {plan}, {len(used)} project{'' if len(used) == 1 else 's'}",
            cause=subject_of(plan),
        )


def measure_of(supply: Consumable, quote: Quote) -> Decimal:
    """How much of the supply's measure the project was priced for."""
    match supply.per:
        case Per.CM_SAWN:
            return Decimal(str(quote.rates.get("saw_line_mm", 0))) / 10
        case Per.CM2_COVERED:
            return Decimal(str(quote.rates.get("prepared_mm2", 0))) / 100
        case Per.HOLE:
            return Decimal(str(quote.rates.get("holes", 0)))
        case _:
            return Decimal(1)
