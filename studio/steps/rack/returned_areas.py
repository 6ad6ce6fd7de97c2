"""Where did the area of closed plans go, by what is known now?

A return keeps what was said when the metal came back. When the size of an offcut is corrected
afterwards, what is more or less of it was less or more scrap of the stock piece that it was cut
from: so the plan's areas follow, and with them every review, forecast and file. What it grew by
beyond the scrap of its stock piece no entry explains, and that is shown. No price moves: quotes
were settled with the sizes of that day, and an offcut's cost is corrected on its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KeyTransform

from classroom.figures.rounding import GRAM_KEPT, GRAM_PLACES, GRAM_SHOWN, MM2_PLACES, rounded
from inventory.models import Metal, StockMovement
from studio.models import CutPlan, Return

Areas = dict[str, float]
Kind = StockMovement.Kind
PARTS = ("pieces", "offcuts", "kerf", "scrap")


@dataclass(frozen=True, slots=True)
class Resized:
    """Offcuts that were corrected: by how many mm² they grew in all (below nothing where they
    are smaller), and how much of that was written down as scrap. The rest is unexplained."""

    grown: float = 0.0
    was_scrap: float = 0.0


def resizings(plans: Iterable[int]) -> QuerySet[StockMovement]:
    """Corrections of the size of offcuts that these plans (by key) brought back."""
    return StockMovement.objects.filter(
        kind=Kind.CORRECT,
        stock_piece__parent__isnull=False,
        stock_piece__movements__kind=Kind.RECEIVE,
        stock_piece__movements__cause__in=[f"cutplan:{pk}" for pk in plans],
    ).exclude(area_mm2=0)


def resized_by_piece(plans: Iterable[int]) -> dict[int, dict[str, Resized]]:
    """By plan, then by the label of the stock piece that the offcuts were cut from.

    One query; another one where there is any.
    """
    rows = resizings(plans).values_list(
        "stock_piece__movements__cause", "stock_piece__parent__code", "area_mm2"
    )
    grown: dict[int, dict[str, float]] = {}
    for cause, code, area in rows:
        of_plan = grown.setdefault(int(cause.partition(":")[2]), {})
        of_plan[code] = of_plan.get(code, 0.0) + float(area)
    if not grown:
        return {}
    written = Return.objects.filter(plan__in=grown).annotate(stock=KeyTransform("stock", "balance"))
    scrap = {
        plan: {one["code"]: one["area_mm2"]["scrap"] for one in stock or ()}
        for plan, stock in written.values_list("plan_id", "stock")
    }
    return {
        plan: {
            code: Resized(area, min(area, scrap.get(plan, {}).get(code, 0.0)))
            for code, area in pieces.items()
        }
        for plan, pieces in grown.items()
    }


def together(pieces: Mapping[str, Resized]) -> Resized:
    """All stock pieces of one plan added up."""
    return Resized(
        sum(one.grown for one in pieces.values()), sum(one.was_scrap for one in pieces.values())
    )


def resized_offcuts(plans: Iterable[int]) -> dict[int, Resized]:
    """By plan (by key), where any of its offcuts was corrected."""
    return {plan: together(pieces) for plan, pieces in resized_by_piece(plans).items()}


def grown_g(metal: Metal, area_mm2: float) -> float:
    """The mass of so much area, below nothing where the area is."""
    return math.copysign(metal.mass_g(abs(area_mm2)), area_mm2)


def corrected(area: Areas, resized: Resized | None) -> Areas:
    """The areas of a plan, or of one stock piece, with the sizes that its offcuts really have.

    `unexplained` is what went out less the parts; below nothing when more came back.
    """
    now = area | {
        "offcuts": area["offcuts"] + (resized.grown if resized else 0.0),
        "scrap": area["scrap"] - (resized.was_scrap if resized else 0.0),
    }
    left = now["out"] - sum(now[name] for name in PARTS)
    return now | {"unexplained": float(rounded(left, MM2_PLACES))}


def expected_scrap_g(metal: Metal, mass: Mapping[str, Any], resized: Resized | None) -> float:
    """What the scrap of a closed plan should weigh by what is known now; `mass` as written."""
    written = float(mass.get("scrap_expected", 0.0))
    return written - (grown_g(metal, resized.was_scrap) if resized else 0.0)


def masses_now(plan: CutPlan) -> dict[str, float]:
    """The masses of a closed plan as written down, with offcuts and expected scrap as they are
    known now."""
    written: dict[str, float] = plan.metal_return.balance["mass_g"]
    resized = resized_offcuts([plan.pk]).get(plan.pk)
    grown = grown_g(plan.metal, resized.grown) if resized else 0.0
    return written | {
        "offcuts": written["offcuts"] + grown,
        "scrap_expected": expected_scrap_g(plan.metal, written, resized),
    }


def off_scales_g(weighed_g: float, expected_g: float) -> float:
    """Scrap as weighed less what the areas promise, as it is shown: to a tenth of a gram."""
    known = rounded(weighed_g - expected_g, GRAM_PLACES, kept=GRAM_KEPT)
    return float(rounded(known, GRAM_SHOWN))
