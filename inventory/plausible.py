"""Is a typed figure likely? What is asked about before anything is saved. Pure.

A question, not a refusal: whoever typed the figure may say that it is right, and that is kept.
What cannot be (more scrap than metal went out) wants a reason in words besides.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from classroom.figures.rounding import plain
from classroom.figures.units import format_area, format_mass, format_share, format_thickness

WEIGHT_OFF: Final = 0.15
"""A weight further from size × thickness × density than this is asked about. Rolled sheet and a
kitchen scale together are within 7 % (`TOLERANCE` of `rack.weighing`); beyond twice that,
something is mistyped, or it is another metal. Common practice, no source."""
CALIPER_OFF: Final = Decimal("0.10")
"""So is a caliper reading: sheet is rolled to a few percent."""
PRICE_FACTOR: Final = Decimal(2)
"""So is a price that is so many times the last one by area, or as small a part of it."""
SCALE_G: Final = 0.5
"""A school's scale is not read closer than this."""
LEAST_OF_SCRAP: Final = 0.5
"""Filings fall to the floor; if less than this share of the scrap was weighed, it is asked."""
MORE_SUPPLIES: Final = 10
"""As many times the largest lot so far, or the number by the records, is a slip of the finger."""

MORE_MONEY: Final = 10
"""And so is money that is so many times the largest amount so far."""
ROUNDING_MM2: Final = 1.0
"""Outlines are kept to a hundredth of a millimetre: areas differ by less."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question about what was typed into `field`; `impossible` wants a reason in words."""

    field: str
    text: str
    impossible: bool = False


def scrap_doubt(
    field: str, weighed_g: Decimal, *, expected_g: float, dust_g: float, out_g: float, units: str
) -> Doubt | None:
    """Scrap of a plan against what the plan leaves.

    `expected_g` is what is left beside pieces, offcuts and saw cuts; `dust_g` the saw cuts, which
    may have been swept up with it; `out_g` all metal that went out.
    """
    weighed, most = float(weighed_g), expected_g + dust_g
    said, likely = format_mass(weighed, units), format_mass(expected_g, units)
    # Sheet may be as much heavier than its size says: of the whole, as the pieces are not weighed.
    if weighed > most + WEIGHT_OFF * out_g + SCALE_G:
        return Doubt(
            field,
            f"{said} of scrap cannot be: {format_mass(out_g, units)} of metal went out, and beside "
            f"pieces and offcuts about {likely} is left, with the saw's dust "
            f"{format_mass(most, units)}. Look at the scale's unit and at what lies on it.",
            impossible=True,
        )
    if weighed > most * (1 + WEIGHT_OFF) + SCALE_G:
        return Doubt(
            field,
            f"{said} is more than is likely: about {likely} is expected, with the saw's dust "
            f"{format_mass(most, units)}. Is other scrap among it, or the tray?",
        )
    if weighed < expected_g * LEAST_OF_SCRAP - SCALE_G:
        return Doubt(
            field,
            f"{said} is less than is likely: about {likely} is expected. Is all of it on the "
            "scale, and was no offcut kept that is marked as scrap?",
        )
    return None


def weight_doubt(
    field: str, weighed_g: Decimal, expected_g: float, units: str, *, at_most: bool = False
) -> Doubt | None:
    """A weight against size × thickness × density; `at_most`: metal of which none can be added."""
    off = float(weighed_g) / expected_g - 1.0 if expected_g else 0.0
    if abs(off) <= WEIGHT_OFF or abs(float(weighed_g) - expected_g) <= SCALE_G:
        return None
    side = f"{format_share(abs(off))} {'more' if off > 0 else 'less'}"
    if off > 1:
        side = f"{plain(off + 1, 0)} times as much"
    said = (
        f"The scale says {format_mass(float(weighed_g), units)}; by size and thickness about "
        f"{format_mass(expected_g, units)} is expected, so this is {side}."
    )
    if at_most and off > 0:
        return Doubt(field, f"{said} That cannot be of this piece alone.", impossible=True)
    return Doubt(field, f"{said} Look at size, number and unit, and whether it is this metal.")


def caliper_doubt(field: str, measured_mm: Decimal, listed_mm: Decimal, units: str) -> Doubt | None:
    """A caliper reading against the thickness that the metal is listed with."""
    if abs(measured_mm - listed_mm) <= listed_mm * CALIPER_OFF:
        return None
    return Doubt(
        field,
        f"The caliper reads {format_thickness(measured_mm, units)}; the metal is listed as "
        f"{format_thickness(listed_mm, units)} thick. Measure again, and see whether it is this "
        "metal.",
    )


def price_doubt(
    field: str,
    per_mm2: Decimal,
    last_per_mm2: Decimal | None,
    *,
    area_mm2: Decimal,
    currency: str,
) -> Doubt | None:
    """A price by area against the metal's last one, both for a sheet of this area."""
    if not last_per_mm2 or last_per_mm2 <= 0:
        return None
    if last_per_mm2 / PRICE_FACTOR <= per_mm2 <= last_per_mm2 * PRICE_FACTOR:
        return None
    side = "more than double" if per_mm2 > last_per_mm2 else "less than half"
    return Doubt(
        field,
        f"That is {per_mm2 * area_mm2:,.2f} {currency} for a sheet of this size, {side} "
        f"the metal's last price, by which about {last_per_mm2 * area_mm2:,.2f} {currency} "
        "is expected. Look at the price, and at what it is the price of.",
    )


def supply_doubt(field: str, number: Decimal, usual: Decimal | None, *, what: str) -> Doubt | None:
    """A number of supplies against the usual one; `what` says which that is."""
    if not usual or usual <= 0 or number <= usual * MORE_SUPPLIES:
        return None
    return Doubt(
        field,
        f"{number.normalize():f} is more than {MORE_SUPPLIES} times {what}: "
        f"{usual.normalize():f}. Look at the number, and at what is counted.",
    )


def factor_doubt(field: str, value: Decimal, last: Decimal | None, words: str) -> Doubt | None:
    """A figure that is ten times another, or a tenth of it: often a slip of the decimal point."""
    if not last or last <= 0 or value <= 0 or last / 10 < value < last * 10:
        return None
    return Doubt(field, f"{words} Is the decimal point where it belongs?")


def size_doubt(
    field: str,
    area_mm2: float,
    *,
    was_mm2: float,
    bought_mm2: float | None = None,
    left_mm2: float | None = None,
    units: str,
) -> Doubt | None:
    """The corrected size of a stock piece against where it comes from.

    `bought_mm2` is the sheet as its purchase says it, `left_mm2` what the piece that it was cut
    from had besides its other offcuts; None where there is no such thing.
    """
    said = format_area(area_mm2, units)
    if left_mm2 is not None and area_mm2 > left_mm2 + ROUNDING_MM2:
        return Doubt(
            field,
            f"{said} cannot be: the piece that it was cut from had {format_area(left_mm2, units)} "
            "besides its other offcuts. Look at the unit, and whether it is this piece.",
            impossible=True,
        )
    if bought_mm2 is not None and area_mm2 > bought_mm2 + ROUNDING_MM2:
        return Doubt(
            field,
            f"{said} cannot be: the sheet was bought with {format_area(bought_mm2, units)}. Where "
            "the purchase is wrong, correct the purchase.",
            impossible=True,
        )
    before = format_area(was_mm2, units)
    return factor_doubt(
        field,
        Decimal(repr(area_mm2)),
        Decimal(repr(was_mm2)),
        f"{said}; so far it was {before}.",
    )


def extras_doubt(
    freight: Decimal, tax: Decimal, metal_price: Decimal | None, *, currency: str
) -> Doubt | None:
    """Freight and tax against the price of the metal itself."""
    if not metal_price or freight + tax <= metal_price:
        return None
    return Doubt(
        "freight" if freight >= tax else "tax",
        f"Freight and tax are {freight + tax:,.2f} {currency} together, more than the metal "
        f"itself: {metal_price:,.2f} {currency}. Are they of this purchase alone?",
    )


def sale_doubt(
    field: str,
    amount: Decimal,
    weight_g: Decimal,
    *,
    new_per_g: Decimal | None,
    last_per_g: Decimal | None,
    currency: str,
) -> Doubt | None:
    """What scrap brought against the newest price of new metal, and the last sale, by weight."""
    if not weight_g:
        return None
    per_g = amount / weight_g
    if new_per_g and per_g > new_per_g:
        return Doubt(
            field,
            f"{amount:,.2f} {currency} is more than new metal of that weight costs: about "
            f"{new_per_g * weight_g:,.2f} {currency}. Look at the amount and the weight.",
        )
    if not last_per_g:
        return None
    likely = f"{last_per_g * weight_g:,.2f} {currency}"
    words = f"{amount:,.2f} {currency}; by the last sale about {likely} is expected."
    return factor_doubt(field, per_g, last_per_g, words)


def money_doubt(
    field: str, amount: Decimal, most: Decimal | None, *, what: str, currency: str
) -> Doubt | None:
    """An amount against the largest so far; `what` says which that is."""
    if not most or most <= 0 or amount < most * MORE_MONEY:
        return None
    return Doubt(
        field,
        f"{amount:,.2f} {currency} is at least {MORE_MONEY} times {what}: {most:,.2f} {currency}. "
        "Is the decimal point where it belongs?",
    )
