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
    """`kind` as `Reference` has it; `width_mm` is 0 where the person says it.

    Read out alone, `name` says whose coin it is: in a list that is closed nobody sees the group.
    """

    code: str
    name: str
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


_ANY, _US, _EURO = "Anything", "Coins of the United States", "Euro coins"

THINGS = (
    KnownThing("length", "A length that I know", _ANY, "length"),
    KnownThing("card", "Card of 85.60 × 53.98 mm", _ANY, "card", 85.60, 53.98),
    KnownThing("us-1", "1 US cent (penny)", _US, "coin", 19.05),
    KnownThing("us-5", "5 US cents (nickel)", _US, "coin", 21.21),
    KnownThing("us-10", "10 US cents (dime)", _US, "coin", 17.91),
    KnownThing("us-25", "25 US cents (quarter)", _US, "coin", 24.26),
    KnownThing("us-50", "50 US cents (half dollar)", _US, "coin", 30.61),
    KnownThing("us-100", "1 US dollar", _US, "coin", 26.49),
    KnownThing("eur-1", "1 euro cent", _EURO, "coin", 16.25),
    KnownThing("eur-2", "2 euro cents", _EURO, "coin", 18.75),
    KnownThing("eur-5", "5 euro cents", _EURO, "coin", 21.25),
    KnownThing("eur-10", "10 euro cents", _EURO, "coin", 19.75),
    KnownThing("eur-20", "20 euro cents", _EURO, "coin", 22.25),
    KnownThing("eur-50", "50 euro cents", _EURO, "coin", 24.25),
    KnownThing("eur-100", "1 euro", _EURO, "coin", 23.25),
    KnownThing("eur-200", "2 euros", _EURO, "coin", 25.75),
)
COINS_OF = {"USD": _US, "EUR": _EURO}
BY_CODE = {thing.code: thing for thing in THINGS}


def things_for(currency: str) -> tuple[KnownThing, ...]:
    """All of them, coins of this currency before other coins."""
    near = (_ANY, COINS_OF.get(currency))
    return tuple(sorted(THINGS, key=lambda thing: thing.group not in near))  # stable


def translated_texts() -> set[str]:
    return {text for thing in THINGS for text in (thing.name, thing.group)}


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
