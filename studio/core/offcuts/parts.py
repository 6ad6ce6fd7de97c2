"""The parts that straight cuts make of one stock piece, by their numbers. Millimetres."""

from __future__ import annotations

import math
from collections.abc import Iterable

from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import common
from studio.core.cutting import Cut, Job

Part = Polygon | MultiPolygon

_CRUMB_MM2 = 1e-6


def parts_made(job: Job, metal: str, cuts: Iterable[Cut]) -> dict[int, Part]:
    """What is left in one piece after these cuts, by number: 0 is the stock piece itself.

    Raises KeyError for a cut through a part that is not there.
    """
    parts: dict[int, Part] = {0: job.stock_by_id[metal].outline}
    half_kerf = job.kerf_mm / 2.0 if job.parting and job.parting.way == "saw" else 0.0
    for number, cut in enumerate(one for one in cuts if one.metal == metal):
        part = parts.pop(cut.part)
        parts[2 * number + 1] = _beside(part, cut, half_kerf, 1.0)
        parts[2 * number + 2] = _beside(part, cut, half_kerf, -1.0)
    return parts


def _beside(part: Part, cut: Cut, away_mm: float, side: float) -> Part:
    """All of the part on one side of the cut's line: 1 on its left, -1 on its right."""
    (x0, y0), (x1, y1) = cut.start, cut.end
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    nx, ny = -uy * side, ux * side
    bx0, by0, bx1, by1 = part.bounds
    far = 2.0 * (math.hypot(bx1 - bx0, by1 - by0) + math.hypot(bx0 - x0, by0 - y0)) + length
    near = [
        (x0 + away_mm * nx - far * ux, y0 + away_mm * ny - far * uy),
        (x0 + away_mm * nx + far * ux, y0 + away_mm * ny + far * uy),
    ]
    beyond = [(x + far * nx, y + far * ny) for x, y in reversed(near)]
    found = common(part, Polygon([*near, *beyond]))
    areas = [one for one in getattr(found, "geoms", [found]) if one.area > _CRUMB_MM2]
    polygons = [one for one in areas if isinstance(one, Polygon)]
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)
