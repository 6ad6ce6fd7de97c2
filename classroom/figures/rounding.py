"""One figure reads the same wherever it is told: the one way in which figures are rounded.

Halves go away from zero, as people round by hand; a float stands for the shortest decimal that
names it. A figure is rounded first to the places to which it is kept, and only then to
those shown: so it reads the same whether it comes fresh from a measurement or out of a record,
and a page that shows fewer places shows the rounded figure of a file that shows all of them.

Pure: plain numbers, no Django, nothing of the apps. The core words its findings by it too.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

MM_PLACES: Final = 3
"""Lengths are kept to a thousandth of a millimetre."""
MM2_PLACES: Final = 2
"""Areas to a hundredth of a square millimetre."""
GRAM_KEPT: Final = 3
GRAM_PLACES: Final = 2
GRAM_SHOWN: Final = 1
"""Weights are kept to a milligram, told to a hundredth of a gram in files, to a tenth on pages."""

_MOST_PLACES: Final = 12


def rounded(value: float | Decimal, places: int, *, kept: int = _MOST_PLACES) -> Decimal:
    """`value` to `places` decimals, first to the `kept` ones; never a negative nought.

    Raises ValueError for what is no finite number.
    """
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    if not math.isfinite(exact):
        raise ValueError("Only a finite number can be shown.")
    if places < kept:
        exact = _to(exact, kept)
    shown = _to(exact, places)
    return abs(shown) if shown == 0 else shown


def plain(value: float | Decimal, places: int, *, kept: int = _MOST_PLACES) -> str:
    """The same as text with fixed places: "1.92"."""
    return f"{rounded(value, places, kept=kept):f}"


def places_apart(value: float | Decimal, limit: float | Decimal, least: int, most: int) -> int:
    """With how many decimals a value and the limit that it misses do not read the same.

    At least `least`; `most` where they are the same to the last place that is kept.
    """
    for places in range(least, most):
        if rounded(value, places) != rounded(limit, places):
            return places
    return most if rounded(value, most) != rounded(limit, most) else least


def told_mm(value: float, limit: float | None = None, *, places: int = 2) -> str:
    """Millimetres in a finding's words, without the unit: "1.92".

    Where `limit` is missed by less, there are as many places as it takes to see that.
    """
    value = float(rounded(value, MM_PLACES))
    if limit is not None:
        places = places_apart(value, limit, places, MM_PLACES)
    return plain(value, places, kept=MM_PLACES)


def short_mm(value: float) -> str:
    """Millimetres of a drill, a limit or a paper, to a hundredth and no longer than they have to
    be: "1.6"."""
    shown = plain(value, 2, kept=MM_PLACES)
    return shown.rstrip("0").rstrip(".")


def drill_size(mm: float) -> float:
    """The diameter by which drill marks are told and counted: to a hundredth."""
    return float(rounded(mm, 2, kept=MM_PLACES))


def share_of_area(part_mm2: float | Decimal, whole_mm2: float | Decimal) -> float | None:
    """A part of an area as a share between 0 and 1, of the areas as they are kept; None of
    nothing."""
    whole = rounded(whole_mm2, MM2_PLACES)
    return float(rounded(part_mm2, MM2_PLACES) / whole) if whole else None


def percent_of(share: float | Decimal) -> str:
    """A share between 0 and 1 in whole percent, without the sign: "65". Files tell no finer one:
    pages that round it again would tell another."""
    whole = share if isinstance(share, Decimal) else Decimal(repr(float(share)))
    return plain(100 * whole, 0)


def rest_of(share: float | Decimal) -> float:
    """What a share (0 to 1) leaves of its whole, where both are told: in whole percent they make
    100 together, so it is 100 less the share as that is told."""
    return float((100 - Decimal(percent_of(share))) / 100)


def _to(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
