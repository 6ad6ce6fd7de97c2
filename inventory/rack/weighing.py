"""Does the metal weigh what its size says? A cross-check on thickness. Pure.

mass = area × thickness × density. A sheet that is thinner than its label weighs less.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from classroom.figures.rounding import MM_PLACES, rounded
from classroom.figures.units import format_thickness
from inventory import metals

TOLERANCE: Final = 0.07
"""Weights that differ by no more agree: sheet is rolled and cut to some percent, and a kitchen
scale reads to some more. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class WeightCheck:
    """Weight by the scale, weight by size, in grams; and the thickness that would explain it."""

    weighed_g: float
    expected_g: float
    thickness_mm: float

    @property
    def off(self) -> float:
        """Share by which the scale says more (or, below zero, less) than the size."""
        return self.weighed_g / self.expected_g - 1.0

    def thickness_in(self, units: str) -> str:
        """The thickness that would explain it, with its unit; no finer than a scale tells it."""
        return format_thickness(rounded(self.thickness_mm, 2, kept=MM_PLACES), units)

    @property
    def agrees(self) -> bool:
        return abs(self.off) <= TOLERANCE


def check_weight(
    weighed_g: Decimal, *, area_mm2: Decimal, thickness_mm: Decimal, alloy_code: str
) -> WeightCheck:
    """Compare a weight with area × thickness × density. All values above zero."""
    density = metals.alloy(alloy_code).density_g_cm3
    expected = metals.mass_g(float(area_mm2), float(thickness_mm), density)
    return WeightCheck(
        float(weighed_g), expected, float(thickness_mm) * float(weighed_g) / expected
    )
