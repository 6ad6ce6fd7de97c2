"""Does the metal of closed plans add up? Out = pieces + offcuts + scrap + kerf, by metal and term.

Areas come from the balances that were written down when plans were closed. What no entry
explains is shown, never spread over the rest; so is what the scales say otherwise than the plan.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KeyTransform

from classroom.figures.rounding import MM2_PLACES, rounded
from studio.models import Return
from studio.steps.rack.returned_areas import (
    Resized,
    corrected,
    expected_scrap_g,
    off_scales_g,
    resized_offcuts,
)
from studio.steps.rack.scrap_weights import scrap_corrections


@dataclass(frozen=True, slots=True)
class Added:
    """Closed plans added up under one label: areas in mm², scrap in g."""

    label: str
    plans: int
    out: float
    pieces: float
    offcuts: float
    kerf: float
    scrap: float
    expected_g: float
    weighed_g: float
    unexplained: float
    """mm² that went out and are in none of the parts; below nothing when more came back."""

    @property
    def scales_g(self) -> float:
        """Scrap as weighed, less what the areas promise; as it is shown."""
        return off_scales_g(self.weighed_g, self.expected_g)


@dataclass(frozen=True, slots=True)
class Closed:
    """One closed plan's balance as it was written down, its scrap as corrected since."""

    plan_pk: int
    course_pk: int
    term: str
    metal: str
    area: dict[str, float]
    mass: dict[str, float]


def closed_of(returns: QuerySet[Return]) -> list[Closed]:
    """The balances of these returns; queries constant in number, without the geometry."""
    rows = list(
        returns.annotate(
            area=KeyTransform("area_mm2", "balance"), mass=KeyTransform("mass_g", "balance")
        )
        .select_related("plan__metal", "plan__course")
        .defer("balance", "plan__job", "plan__answer")
        .order_by("-plan__course__starts_on", "plan__metal", "pk")
    )
    later, resized = scrap_corrections(rows), resized_offcuts(row.plan_id for row in rows)
    return [
        Closed(
            row.plan_id,
            row.plan.course_id,
            row.plan.course.term,
            str(row.plan.metal),
            corrected(row.area, resized.get(row.plan_id)),
            _weighed(row, later.get(row.plan_id), resized.get(row.plan_id)),
        )
        for row in rows
        if row.area
    ]


def _weighed(row: Any, later: Decimal | None, resized: Resized | None) -> dict[str, float]:
    """The masses, with the scrap that the scales and the areas say by now."""
    mass: dict[str, float] = row.mass or {}
    return mass | {
        "scrap_weighed": mass.get("scrap_weighed", 0.0) + float(later or 0),
        "scrap_expected": expected_scrap_g(row.plan.metal, mass, resized),
    }


def added_by(closed: Iterable[Closed], kind: str) -> list[Added]:
    """Added up by "metal" or "term", in the order in which they first come."""
    groups: dict[str, list[Closed]] = {}
    for one in closed:
        groups.setdefault(one.metal if kind == "metal" else one.term, []).append(one)
    return [added(label, rows) for label, rows in groups.items()]


def added(label: str, closed: Iterable[Closed]) -> Added:
    """All of them under one label."""
    rows = list(closed)

    def area(name: str) -> float:
        return sum(one.area.get(name, 0.0) for one in rows)

    return Added(
        label=label,
        plans=len(rows),
        out=area("out"),
        pieces=area("pieces"),
        offcuts=area("offcuts"),
        kerf=area("kerf"),
        scrap=area("scrap"),
        expected_g=sum(one.mass.get("scrap_expected", 0.0) for one in rows),
        weighed_g=sum(one.mass.get("scrap_weighed", 0.0) for one in rows),
        unexplained=float(rounded(area("unexplained"), MM2_PLACES)),
    )
