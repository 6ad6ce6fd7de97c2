"""From geometry on the metal to paths of a picture: y turned downwards, origin upper left."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.cutting import Placement


class Flip:
    """From the metal's millimetres, y up, to the picture's, y down, origin upper left.

    `plain_mm` leaves vertices out as long as no line moves further than that.
    """

    def __init__(self, left: float, top: float, plain_mm: float = 0.0) -> None:
        self.left, self.top, self.plain_mm = left, top, plain_mm

    def point(self, at: Point) -> tuple[float, float]:
        return round(at.x - self.left, 2), round(self.top - at.y, 2)

    def shape(self, geometry: BaseGeometry) -> BaseGeometry:
        """A shape as the picture has it, to measure in."""
        return affinity.affine_transform(geometry, (1, 0, 0, -1, -self.left, self.top))

    def path(self, polygons: Iterable[Polygon]) -> str:
        if self.plain_mm:
            polygons = [part for p in polygons for part in polygons_of(p.simplify(self.plain_mm))]
        rings = [ring for p in polygons for ring in (p.exterior, *p.interiors)]
        return "".join(f"M{self._run(ring.coords[:-1])}Z" for ring in rings)

    def lines(self, lines: Iterable[LineString]) -> str:
        return "".join(f"M{self._run(line.coords)}" for line in lines)

    def _run(self, coords: Iterable[tuple[float, ...]]) -> str:
        return "L".join(numbers(x - self.left, self.top - y) for x, y, *_ in coords)


def lay_point(placement: Placement, point: Point) -> Point:
    """Where a point of a piece comes to lie on the metal."""
    moved = _lay(placement, point)
    assert isinstance(moved, Point)
    return moved


def lay_line(placement: Placement, line: LineString) -> LineString:
    moved = _lay(placement, line)
    assert isinstance(moved, LineString)
    return moved


def _lay(placement: Placement, thing: shapely.Geometry) -> shapely.Geometry:
    if placement.mirror:
        thing = affinity.scale(thing, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
    turned = affinity.rotate(thing, placement.turn_deg, origin=(0.0, 0.0))
    return affinity.translate(turned, placement.x_mm, placement.y_mm)


def polygons_of(geometry: shapely.Geometry) -> list[Polygon]:
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    if isinstance(geometry, MultiPolygon):
        return list(geometry.geoms)
    return [p for part in getattr(geometry, "geoms", ()) for p in polygons_of(part)]


def numbers(*values: float) -> str:
    return " ".join(f"{value:.2f}".rstrip("0").rstrip(".") or "0" for value in values)
