"""How far a cut is from the outline, where a saw's frame reaches in."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Point, Polygon

from studio.core.verifying.zones import between_bounds

Array = npt.NDArray[np.float64]
_SAMPLES = 33
_LOOKED_AT = 8  # of the longest stretches out of reach, for the furthest place


def beyond_reach(
    lines: Sequence[LineString], outline: Polygon, throat_mm: float
) -> tuple[float, Point] | None:
    """The furthest that the stretches of one cut lie from the outer rim of the metal, and where,
    if that is further than the throat is deep; None where the frame reaches all of them.

    Windows do not help: the frame goes around the outer rim. What is within reach of one edge of
    the rim is one span of the cut's line, so that spans tell it exactly.
    """
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    origin = ends[0, 0]
    way = (ends[0, 1] - origin) / np.hypot(*(ends[0, 1] - origin))
    rim = shapely.get_coordinates(outline.exterior) - origin
    gaps = _gaps(((ends - origin) @ way).tolist(), _within(rim, way, throat_mm))
    worst: tuple[float, Point] | None = None
    for begin, end in sorted(gaps, key=lambda gap: gap[0] - gap[1])[:_LOOKED_AT]:
        spots = shapely.points(origin + np.linspace(begin, end, _SAMPLES)[:, None] * way)
        away = np.asarray(shapely.distance(outline.exterior, spots))
        k = int(np.argmax(away))
        if worst is None or away[k] > worst[0]:
            worst = float(away[k]), spots[k]
    return worst


def _gaps(stretches: list[list[float]], spans: Array) -> list[tuple[float, float]]:
    """What of the stretches no span covers."""
    covered: list[tuple[float, float]] = []
    for begin, end in spans[np.argsort(spans[:, 0])].tolist():
        if covered and begin <= covered[-1][1]:
            covered[-1] = covered[-1][0], max(end, covered[-1][1])
        else:
            covered.append((begin, end))
    lows = [begin for begin, _ in covered]
    gaps = []
    for at, last in stretches:
        for begin, end in covered[max(bisect_right(lows, at) - 1, 0) :]:
            if begin >= last:
                break
            if begin > at:
                gaps.append((at, begin))
            at = max(at, end)
        if at < last:
            gaps.append((at, last))
    return gaps


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
    low_a, high_a = between_bounds(*first, np.zeros_like(size), size)
    low_b, high_b = between_bounds(*across, np.full_like(size, -reach), np.full_like(size, reach))
    low, high = np.maximum(low_a, low_b), np.minimum(high_a, high_b)
    spans.append((low, high, (high >= low) & (size > 0.0)))
    found = [np.column_stack([lows[there], highs[there]]) for lows, highs, there in spans]
    return np.vstack(found)
