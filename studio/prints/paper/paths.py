"""Geometry as SVG path text: from the drawing's millimetres, y up, to the paper's, y down.

Only straight lines are written. Curves of the PDF library are off by up to 0.6 % of the radius;
our polylines are within 0.02 mm of the true curve, and what is written is to a micrometre.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon

ROUND_TOLERANCE_MM = 0.005


def num(value: float) -> str:
    """A number for an attribute: a micrometre, no exponent, no trailing zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def factor(value: float) -> str:
    """A scale for an attribute: a thousandth of it would already be seen on a 100 mm bar."""
    return f"{value:.9f}".rstrip("0").rstrip(".")


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a drawing lies on the page.

    The drawing's point (`left`, `top`) comes to lie at (`x`, `y`) of the picture; `scale` is 1
    for true size.
    """

    left: float
    top: float
    x: float = 0.0
    y: float = 0.0
    scale: float = 1.0

    def xy(self, x: float, y: float) -> tuple[float, float]:
        return self.x + (x - self.left) * self.scale, self.y + (self.top - y) * self.scale

    def back(self, x: float, y: float) -> Point:
        """The drawing's point that comes to lie there."""
        return Point(self.left + (x - self.x) / self.scale, self.top - (y - self.y) / self.scale)

    def at(self, point: Point) -> tuple[str, str]:
        x, y = self.xy(point.x, point.y)
        return num(x), num(y)

    def path(self, *shapes: Polygon | MultiPolygon) -> str:
        """Shells and windows, for the even-odd rule."""
        rings = [
            ring
            for shape in shapes
            for part in _parts(shape)
            for ring in (part.exterior, *part.interiors)
        ]
        return "".join(f"M{self._run(ring.coords[:-1])}Z" for ring in rings)

    def windows(self, *shapes: Polygon) -> str:
        """The windows alone."""
        rings = [ring for shape in shapes for ring in shape.interiors]
        return "".join(f"M{self._run(ring.coords[:-1])}Z" for ring in rings)

    def lines(self, *shapes: LineString | MultiLineString) -> str:
        lines = [
            line
            for shape in shapes
            for line in (shape.geoms if isinstance(shape, MultiLineString) else [shape])
        ]
        return "".join(f"M{self._run(line.coords)}" for line in lines if not line.is_empty)

    def round(self, centre: Point, diameter: float) -> str:
        """A round hole as a many-sided polygon."""
        radius = diameter / 2
        x, y = self.xy(centre.x, centre.y)
        sides = max(16, math.ceil(math.pi / math.acos(max(0.0, 1 - ROUND_TOLERANCE_MM / radius))))
        points = (
            (
                x + radius * self.scale * math.cos(math.tau * k / sides),
                y + radius * self.scale * math.sin(math.tau * k / sides),
            )
            for k in range(sides)
        )
        return f"M{'L'.join(f'{num(px)} {num(py)}' for px, py in points)}Z"

    def cross(self, centre: Point, arm: float) -> str:
        """A cross whose arms have this length on the paper."""
        x, y = self.xy(centre.x, centre.y)
        return f"M{num(x - arm)} {num(y)}H{num(x + arm)}M{num(x)} {num(y - arm)}V{num(y + arm)}"

    def _run(self, coords: Iterable[tuple[float, ...]]) -> str:
        points = (self.xy(x, y) for x, y, *_ in coords)
        return "L".join(f"{num(x)} {num(y)}" for x, y in points)


def _parts(shape: Polygon | MultiPolygon) -> list[Polygon]:
    if isinstance(shape, MultiPolygon):
        return list(shape.geoms)
    return [] if shape.is_empty else [shape]
