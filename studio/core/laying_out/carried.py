"""Where a piece lies after its pattern was changed."""

from __future__ import annotations

import math
from typing import Any

from shapely import from_wkt

Box = tuple[float, float, float, float]

LEAST_IN_COMMON = 0.5  # of the smaller outline’s bounds: less, and it was drawn at another place


def carried(placed: dict[str, Any], before: str, now: str) -> dict[str, Any]:
    """The placement for the outline as it is `now`; both outlines are WKT in the drawing's mm.

    A placement moves the drawing's origin, so a corrected piece stays with all sides that were not
    corrected. One that stands elsewhere on the drawing, or is another piece, would come to lie
    anywhere: it keeps its middle where that of the old one was.
    """
    if before == now:
        return placed
    old, new = from_wkt(before).bounds, from_wkt(now).bounds
    if _in_common(old, new) >= LEAST_IN_COMMON * min(_area(old), _area(new)):
        return placed
    dx = (old[0] + old[2] - new[0] - new[2]) / 2
    dy = (old[1] + old[3] - new[1] - new[3]) / 2
    across = -dx if placed["mirror"] else dx
    turn = math.radians(placed["turn_deg"])
    cos, sin = math.cos(turn), math.sin(turn)
    return placed | {
        "x_mm": round(placed["x_mm"] + cos * across - sin * dy, 4),
        "y_mm": round(placed["y_mm"] + sin * across + cos * dy, 4),
    }


def _in_common(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return max(0.0, wide) * max(0.0, high)


def _area(bounds: Box) -> float:
    return (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])
