"""Where did the area of closed plans go, by what is known now?

A return keeps what was said when the metal came back. When the size of an offcut is corrected
afterwards, what is more or less of it was less or more scrap: so the plan's areas follow, and
with them every review, forecast and file. No price moves: quotes were settled with the sizes of
that day, and an offcut's cost is corrected on its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from classroom.models import subject_of
from inventory.models import Metal, StockMovement
from studio.models import CutPlan

Areas = dict[str, float]
Kind = StockMovement.Kind


def grown_offcuts(plans: Iterable[int]) -> dict[int, float]:
    """By how many mm² the offcuts of each closed plan (by key) were corrected; one query."""
    causes = {f"cutplan:{pk}": pk for pk in plans}
    rows = StockMovement.objects.filter(
        kind=Kind.CORRECT,
        stock_piece__parent__isnull=False,
        stock_piece__movements__kind=Kind.RECEIVE,
        stock_piece__movements__cause__in=list(causes),
    ).exclude(area_mm2=0)
    found: dict[int, float] = {}
    for cause, area in rows.values_list("stock_piece__movements__cause", "area_mm2"):
        pk = causes[cause]
        found[pk] = found.get(pk, 0.0) + float(area)
    return found


def grown_by_piece(plan: CutPlan) -> dict[str, float]:
    """The same of one plan, by the label of the stock piece that the offcuts were cut from."""
    rows = StockMovement.objects.filter(
        kind=Kind.CORRECT,
        stock_piece__parent__isnull=False,
        stock_piece__movements__kind=Kind.RECEIVE,
        stock_piece__movements__cause=subject_of(plan),
    ).exclude(area_mm2=0)
    found: dict[str, float] = {}
    for code, area in rows.values_list("stock_piece__parent__code", "area_mm2"):
        found[code] = found.get(code, 0.0) + float(area)
    return found


def from_scrap(area: Mapping[str, float], grown: float) -> float:
    """How much of what the offcuts grew by was written down as scrap; the rest is unexplained."""
    return min(grown, area["scrap"])


def grown_g(metal: Metal, area_mm2: float) -> float:
    """The mass of so much area, below nothing where the area is."""
    return math.copysign(metal.mass_g(abs(area_mm2)), area_mm2)


def corrected(area: Areas, grown: float | None) -> Areas:
    """The areas of one plan with offcuts that are so much larger (or smaller) than was said."""
    if not grown:
        return area
    return area | {
        "offcuts": area["offcuts"] + grown,
        "scrap": area["scrap"] - from_scrap(area, grown),
    }
