"""A stock piece is parted cut after cut: what lies before each, and where its line ends.

Pure: millimetres in the stock piece's own place, y upwards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
import shapely.ops
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from studio.core.cutting import Cut, Job, Plan
from studio.core.verifying import parts_of

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stage:
    """One cut through one part: `ends` are the outermost points of its line on the part's outline.

    `pieces` lie in the part, `blanks` are the groups whose blanks come out of it, each with a spot
    within the blank; `makes` are the two numbers of the parts that it makes.
    """

    number: int
    part: int
    outline: Polygon | MultiPolygon
    ends: tuple[Spot, Spot]
    pieces: tuple[Polygon, ...]
    blanks: tuple[tuple[str, Spot], ...]
    makes: tuple[int, int]

    @property
    def length_mm(self) -> float:
        return math.dist(*self.ends)


def stages(job: Job, plan: Plan, metal: str) -> tuple[Stage, ...]:
    """The cuts of one stock piece in the order of cutting."""
    cuts = [cut for cut in plan.cuts if cut.metal == metal]
    laid = [
        placed.lay(job.wanted_by_id[placed.piece].outline)
        for placed in plan.placements
        if placed.metal == metal
    ]
    blanks = [
        (blank.group or "", blank.outline.representative_point())
        for blank in plan.blanks
        if blank.metal == metal
    ]
    found = []
    for number, cut in enumerate(cuts):
        part = parts_of(job, metal, cuts[:number])[cut.part]
        shapely.prepare(part)
        found.append(
            Stage(
                number + 1,
                cut.part,
                part,
                _ends(part, cut),
                tuple(one for one in laid if part.contains(one.representative_point())),
                tuple((group, (at.x, at.y)) for group, at in blanks if part.contains(at)),
                (2 * number + 1, 2 * number + 2),
            )
        )
    return tuple(found)


def _ends(part: Polygon | MultiPolygon, cut: Cut) -> tuple[Spot, Spot]:
    """Where the cut's straight line meets the part's outline first and last, from start to end."""
    (x0, y0), (x1, y1) = cut.start, cut.end
    length = math.dist(cut.start, cut.end)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    far = sum(map(abs, part.bounds)) + abs(x0) + abs(y0) + length
    line = LineString([(x0 - far * ux, y0 - far * uy), (x1 + far * ux, y1 + far * uy)])
    met = shapely.get_coordinates(line.intersection(part))
    along = sorted((float((x - x0) * ux + (y - y0) * uy), float(x), float(y)) for x, y in met)
    if len(along) < 2:  # it only touches the part: the judge lets no such cut through
        return cut.start, cut.end
    return along[0][1:], along[-1][1:]


@dataclass(frozen=True, slots=True)
class FromCorner:
    """How far an end lies from a corner, along the outline. `corner` names where the corner lies in
    the part by `left`/`right` and `lower`/`upper`; `way` is the stretch from there to the end."""

    length_mm: float
    corner: Spot
    corner_name: str
    way: LineString


def from_corner(part: Polygon | MultiPolygon, end: Spot) -> FromCorner:
    """The end's distance from the nearer of the two corners between which it lies.

    A corner is where the outline turns by more than 10 degrees; an outline without any is measured
    from its lowest point.
    """
    ring = _ring_at(part, end)
    corners = _corners(ring)
    there = Point(end)
    at = ring.project(there)
    whole = ring.length
    best: tuple[float, Spot, float, float] | None = None
    for corner in corners:
        spot = ring.project(Point(corner))
        for start, stop in ((spot, at), (at, spot)):
            run = (stop - start) % whole
            if best is None or run < best[0] - 1e-9:
                best = run, corner, start, stop
    assert best is not None
    run, corner, start, stop = best
    way = _stretch(ring, start, stop)
    return FromCorner(run, corner, _corner_name(part, corner), way)


def _ring_at(part: Polygon | MultiPolygon, end: Spot) -> LineString:
    areas = part.geoms if isinstance(part, MultiPolygon) else [part]
    rings = [ring for area in areas for ring in (area.exterior, *area.interiors)]
    nearest = min(rings, key=lambda ring: ring.distance(Point(end)))
    return LineString(nearest.coords)


_CORNER_DEG = 10.0


def _corners(ring: LineString) -> list[Spot]:
    points = [(float(x), float(y)) for x, y, *_ in ring.coords[:-1]]
    found = []
    for before, here, after in zip(
        points[-1:] + points[:-1], points, points[1:] + points[:1], strict=True
    ):
        one = math.atan2(here[1] - before[1], here[0] - before[0])
        other = math.atan2(after[1] - here[1], after[0] - here[0])
        turn = abs((math.degrees(other - one) + 180.0) % 360.0 - 180.0)
        if turn > _CORNER_DEG:
            found.append(here)
    return found or [min(points, key=lambda point: point[1])]


def _stretch(ring: LineString, start: float, stop: float) -> LineString:
    if start <= stop:
        cut = shapely.ops.substring(ring, start, stop)
        return cut if isinstance(cut, LineString) else LineString([cut, cut])
    one = shapely.ops.substring(ring, start, ring.length)
    other = shapely.ops.substring(ring, 0.0, stop)
    return LineString([*one.coords, *other.coords])


def _corner_name(part: Polygon | MultiPolygon, corner: Spot) -> str:
    x0, y0, x1, y1 = part.bounds
    side = "left" if corner[0] <= (x0 + x1) / 2.0 else "right"
    height = "lower" if corner[1] <= (y0 + y1) / 2.0 else "upper"
    return f"{height} {side}"
