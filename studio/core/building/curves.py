"""Points on curves, near enough for a saw, and rounding of corners.

Each curve keeps within `TOLERANCE_MM` of the true one; together with what rounding and tidying
add, a built outline stays within the 0.02 mm of `FLATTENING_TOLERANCE_MM`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import without

TOLERANCE_MM: Final = 0.007
THIN_MM: Final = 0.002  # points that lie this near the line without them are left out
CRUMB_MM2: Final = 0.05  # what is smaller comes from rounding

Point = tuple[float, float]


def parts_in(radius: float, sweep_rad: float) -> int:
    """How many chords keep within the tolerance of an arc."""
    if radius <= TOLERANCE_MM:
        return 4
    step = 2.0 * math.acos(1.0 - TOLERANCE_MM / radius)
    return max(4, math.ceil(abs(sweep_rad) / step))


def arc(centre: Point, radius: float, start_rad: float, sweep_rad: float) -> list[Point]:
    """Points on the arc, both ends included."""
    count = parts_in(radius, sweep_rad)
    return [
        (
            centre[0] + radius * math.cos(start_rad + sweep_rad * k / count),
            centre[1] + radius * math.sin(start_rad + sweep_rad * k / count),
        )
        for k in range(count + 1)
    ]


def bent(one: Point, other: Point, deflection_rad: float) -> list[Point]:
    """An arc from one point to another that leaves the chord by this angle to its right."""
    if abs(deflection_rad) < 1e-9:
        return [one, other]
    chord = math.dist(one, other)
    radius = chord / (2.0 * math.sin(abs(deflection_rad)))
    count = parts_in(radius, 2.0 * deflection_rad)
    along = ((other[0] - one[0]) / chord, (other[1] - one[1]) / chord)
    right = (along[1], -along[0])
    sign = math.copysign(1.0, deflection_rad)
    deep = radius * math.cos(deflection_rad)
    points = [one]
    for k in range(1, count):
        angle = abs(deflection_rad) * (2.0 * k / count - 1.0)
        run = chord / 2.0 + radius * math.sin(angle)
        off = sign * (radius * math.cos(angle) - deep)
        points.append(
            (
                one[0] + along[0] * run + right[0] * off,
                one[1] + along[1] * run + right[1] * off,
            )
        )
    points.append(other)
    return points


def polygons(shape: BaseGeometry) -> Iterator[Polygon]:
    """The areas in any geometry; crumbs and windows as small as crumbs are left out."""
    if isinstance(shape, Polygon):
        if shape.area > CRUMB_MM2:
            windows = [ring for ring in shape.interiors if Polygon(ring).area > CRUMB_MM2]
            some = len(windows) < len(shape.interiors)
            yield Polygon(shape.exterior, windows) if some else shape
    elif not shape.is_empty and hasattr(shape, "geoms"):
        for each in shape.geoms:
            yield from polygons(each)


def areas(shape: BaseGeometry) -> MultiPolygon:
    return MultiPolygon(list(polygons(shape)))


def moved_out(shape: BaseGeometry, by: float) -> BaseGeometry:
    """The shape grown by `by` millimetres, or shrunk when it is negative; corners go round."""
    quarter = math.ceil(parts_in(abs(by), math.pi / 2))
    return shape.buffer(by, quad_segs=max(4, quarter))


def rounded(shape: BaseGeometry, outside: float, inside: float) -> MultiPolygon:
    """Corners that stick out get the one radius, corners that go in the other.

    What is narrower than twice the outside radius goes away, as a grinding wheel would have it.
    """
    if outside > 0:
        shape = moved_out(moved_out(shape, -outside), outside)
    if inside > 0:
        shape = moved_out(moved_out(shape, inside), -inside)
    return areas(shape.simplify(THIN_MM) if outside > 0 or inside > 0 else shape)


def framed(shape: BaseGeometry, width: float) -> MultiPolygon:
    """What is left when everything further than `width` from the rim is taken out."""
    return areas(without(shape, moved_out(shape, -width)))


def corners_of(shape: BaseGeometry) -> int:
    return int(shapely.get_num_coordinates(shape))
