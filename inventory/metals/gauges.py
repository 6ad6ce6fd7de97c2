"""How thick is it? Gauge numbers, ounce copper and metric sizes, all against millimetres.

The thickness in millimetres is the key of a metal; a gauge is only a label, because "gauge"
alone is ambiguous: copper is sometimes sold by an older system in which 12 is 2.74 mm, where
B&S says 2.05 mm. Steel has gauges of its own; never use this table for steel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Final

from .saying import ENGLISH, Say
from .sources import Status, UnknownMetalError

MM_PER_INCH: Final = Decimal("25.4")  # exact by definition
FIRST_GAUGE: Final = 0
LAST_GAUGE: Final = 36
LEAST_THICKNESS_MM: Final = Decimal("0.050")
MOST_THICKNESS_MM: Final = Decimal("10.000")

LABEL_SHARE: Final = Decimal("0.005")
"""A thickness within this share of a gauge carries the gauge's name.

0.81 mm and 0.032 in are 20 ga; 0.80 mm, 1.5 % off, is a metric sheet and says so. Common
practice, no source.
"""

COPPER_OUNCES: Final = (12, 16, 20, 24, 32, 48)
"""Weights in ounces per square foot in which copper sheet is sold (ASTM B370; verified)."""

OUNCE_COPPER_LB_PER_CUBIC_INCH: Final = 0.322
"""The density behind the nominal ounce thicknesses (computed: it reproduces B370's values)."""

METRIC_NEAR_GAUGE_MM: Final = {
    26: Decimal("0.4"),
    24: Decimal("0.5"),
    22: Decimal("0.65"),
    20: Decimal("0.8"),
    18: Decimal("1.0"),
    16: Decimal("1.3"),
    14: Decimal("1.6"),
}
"""What is sold in millimetres where a gauge is asked for (common practice, no source)."""


class ThicknessError(ValueError):
    """A thickness that no sheet has; the message says which are possible."""


@dataclass(frozen=True, slots=True)
class OunceCopper:
    """Copper sheet sold by weight: ounces per square foot and its nominal thickness."""

    ounces: int
    thickness_mm: Decimal
    status: Status = Status.COMPUTED


def bs_inches(gauge: int) -> float:
    """Thickness in inches of a B&S (AWG) gauge number, unrounded.

    0.005 x 92^((36 - n) / 39), the definition of ASTM B258 (formula verified in an engineering
    reference, title from memory). Raises `UnknownMetalError` outside 0 to 36.
    """
    if not FIRST_GAUGE <= gauge <= LAST_GAUGE:
        raise UnknownMetalError(
            f"There is no gauge {gauge} here: give a B&S gauge from {FIRST_GAUGE} to {LAST_GAUGE}, "
            "or the thickness in mm."
        )
    return 0.005 * float(92 ** ((36 - gauge) / 39))


def bs_thickness_mm(gauge: int) -> Decimal:
    """Thickness in millimetres of a B&S gauge number as a metal's key, three places."""
    return _three_places(Decimal(bs_inches(gauge)) * MM_PER_INCH)


def thickness_key(thickness_mm: Decimal | float | str) -> Decimal:
    """The thickness as a metal's key: millimetres, three places, half up.

    Raises `ThicknessError` for what is not a number or lies outside 0.050 to 10.000 mm.
    """
    try:
        value = Decimal(str(thickness_mm))
    except InvalidOperation:
        raise ThicknessError(
            "The thickness is not a number: give it in millimetres, such as 0.8."
        ) from None
    if not value.is_finite() or not LEAST_THICKNESS_MM <= value <= MOST_THICKNESS_MM:
        raise ThicknessError(
            f"The thickness must lie between {LEAST_THICKNESS_MM} and {MOST_THICKNESS_MM} mm: "
            "measure the sheet with a caliper and type what it reads."
        )
    return _three_places(value)


def ounce_copper_mm(ounces: int) -> Decimal:
    """Nominal thickness in millimetres of copper of so many ounces per square foot.

    Sheet may be delivered thinner than nominal, so measure it. Raises `UnknownMetalError` for a
    weight that is not sold.
    """
    if ounces not in COPPER_OUNCES:
        known = ", ".join(str(one) for one in COPPER_OUNCES)
        raise UnknownMetalError(
            f"Copper is not sold at {ounces} oz per sq ft: choose from {known}."
        )
    inches = ounces / 16 / 144 / OUNCE_COPPER_LB_PER_CUBIC_INCH
    return _three_places(Decimal(inches) * MM_PER_INCH)


def ounce_table() -> tuple[OunceCopper, ...]:
    """All weights of copper sheet with their nominal thickness."""
    return tuple(OunceCopper(ounces, ounce_copper_mm(ounces)) for ounces in COPPER_OUNCES)


def nearest_gauge(thickness_mm: Decimal | float) -> int:
    """The B&S gauge number whose thickness is nearest by ratio, within 0 to 36."""
    inches = float(thickness_key(thickness_mm)) / 25.4
    gauge = round(36 - 39 * math.log(inches / 0.005, 92))
    return min(max(gauge, FIRST_GAUGE), LAST_GAUGE)


def gauge_label(
    thickness_mm: Decimal | float, alloy_code: str | None = None, say: Say = ENGLISH
) -> str:
    """The name a thickness is sold under: "20 ga (B&S)", "16 oz per sq ft" or "0.80 mm".

    A gauge is named only within half a percent of it; ounces only for copper (`C11000`).
    """
    key = thickness_key(thickness_mm)
    gauge = nearest_gauge(key)
    if _within(key, bs_thickness_mm(gauge)):
        return say("%(gauge)s ga (B&S)") % {"gauge": gauge}
    if alloy_code == "C11000":
        for sheet in ounce_table():
            if _within(key, sheet.thickness_mm):
                return say("%(ounces)s oz per sq ft") % {"ounces": sheet.ounces}
    return plain_mm(key)


def thickness_label(
    thickness_mm: Decimal | float, alloy_code: str | None = None, say: Say = ENGLISH
) -> str:
    """Millimetres first, the trade's name after: "0.812 mm, 20 ga (B&S)" or "0.80 mm, near 20 ga".

    "Near" is said only where the metric sheet is what is usually sold for that gauge.
    """
    key = thickness_key(thickness_mm)
    plain, label = plain_mm(key), gauge_label(key, alloy_code, say)
    if label != plain:
        return f"{plain}, {label}"
    for gauge, usual_mm in METRIC_NEAR_GAUGE_MM.items():
        if key == usual_mm:
            return say("%(mm)s, near %(gauge)s ga") % {"mm": plain, "gauge": gauge}
    return plain


def plain_mm(thickness_mm: Decimal) -> str:
    """Millimetres with two places, or three where the third is not zero, and the unit."""
    key = _three_places(thickness_mm)
    two_places = key.quantize(Decimal("0.01"))
    return f"{two_places if two_places == key else key} mm"


def _within(value: Decimal, nominal: Decimal) -> bool:
    return abs(value - nominal) <= nominal * LABEL_SHARE


def _three_places(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.001"), rounding=ROUND_HALF_UP)
