"""How heavy is it? Exact units of mass, and the weight of a flat piece of metal."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Final

# Exact by definition (SI brochure, ISO 31-3; verified).
GRAM_PER_POUND: Final = Decimal("453.59237")
GRAM_PER_OUNCE: Final = Decimal("28.349523125")  # avoirdupois: base metals, everyday weights
GRAM_PER_TROY_OUNCE: Final = Decimal("31.1034768")  # silver and gold are priced by it
GRAM_PER_PENNYWEIGHT: Final = Decimal("1.55517384")  # 20 to the troy ounce
GRAM_PER_GRAIN: Final = Decimal("0.06479891")  # the same grain in both systems

GRAM_PER_UNIT: Final = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "oz": GRAM_PER_OUNCE,
    "lb": GRAM_PER_POUND,
    "ozt": GRAM_PER_TROY_OUNCE,
    "dwt": GRAM_PER_PENNYWEIGHT,
    "gr": GRAM_PER_GRAIN,
}
"""Grams in each unit a price or a weight may be given in; "ozt" is the troy ounce."""


def mass_g(area_mm2: float, thickness_mm: Decimal | float, density_g_cm3: Decimal | float) -> float:
    """Grams of a flat piece: area x thickness x density.

    Raises `ValueError` for a negative or non-finite value: a weight below nothing would end up
    in somebody's account.
    """
    values = (float(area_mm2), float(thickness_mm), float(density_g_cm3))
    if not all(math.isfinite(value) and value >= 0 for value in values):
        raise ValueError("Area, thickness and density must be finite and not negative.")
    area, thickness, density = values
    return area * thickness * density / 1000.0  # mm3 x g/cm3 = 1/1000 g


def grams(amount: Decimal, unit: str) -> Decimal:
    """An amount in one of `GRAM_PER_UNIT`'s units in grams, exactly; `ValueError` for others."""
    if unit not in GRAM_PER_UNIT:
        known = ", ".join(GRAM_PER_UNIT)
        raise ValueError(f"The weight's unit is not known: choose from {known}.")
    return amount * GRAM_PER_UNIT[unit]
