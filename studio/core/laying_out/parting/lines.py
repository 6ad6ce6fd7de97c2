"""A straight line through a part: where it runs in it, and how far from the part's edges."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]

BEYOND_MM: Final = 10.0
"""A line is drawn so far beyond what it goes through, to be sure that it goes through."""
LEAST_MM: Final = 1e-6
THIN_MM: Final = 1e-3
PLACES: Final = 6


@dataclass(frozen=True, slots=True)
class Line:
    """A directed line through `at`; its `left` looks to its left."""

    at: Point
    turn_deg: float

    @classmethod
    def between(cls, start: Point, end: Point) -> Line:
        """Raises ValueError where the two are one point."""
        dx, dy = end[0] - start[0], end[1] - start[1]
        if math.hypot(dx, dy) < LEAST_MM:
            raise ValueError("a cut runs from one place to another")
        return cls(start, math.degrees(math.atan2(dy, dx)))

    @property
    def way(self) -> Point:
        return _unit(self.turn_deg)

    @property
    def left(self) -> Point:
        x, y = self.way
        return -y, x

    def off(self, point: Point) -> float:
        """How far a point lies to the left of it; to the right is less than nothing."""
        x, y = self.left
        return (point[0] - self.at[0]) * x + (point[1] - self.at[1]) * y

    def shifted(self, mm: float) -> Line:
        """The same line so far to its left."""
        x, y = self.left
        return Line((self.at[0] + mm * x, self.at[1] + mm * y), self.turn_deg)

    def turned(self, deg: float, about: Point) -> Line:
        return Line(about, (self.turn_deg + deg) % 360.0)

    def side(self, box: tuple[float, float, float, float], *, left: bool) -> Polygon:
        """The half of the plane on that side of it, as far as a box around everything reaches."""
        x0, y0, x1, y1 = box
        far = math.hypot(x1 - x0, y1 - y0) + BEYOND_MM
        to = math.hypot((x0 + x1) / 2 - self.at[0], (y0 + y1) / 2 - self.at[1]) + far
        (wx, wy), (nx, ny) = self.way, self.left
        sign = 1.0 if left else -1.0
        ends = [(self.at[0] + s * to * wx, self.at[1] + s * to * wy) for s in (-1.0, 1.0)]
        deep = sign * 2 * to
        return Polygon(
            [ends[0], ends[1], *((x + deep * nx, y + deep * ny) for x, y in reversed(ends))]
        )


def along(line: Line, shape: BaseGeometry, half_mm: float = 0.0) -> tuple[Point, Point] | None:
    """Where the line enters the shape first and leaves it last; None where it misses it, or leaves
    nothing on one of its sides, when `half_mm` of either is sawn away."""
    runs = runs_in(line, shape)
    right, left = spread(line, shape)
    if not runs or min(-right, left) < half_mm + THIN_MM:
        return None
    return runs[0][0], runs[-1][1]


def runs_in(line: Line, shape: BaseGeometry) -> list[tuple[Point, Point]]:
    """The stretches of the line inside the shape, in its own way."""
    if shape.is_empty:
        return []
    x0, y0, x1, y1 = shape.bounds
    mid = ((x0 + x1) / 2, (y0 + y1) / 2)
    far = math.hypot(x1 - x0, y1 - y0) + math.dist(mid, line.at) + BEYOND_MM
    wx, wy = line.way
    whole = LineString(
        [
            (line.at[0] - far * wx, line.at[1] - far * wy),
            (line.at[0] + far * wx, line.at[1] + far * wy),
        ]
    )
    found = []
    for part in shapely.get_parts(shape.intersection(whole)):
        if not isinstance(part, LineString) or part.length < LEAST_MM:
            continue
        first, last = part.coords[0], part.coords[-1]
        ends = [(round(x, PLACES), round(y, PLACES)) for x, y in (first, last)]
        ends.sort(key=lambda at: at[0] * wx + at[1] * wy)
        found.append((ends[0], ends[1]))
    found.sort(key=lambda run: run[0][0] * wx + run[0][1] * wy)
    return found


def spread(line: Line, shape: BaseGeometry) -> tuple[float, float]:
    """How far the shape reaches to the right of the line and to its left; mm, the first mostly
    less than nothing."""
    offs = [line.off((x, y)) for x, y in shapely.get_coordinates(shape)]
    return (min(offs), max(offs)) if offs else (0.0, 0.0)


def _unit(deg: float) -> Point:
    quarters = (deg / 90.0) % 4.0
    if quarters.is_integer():
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters)]
    return math.cos(math.radians(deg)), math.sin(math.radians(deg))
