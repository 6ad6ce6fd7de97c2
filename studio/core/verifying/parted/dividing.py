"""One part of a stock piece divided by one straight cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common
from studio.core.cutting.job import Cut
from studio.core.verifying.fault import thin

Array = npt.NDArray[np.float64]
Metal = Polygon | MultiPolygon

ENDS_MM = 0.01
"""A cut may end so far short of the edge, as its ends are written to so much."""

ON_LINE_MM = 1e-5  # nearer corners lie on the cut
_BEYOND_MM = 10.0


@dataclass(frozen=True, slots=True)
class Divided:
    """What a cut makes of a part. `stretches` are where it runs through metal: for each connected
    part of the metal the line's stretches in it, in the direction of the cut. `edge_lines` are
    the lines on which the edges of the left and of the right side lie."""

    left: Metal
    right: Metal
    stretches: tuple[tuple[Polygon, tuple[LineString, ...]], ...]
    edge_lines: tuple[LineString, LineString]

    @property
    def length_mm(self) -> float:
        return float(sum(line.length for _, lines in self.stretches for line in lines))


def divided(part: Metal, cut: Cut, kerf_mm: float, *, saw: bool) -> Divided | str:
    """Both sides of a cut through a part, or in words why it does not go through.

    The cut runs from edge to edge: none of the part may lie on its line beyond its ends (by more
    than `ENDS_MM`), and both sides get metal. A saw takes half the kerf of either side.
    """
    ends = np.array([cut.start, cut.end], dtype=float)
    if not np.isfinite(ends).all() or math.dist(*ends) < ENDS_MM:
        return "its two ends are one point"
    length = math.dist(*ends)
    way = (ends[1] - ends[0]) / length
    stretches = [
        (polygon, spans)
        for polygon in _met(part, ends[0], way)
        if (spans := _spans_in(polygon, ends[0], way, along_edges=saw))
    ]
    if not stretches:
        return "it misses the part"
    first = min(spans[0][0] for _, spans in stretches)
    last = max(spans[-1][1] for _, spans in stretches)
    short = max(-first, last - length)
    if short > ENDS_MM:
        return f"it stops {short:.2f} mm short of the part's edge"
    left, left_line = _side(part, ends[0], way, kerf_mm / 2.0 if saw else 0.0, 1.0)
    right, right_line = _side(part, ends[0], way, kerf_mm / 2.0 if saw else 0.0, -1.0)
    if left.is_empty or right.is_empty:
        return "it leaves no metal on one of its sides"
    lines = tuple(
        (polygon, tuple(_line(ends[0], way, *span) for span in spans))
        for polygon, spans in stretches
    )
    return Divided(left, right, lines, (left_line, right_line))


def polygons_in(geometry: BaseGeometry) -> list[Polygon]:
    """The connected parts of what has area; lines and points are left out."""
    return [
        part
        for each in shapely.get_parts(geometry)
        for part in ([each] if isinstance(each, Polygon) else shapely.get_parts(each))
        if isinstance(part, Polygon) and not part.is_empty
    ]


def _met(part: Metal, start: Array, way: Array) -> list[Polygon]:
    """The connected parts that a line comes near."""
    along = (shapely.get_coordinates(part) - start) @ way
    line = _line(start, way, along.min() - _BEYOND_MM, along.max() + _BEYOND_MM)
    shapely.prepare(line)
    polygons = polygons_in(part)
    near = shapely.dwithin(line, polygons, 2.0 * ON_LINE_MM).tolist()
    return [one for one, is_near in zip(polygons, near, strict=True) if is_near]


def _line(start: Array, way: Array, begin: float, end: float) -> LineString:
    return LineString([start + begin * way, start + end * way])


def _spans_in(
    polygon: Polygon, start: Array, way: Array, *, along_edges: bool
) -> list[tuple[float, float]]:
    """From where to where a line runs through an outline, in mm from `start`.

    Where it runs along an edge there is metal on one side only: a saw takes half a kerf of that,
    a shear cuts nothing there.
    """
    at: list[float] = []
    for ring in (polygon.exterior, *polygon.interiors):
        corners = shapely.get_coordinates(ring) - start
        across = way[0] * corners[:, 1] - way[1] * corners[:, 0]
        along = corners @ way
        across[np.abs(across) < ON_LINE_MM] = 0.0
        at.extend(along[across == 0.0].tolist())
        crosses = np.flatnonzero(across[:-1] * across[1:] < 0.0)
        share = across[crosses] / (across[crosses] - across[crosses + 1])
        at.extend((along[crosses] + share * (along[crosses + 1] - along[crosses])).tolist())
    if len(at) < 2:
        return []
    marks = np.unique(at)
    middles = start + ((marks[:-1] + marks[1:]) / 2.0)[:, None] * way
    points, rim = shapely.points(middles), polygon.boundary
    shapely.prepare([polygon, rim])
    inside = np.asarray(shapely.intersects(polygon, points))
    on_edge = np.asarray(shapely.dwithin(rim, points, ON_LINE_MM))
    inside = inside | on_edge if along_edges else inside & ~on_edge
    inside &= np.diff(marks) > ON_LINE_MM
    spans: list[tuple[float, float]] = []
    for k in np.flatnonzero(inside).tolist():
        begin, end = float(marks[k]), float(marks[k + 1])
        if spans and begin - spans[-1][1] <= ON_LINE_MM:
            begin = spans.pop()[0]
        spans.append((begin, end))
    return spans


def _side(
    part: Metal, start: Array, way: Array, aside_mm: float, side: float
) -> tuple[Metal, LineString]:
    """What lies on one side of a line (1 left, −1 right), and the line of its new edge."""
    corners = shapely.get_coordinates(part) - start
    along = corners @ way
    normal = side * np.array([-way[1], way[0]])
    deep = max(float((corners @ normal).max()), 0.0) + _BEYOND_MM
    edge = start + aside_mm * normal
    one, other = (
        edge + (at + beyond) * way
        for at, beyond in ((along.min(), -_BEYOND_MM), (along.max(), _BEYOND_MM))
    )
    half = Polygon([one, other, other + deep * normal, one + deep * normal])
    found = [p for p in polygons_in(common(part, half)) if not thin(p)]
    metal = found[0] if len(found) == 1 else MultiPolygon(found)
    return metal, LineString([one, other])
