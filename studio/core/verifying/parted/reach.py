"""How far a cut is from the outline, where a saw's frame reaches in."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Point, Polygon

Array = npt.NDArray[np.float64]
_SAMPLES = 33


def beyond_reach(
    line: LineString, outline: Polygon, throat_mm: float
) -> tuple[float, Point] | None:
    """The furthest that a cut lies from the outer rim of the metal, and where, if that is further
    than the throat is deep; None where the frame reaches all of it.

    Windows do not help: the frame goes around the outer rim. What is within reach of one edge of
    the rim is one span of the cut, so that spans tell it exactly.
    """
    rim = shapely.get_coordinates(outline.exterior)
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    length = line.length
    way = np.array([(x1 - x0) / length, (y1 - y0) / length])
    spans = _within(rim - np.array([x0, y0]), way, throat_mm)
    at, gaps = 0.0, []
    for begin, end in spans[np.argsort(spans[:, 0])].tolist():
        if begin > at:
            gaps.append((at, min(begin, length)))
        at = max(at, end)
        if at >= length:
            break
    if at < length:
        gaps.append((at, length))
    worst: tuple[float, Point] | None = None
    for begin, end in gaps:
        for place in np.linspace(begin, end, _SAMPLES).tolist():
            spot = Point(x0 + place * way[0], y0 + place * way[1])
            away = float(outline.exterior.distance(spot))
            if worst is None or away > worst[0]:
                worst = away, spot
    return worst


def _within(rim: Array, way: Array, reach: float) -> Array:
    """From where to where a line from the origin is within reach of each edge of a rim."""
    ends = np.column_stack([rim[:-1], rim[1:]])
    spans = []
    for columns in ((0, 1), (2, 3)):  # round the ends
        away = ends[:, columns]
        middle = away @ way
        rest = reach * reach - (np.sum(away * away, axis=1) - middle * middle)
        half = np.sqrt(np.maximum(rest, 0.0))
        spans.append((np.where(rest >= 0.0, middle - half, np.inf), middle + half, rest >= 0.0))
    # across from the edge itself
    edge = ends[:, 2:] - ends[:, :2]
    size = np.hypot(edge[:, 0], edge[:, 1])
    unit = edge / np.where(size > 0.0, size, 1.0)[:, None]
    first = -np.sum(ends[:, :2] * unit, axis=1), unit @ way
    across = (
        unit[:, 1] * ends[:, 0] - unit[:, 0] * ends[:, 1],
        unit[:, 0] * way[1] - unit[:, 1] * way[0],
    )
    low_a, high_a = _between(*first, np.zeros_like(size), size)
    low_b, high_b = _between(*across, np.full_like(size, -reach), np.full_like(size, reach))
    low, high = np.maximum(low_a, low_b), np.minimum(high_a, high_b)
    spans.append((low, high, (high >= low) & (size > 0.0)))
    found = [np.column_stack([lows[there], highs[there]]) for lows, highs, there in spans]
    return np.vstack(found)


def _between(start: Array, step: Array, least: Array, most: Array) -> tuple[Array, Array]:
    """For which t the sum start + step · t lies between two bounds; backwards for none."""
    still = np.abs(step) < 1e-12
    by = np.where(still, 1.0, step)
    one, other = (least - start) / by, (most - start) / by
    inside = (start >= least) & (start <= most)
    low = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, other))
    high = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(one, other))
    return low, high
