"""Where do the numbers of edges stand, and which edge is meant where a finger comes down? Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, Polygon

from .edges import Edge

AROUND: Final = 24
TURNS: Final = tuple(
    math.tau * step / AROUND
    for step in sorted(range(AROUND), key=lambda step: min(step, AROUND - step))
)
"""Straight into the metal first, then more and more aside."""
RINGS: Final = 12
OFF_EDGE: Final = 0.9
"""From an edge to the middle of a number, in the height of its letters."""
SAMPLES: Final = 300
"""Points on all edges together, by which the nearest is found."""


@dataclass(frozen=True, slots=True)
class EdgeMark:
    """The middle of an edge's number, and where on the edge it belongs; millimetres."""

    x: float
    y: float
    at: tuple[float, float]
    is_led: bool

    @property
    def lead(self) -> tuple[tuple[float, float], tuple[float, float]]:
        return self.at, (self.x, self.y)


def edge_marks(
    outline: Polygon | MultiPolygon, edges: Sequence[Edge], letters: float, within: Polygon
) -> list[EdgeMark]:
    """A place for the number of each edge, nearest to its middle and rather on the metal: on no
    edge and no other number. One that stands further away is led to its edge by a line."""
    rim = outline.boundary
    shapely.prepare(rim)
    standing: list[tuple[float, float, float]] = []
    marks: dict[int, EdgeMark] = {}
    # Those of long edges have room anywhere: the short ones choose first.
    for number in sorted(range(len(edges)), key=lambda i: edges[i].length_mm):
        longest = max(edges[number].lines, key=lambda line: line.length)
        at, inward = _middle(longest)
        half = letters * (0.36 if number < 9 else 0.68)
        chosen = None
        for ring in range(RINGS):
            far = letters * (OFF_EDGE + 0.5 * ring) + (half - 0.36 * letters)
            spots = [
                (at[0] + far * math.cos(inward + turn), at[1] + far * math.sin(inward + turn))
                for turn in TURNS
            ]
            points = shapely.points(spots)
            free = shapely.dwithin(rim, points, 0.6 * letters + half - 0.36 * letters)
            free = ~free & shapely.covers(within.buffer(-half), points)
            for turn, spot, is_free in zip(TURNS, spots, free.tolist(), strict=True):
                apart = all(
                    math.hypot((spot[0] - x) / (half + other), (spot[1] - y) / letters) >= 1.0
                    for x, y, other in standing
                )
                if is_free and apart:
                    chosen = spot, ring > 0 or math.cos(turn) < 0.6
                    break
            if chosen:
                break
        (x, y), is_led = chosen or (at, False)
        standing.append((x, y, half))
        marks[number] = EdgeMark(x, y, at, is_led)
    return [marks[number] for number in range(len(edges))]


def _middle(line: LineString) -> tuple[tuple[float, float], float]:
    """The middle of an edge and the direction into the metal, which lies on its left."""
    at, before, after = (
        line.interpolate(part, normalized=True).coords[0] for part in (0.5, 0.49, 0.51)
    )
    return (at[0], at[1]), math.atan2(after[0] - before[0], before[1] - after[1])


def nearest_to(edges: Sequence[Edge], within: Polygon) -> list[list[Polygon]]:
    """For each edge what is nearer to it than to any other, in cells."""
    step = max(sum(edge.length_mm for edge in edges) / SAMPLES, 1e-3)
    spots: dict[tuple[float, float], int] = {}
    for number, edge in enumerate(edges):
        for line in edge.lines:
            count = max(1, math.ceil(line.length / step))
            # Off both ends by as much: where two edges meet, the border runs between them.
            parts = (np.arange(count) + 0.5) / count
            for point in shapely.line_interpolate_point(line, parts, normalized=True):
                spots.setdefault((round(point.x, 4), round(point.y, 4)), number)
    if len(spots) < 2:
        return [[within] for _ in edges]
    cells: list[list[Polygon]] = [[] for _ in edges]
    tree = shapely.STRtree([Point(spot) for spot in spots])
    numbers = list(spots.values())
    for cell in shapely.voronoi_polygons(MultiPoint(list(spots)), extend_to=within).geoms:
        # Where points lie on one circle, GEOS may leave a cell empty: nothing is met there.
        if isinstance(cell, Polygon):
            for own in tree.query(cell, predicate="contains")[:1]:
                cells[numbers[int(own)]].append(cell)
    return cells
