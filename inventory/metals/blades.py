"""Which saw blade, and how wide is its cut? Typical values: no standard governs these blades.

A number means different blades from different makers, so a school may change every value, and
advice never blocks anyone. Sizes and teeth are from memory of widely printed trade charts;
diagonals, teeth in the metal and kerf are computed from them. The finest row (8/0) is the one
least to be trusted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from classroom.figures.rounding import plain

from .gauges import thickness_key
from .saying import ENGLISH, Say
from .sources import Status, UnknownMetalError

KERF_LEAST_FACTOR: Final = 1.0
KERF_MOST_FACTOR: Final = 1.2
"""The cut is this much wider than the blade's body (common practice, no source)."""

GOOD_TEETH: Final = 2.0
USABLE_TEETH: Final = 1.3
"""Teeth resting in the metal for "good" and "usable with care" (common practice, no source)."""

FIRST_CHOICE_TEETH: Final = 1.75
"""The first choice is the coarsest blade with this many teeth in the metal.

Two teeth less a quarter, so that 20 ga sheet gets the usual classroom blade, 2/0 (common
practice, no source).
"""


class Rating(StrEnum):
    """How a blade suits a thickness. It advises; nothing is refused because of it."""

    GOOD = "good"
    CARE = "usable with care"
    WARN = "too coarse"


@dataclass(frozen=True, slots=True)
class Blade:
    """One size of piercing-saw blade; the trade's own units are inches and teeth per inch.

    `chart_drill` (a number drill) and `chart_gauge` are what printed charts pair with it.
    """

    size: str
    thickness_in: Decimal
    depth_in: Decimal
    teeth_per_inch: Decimal
    chart_drill: int
    chart_gauge: str
    status: Status = Status.MEMORY

    @property
    def name(self) -> str:
        """The size as it is spoken of: "2/0", but "No. 2"."""
        return self.name_in(ENGLISH)

    def name_in(self, say: Say) -> str:
        return self.size if "/" in self.size else say("No. %(size)s") % {"size": self.size}

    @property
    def thickness_mm(self) -> float:
        return float(self.thickness_in) * 25.4

    @property
    def depth_mm(self) -> float:
        return float(self.depth_in) * 25.4

    @property
    def diagonal_mm(self) -> float:
        """Corner to corner of the blade's section: what a pilot hole must let through."""
        return math.hypot(self.thickness_mm, self.depth_mm)

    @property
    def teeth_per_cm(self) -> float:
        return float(self.teeth_per_inch) / 2.54


def _blade(
    size: str, thickness: str, depth: str, teeth: str, chart_drill: int, chart_gauge: str
) -> Blade:
    return Blade(size, Decimal(thickness), Decimal(depth), Decimal(teeth), chart_drill, chart_gauge)


BLADES: Final[tuple[Blade, ...]] = (
    _blade("8/0", ".0063", ".0126", "89", 80, "26 and thinner"),
    _blade("7/0", ".0067", ".0130", "84", 80, "24 to 26"),
    _blade("6/0", ".0070", ".0140", "76", 79, "24"),
    _blade("5/0", ".0080", ".0157", "71", 78, "22 to 24"),
    _blade("4/0", ".0086", ".0170", "66", 77, "22"),
    _blade("3/0", ".0095", ".0190", "61", 76, "22"),
    _blade("2/0", ".0103", ".0204", "56", 75, "20 to 22"),
    _blade("1/0", ".0110", ".0220", "53.5", 73, "18 to 22"),
    _blade("1", ".0120", ".0240", "51", 71, "18 to 20"),
    _blade("2", ".0134", ".0276", "43", 70, "16 to 18"),
    _blade("3", ".0140", ".0290", "40.5", 68, "16 to 18"),
    _blade("4", ".0150", ".0307", "38", 67, "16 to 18"),
    _blade("5", ".0158", ".0331", "35.5", 65, "16"),
    _blade("6", ".0173", ".0370", "33", 58, "14"),
    _blade("7", ".0189", ".0400", "30.5", 57, "12"),
    _blade("8", ".0197", ".0440", "28", 55, "12"),
)
"""Finest first."""

_BY_SIZE: Final = {one.size: one for one in BLADES}
USUAL_BLADE: Final = _BY_SIZE["2/0"]
"""The usual classroom blade with 20 ga sheet (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class BladeAdvice:
    """One blade for one thickness, with the reason in words."""

    blade: Blade
    teeth: float
    rating: Rating

    @property
    def reason(self) -> str:
        return self.reason_in(ENGLISH)

    def reason_in(self, say: Say) -> str:
        match self.rating:
            case Rating.GOOD:
                text = say("%(blade)s: about %(teeth)s teeth rest in the metal, which is good.")
            case Rating.CARE:
                text = say(
                    "%(blade)s: about %(teeth)s teeth rest in the metal; usable with long, light "
                    "strokes."
                )
            case Rating.WARN:
                text = say(
                    "%(blade)s: about %(teeth)s teeth rest in the metal; it will catch and may "
                    "break. Take a finer blade or saw on a backing sheet."
                )
        return text % {"blade": self.blade.name_in(say), "teeth": plain(self.teeth, 1)}


def blade(size: str) -> Blade:
    """The blade of this size, such as "2/0". Raises `UnknownMetalError`, naming the sizes."""
    try:
        return _BY_SIZE[size]
    except KeyError:
        known = ", ".join(_BY_SIZE)
        raise UnknownMetalError(f"That blade is not in the table: choose from {known}.") from None


def teeth_in_metal(one: Blade, thickness_mm: Decimal | float) -> float:
    """How many of the blade's teeth rest in a sheet of this thickness at once."""
    return float(one.teeth_per_inch) * float(thickness_key(thickness_mm)) / 25.4


def rate_blade(one: Blade, thickness_mm: Decimal | float) -> BladeAdvice:
    """How this blade suits this thickness."""
    teeth = teeth_in_metal(one, thickness_mm)
    if teeth >= GOOD_TEETH:
        rating = Rating.GOOD
    elif teeth >= USABLE_TEETH:
        rating = Rating.CARE
    else:
        rating = Rating.WARN
    return BladeAdvice(one, teeth, rating)


def blade_advice(
    thickness_mm: Decimal | float, among: Sequence[Blade] = BLADES
) -> tuple[BladeAdvice, ...]:
    """Every blade for this thickness, in the order given: `BLADES` is finest first."""
    return tuple(rate_blade(one, thickness_mm) for one in among)


def first_choice_blade(
    thickness_mm: Decimal | float, among: Sequence[Blade] = BLADES
) -> BladeAdvice:
    """The blade to reach for first; the finest there is when the sheet is very thin.

    `among` are the blades that the school has, finest first and at least one.
    """
    advice = blade_advice(thickness_mm, among)
    enough = [one for one in advice if one.teeth >= FIRST_CHOICE_TEETH]
    return enough[-1] if enough else advice[0]


def kerf_advice(one: Blade) -> tuple[float, float]:
    """Least and most width of this blade's cut in millimetres: measure yours to know."""
    return one.thickness_mm * KERF_LEAST_FACTOR, one.thickness_mm * KERF_MOST_FACTOR
