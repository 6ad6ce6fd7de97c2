"""All shifts at which a piece lies within a free region, by exact geometry.

The piece may not touch the region's rim from outside: every rim edge, swept with the piece
turned through 180°, forbids a polygon of shifts; what is left between them is allowed.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPolygon, Polygon

from studio.core.placing.shapes import Variant

MOST_QUADS = 8_000  # beyond this the sweep takes too long; the raster must do
Array = npt.NDArray[np.float64]


def exact_places(
    free: Polygon | MultiPolygon, rim: Array, variant: Variant
) -> list[tuple[float, float]]:
    """Corners of the allowed shifts (at most 40, lower left first); empty where there are none."""
    found: list[tuple[float, float]] = []
    outline = shapely.get_coordinates(variant.shrunk.exterior)
    parts = [free] if isinstance(free, Polygon) else list(free.geoms)
    x0, y0, x1, y1 = variant.shrunk.bounds
    for part in parts:
        px0, py0, px1, py1 = part.bounds
        if x1 - x0 > px1 - px0 or y1 - y0 > py1 - py0 or part.area < variant.shrunk.area:
            continue
        if part.buffer(-variant.inside_mm).is_empty:
            continue  # too narrow everywhere for the piece's inscribed circle
        if _sides(part) * (len(outline) - 1) > MOST_QUADS:
            continue
        allowed = shifts_within(part, variant.shrunk)
        corners = shapely.get_coordinates(allowed)
        if len(corners):
            found.extend((float(x), float(y)) for x, y in np.unique(corners, axis=0))
            middles = [g.representative_point() for g in shapely.get_parts(allowed)]
            found.extend((m.x, m.y) for m in middles if not m.is_empty)
    found.sort()
    return found[:40]


def shifts_within(part: Polygon, outline: Polygon) -> shapely.Geometry:
    """All shifts at which an outline lies in a region (its own windows do not matter)."""
    points = shapely.get_coordinates(outline.exterior)
    x0, y0, x1, y1 = outline.bounds
    px0, py0, px1, py1 = part.bounds
    # a shift must keep the outline's box within the part's box and its first corner in the part
    window = shapely.box(px0 - x0, py0 - y0, px1 - x1, py1 - y1)
    edges = np.vstack(
        [_segments(shapely.get_coordinates(r)) for r in (part.exterior, *part.interiors)]
    )
    swept = shapely.union_all(_sweeps(edges, points))
    start = shapely.transform(part, lambda c: c - points[0])
    return start.intersection(window).difference(swept)


def _sides(part: Polygon) -> int:
    """How many edges the rings of a region have."""
    return sum(len(ring.coords) - 1 for ring in (part.exterior, *part.interiors))


def _segments(ring: Array) -> Array:
    return np.hstack([ring[:-1], ring[1:]])


def _sweeps(edges: Array, outline: Array) -> list[shapely.Geometry]:
    """For every rim edge a-b and outline edge p-q the shifts that make them cross."""
    a, b = edges[:, None, :2], edges[:, None, 2:]
    p, q = outline[None, :-1], outline[None, 1:]
    quads = np.stack([a - p, a - q, b - q, b - p, a - p], axis=2).reshape(-1, 5, 2)
    x, y = quads[:, :, 0], quads[:, :, 1]
    area = np.abs(np.sum(x[:, :-1] * y[:, 1:] - x[:, 1:] * y[:, :-1], axis=1)) / 2.0
    polygons = shapely.polygons(quads[area > 1e-12])
    return list(polygons)
