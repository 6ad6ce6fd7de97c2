"""What one unit of a DXF drawing is, by the number in its header's `$INSUNITS`.

The lengths are exact by definition: the inch is 25.4 mm (1959), the United States survey foot
1200/3937 m. Fractions keep them so until the one multiplication at the end.
"""

from __future__ import annotations

from fractions import Fraction

from ..errors import PatternError

_INCH = Fraction(254, 10)
_SURVEY_FOOT = Fraction(1_200_000, 3937)

UNITS: dict[int, tuple[str, Fraction]] = {
    1: ("in", _INCH),
    2: ("ft", 12 * _INCH),
    3: ("mi", 63_360 * _INCH),
    4: ("mm", Fraction(1)),
    5: ("cm", Fraction(10)),
    6: ("m", Fraction(1000)),
    7: ("km", Fraction(1_000_000)),
    8: ("microinch", _INCH / 1_000_000),
    9: ("mil", _INCH / 1000),
    10: ("yd", 36 * _INCH),
    11: ("angstrom", Fraction(1, 10**7)),
    12: ("nm", Fraction(1, 10**6)),
    13: ("micron", Fraction(1, 1000)),
    14: ("dm", Fraction(100)),
    15: ("dam", Fraction(10_000)),
    16: ("hm", Fraction(100_000)),
    21: ("survey ft", _SURVEY_FOOT),
    22: ("survey in", _SURVEY_FOOT / 12),
    23: ("survey yd", 3 * _SURVEY_FOOT),
    24: ("survey mi", 5280 * _SURVEY_FOOT),
}
"""Number to short name and millimetres. Missing are "none" (0) and lengths between stars."""


def unit_of(number: int | None) -> tuple[str, float] | None:
    """Short name and millimetres of one unit, or None when the file does not say."""
    found = None if number is None else UNITS.get(number)
    return None if found is None else (found[0], float(found[1]))


def unit_named(name: str) -> tuple[str, float]:
    """The same for a unit that a person named. Raises PatternError for one not offered."""
    if name not in OFFERED:
        raise PatternError(
            "option-bad",
            f"A drawing's unit is none of {', '.join(OFFERED)}: {name[:20]!r}.",
            "Say the unit again.",
        )
    return next((short, float(mm)) for short, mm in UNITS.values() if short == name)


OFFERED = ("mm", "cm", "in", "m", "ft")
"""What people draw small things in, the likeliest first."""
