"""Which closed lines lie inside which, and where lines cross."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, without
from studio.core.reading.tracing import Line, Point

from .meetings import meetings

_REAL_CROSSING_MM = 0.005  # thinner overlaps come from rounding; the lines only touch
_MOST_POINTS = 5
_MOST_LOOKS = 200_000
_MOST_RELATED = 3_000  # pairs of lines; more are a scribble whose first ones are told


@dataclass(frozen=True, slots=True)
class Enclosing:
    """`inside[i]` are the ids of the lines around line i; `crossing` are pairs of ids.

    `areas` are the filled lines, repaired where a line crosses itself; those are in `tangled`
    with the points at which they do.
    """

    areas: dict[str, BaseGeometry]
    inside: dict[str, frozenset[str]]
    crossing: tuple[tuple[str, str, Point], ...]
    tangled: dict[str, tuple[Point, ...]]


def enclose(lines: list[Line]) -> Enclosing:
    """For closed lines of at least three points, met no more than `MAX_CROSSINGS` times."""
    if not lines:
        return Enclosing({}, {}, (), {})
    areas: dict[str, BaseGeometry] = {}
    tangled: dict[str, tuple[Point, ...]] = {}
    for line in lines:
        area: BaseGeometry = line.polygon
        if not area.is_valid:
            tangled[line.id] = self_crossings(line)
            area = shapely.make_valid(Polygon(line.points), method="structure")
        areas[line.id] = area
    ids = list(areas)
    inside: dict[str, set[str]] = {each: set() for each in ids}
    crossing: list[tuple[str, str, Point]] = []
    pairs = meetings([np.asarray(line.points) for line in lines], [True] * len(lines))
    meet = {(min(pair), max(pair)) for pair in pairs.tolist() if pair[0] != pair[1]}
    # Lines that meet nowhere lie wholly inside or wholly outside each other: one point tells.
    shapes = [areas[each] for each in ids]
    corners: Any = shapely.points([line.points[0] for line in lines])
    for one, other in shapely.STRtree(shapes).query(corners, "within").T:
        pair = min(one, other), max(one, other)
        smaller = shapes[one].area <= shapes[other].area
        if one != other and smaller and pair not in meet:
            inside[ids[one]].add(ids[other])
    for a, b in sorted(meet)[:_MOST_RELATED]:
        _relate(ids[a], ids[b], areas, inside, crossing)
    return Enclosing(
        areas,
        {each: frozenset(around) for each, around in inside.items()},
        tuple(crossing),
        tangled,
    )


def _relate(
    one: str,
    other: str,
    areas: dict[str, BaseGeometry],
    inside: dict[str, set[str]],
    crossing: list[tuple[str, str, Point]],
) -> None:
    """Whether two lines that meet touch from outside, from inside, or cross."""
    small, large = sorted((one, other), key=lambda each: float(areas[each].area))
    shared = common(areas[small], areas[large])
    rest = without(areas[small], areas[large])
    if shared.buffer(-_REAL_CROSSING_MM).is_empty:
        return  # side by side, touching
    if rest.buffer(-_REAL_CROSSING_MM).is_empty:
        inside[small].add(large)
        return
    meeting = areas[small].boundary.intersection(areas[large].boundary)
    if meeting.is_empty:
        meeting = shared
    spot = shapely.get_point(shapely.extract_unique_points(meeting), 0)
    point = spot if spot is not None else meeting.representative_point()
    crossing.append((small, large, (float(point.x), float(point.y))))


def self_crossings(line: Line) -> tuple[Point, ...]:
    """Up to five points at which a closed line crosses or touches itself."""
    points = np.asarray(line.points)
    after = np.roll(points, -1, axis=0)
    sides: Any = shapely.linestrings(np.stack((points, after), axis=1))
    tree = shapely.STRtree(sides)
    count = len(points)
    looked = 0
    result: list[Point] = []
    for index in range(count):
        for other in tree.query(sides[index], "intersects"):
            looked += 1
            if other <= index or looked > _MOST_LOOKS:
                continue
            neighbours = other - index == 1 or (index == 0 and other == count - 1)
            if neighbours and not sides[index].covers(sides[other].centroid):
                continue  # they only share their common corner
            meeting = sides[index].intersection(sides[other])
            if neighbours and not meeting.length:
                continue
            spot = meeting.interpolate(0.5, normalized=True) if meeting.length else meeting
            spot = spot.representative_point()
            point = float(spot.x), float(spot.y)
            if all(abs(point[0] - x) + abs(point[1] - y) > 0.01 for x, y in result):
                result.append(point)
            if len(result) >= _MOST_POINTS:
                return tuple(result)
    return tuple(result)
