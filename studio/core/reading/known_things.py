"""Things of known size that lie in a photo: a card, coins, any two points whose distance is known.

Sizes: ISO/IEC 7810 (card, size ID-1); the United States Mint's coin specifications; Council
Regulation (EC) 975/98, the euro's coins.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .errors import PatternError
from .rough import Reference
from .tracing import Point

_RIM_POINTS = 24


@dataclass(frozen=True, slots=True)
class KnownThing:
    """`kind` as `Reference` has it; `width_mm` is 0 where the person says it."""

    code: str
    words: str
    group: str
    kind: str
    width_mm: float = 0.0
    height_mm: float = 0.0

    @property
    def marks(self) -> tuple[str, ...]:
        """What is marked in the picture, in order."""
        return MARKS[self.kind]


MARKS = {
    "card": ("upper left corner", "upper right corner", "lower right corner", "lower left corner"),
    "coin": ("middle of the coin", "rim of the coin"),
    "length": ("one end", "other end"),
}
MOST_MARKS = max(map(len, MARKS.values()))


def _coin(code: str, words: str, group: str, across_mm: float) -> KnownThing:
    return KnownThing(code, f"{words}, {across_mm:.2f} mm", group, "coin", across_mm)


_US, _EURO = "Coins of the United States", "Euro coins"

THINGS = (
    KnownThing("length", "A length that I know", "Anything", "length"),
    KnownThing("card", "Card of 85.60 × 53.98 mm", "Anything", "card", 85.60, 53.98),
    _coin("us-1", "1 cent", _US, 19.05),
    _coin("us-5", "5 cents (nickel)", _US, 21.21),
    _coin("us-10", "10 cents (dime)", _US, 17.91),
    _coin("us-25", "25 cents (quarter)", _US, 24.26),
    _coin("us-50", "50 cents (half dollar)", _US, 30.61),
    _coin("us-100", "1 dollar", _US, 26.49),
    _coin("eur-1", "1 cent", _EURO, 16.25),
    _coin("eur-2", "2 cents", _EURO, 18.75),
    _coin("eur-5", "5 cents", _EURO, 21.25),
    _coin("eur-10", "10 cents", _EURO, 19.75),
    _coin("eur-20", "20 cents", _EURO, 22.25),
    _coin("eur-50", "50 cents", _EURO, 24.25),
    _coin("eur-100", "1 euro", _EURO, 23.25),
    _coin("eur-200", "2 euros", _EURO, 25.75),
)
BY_CODE = {thing.code: thing for thing in THINGS}


def reference_of(
    thing: KnownThing, marks: Sequence[Point], length_mm: float | None = None
) -> Reference:
    """What the reader needs, from the marks in `thing.marks`' order (dots of the picture).

    Raises PatternError for marks that cannot be.
    """
    if len(marks) != len(thing.marks) or not all(math.isfinite(v) for at in marks for v in at):
        raise PatternError(
            "reference-odd", "Not everything is marked.", f"Mark {' and '.join(thing.marks)}."
        )
    if thing.kind == "coin":
        (x, y), (rim_x, rim_y) = marks
        radius = math.hypot(rim_x - x, rim_y - y)
        turns = [math.tau * k / _RIM_POINTS for k in range(_RIM_POINTS)]
        points = tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns)
        return Reference("coin", points, thing.width_mm)
    if thing.kind == "length" and not length_mm:
        raise PatternError(
            "reference-odd", "The length between both marks is missing.", "Type how long it is."
        )
    return Reference(thing.kind, tuple(marks), thing.width_mm or length_mm or 0, thing.height_mm)
