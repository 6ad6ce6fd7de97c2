"""What lies where, and steps that change it: what undo and redo of every layout table stand on.

A step says of each copy of a piece where it lay before and after, as [piece, copy, before, after];
a place is [metal, mirror, turn, x, y], or None for the tray. All of it is JSON as it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

from studio.core.cutting.by_hand import placement_to_json
from studio.core.cutting.job import Placement

WITHIN_MM: Final = 10_000.0
MOST_TURN_DEG: Final = 360_000.0

Key = tuple[str, int]
Spot = list[Any] | None


class Laid:
    """Where each copy of a piece lies.

    Examples
    --------
    >>> laid = Laid([])
    >>> moved = laid.put(("a", 0), ["S1", False, 90.0, 4.0, 0.0])
    >>> moved
    ['a', 0, None, ['S1', False, 90.0, 4.0, 0.0]]
    >>> laid.follow([moved], back=True)
    >>> laid.placements()
    []
    """

    def __init__(self, placements: Iterable[Mapping[str, Any]]) -> None:
        self.spots: dict[Key, list[Any]] = {
            (p["piece"], p["copy"]): [p["metal"], p["mirror"], p["turn_deg"], p["x_mm"], p["y_mm"]]
            for p in placements
        }

    def put(self, key: Key, spot: Spot) -> list[Any]:
        """Lay one copy there; answers with what a step says of it."""
        before = self.spots.get(key)
        if spot is None:
            self.spots.pop(key, None)
        else:
            self.spots[key] = spot
        return [*key, before, spot]

    def follow(self, moved: Iterable[list[Any]], *, back: bool) -> None:
        """Go a step back, or on."""
        for piece, copy, before, after in moved:
            self.put((piece, copy), before if back else after)

    def placements(self) -> list[dict[str, Any]]:
        """As rows and jobs write them."""
        return [
            placement_to_json(Placement(piece, copy, *spot))
            for (piece, copy), spot in self.spots.items()
        ]


def spot_of(to: Placement | None) -> Spot:
    """The place as steps write it."""
    return None if to is None else [to.metal, to.mirror, to.turn_deg, to.x_mm, to.y_mm]


def is_near(to: Placement) -> bool:
    """Whether it lies at numbers, and not so far off that no table would show it."""
    return (
        all(math.isfinite(mm) and abs(mm) <= WITHIN_MM for mm in (to.x_mm, to.y_mm))
        and math.isfinite(to.turn_deg)
        and abs(to.turn_deg) <= MOST_TURN_DEG
    )
