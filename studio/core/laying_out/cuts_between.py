"""Straight cuts that part what lies on a stock piece, one part for each group; no long search.

A cut that goes between groups never keeps a later one from going between others, as long as it
runs clear of all of them: what can be parted at all, can be parted on either side of it. So the
first cut that goes is taken. Bounds of shear and saw frame, and narrow parts, can make that wrong;
the judge has the last word, and says no rather than yes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.cutting import Cut, Job, Parting, Placement

Points = NDArray[np.float64]
MOST_DIRECTIONS: Final = 60
SAME_DEG: Final = 0.05
FAR: Final = 1e4
LOOKED_AT: Final = 33
"""Points of a saw cut whose distance from the rim is looked at."""
SLACK_MM: Final = 1e-6


def cuts_between(job: Job, placements: Sequence[Placement]) -> tuple[Cut, ...] | None:
    """Cuts that give every group on each stock piece a part of its own; None where none do.

    Only as far as cuts go: whether pieces lie well, the judge says. The job has `parting`.
    """
    assert job.parting is not None
    lies: dict[str, dict[str | None, list[BaseGeometry]]] = {}
    for placed in placements:
        wanted = job.wanted_by_id[placed.piece]
        groups = lies.setdefault(placed.metal, {})
        groups.setdefault(wanted.group, []).append(placed.lay(wanted.outline))
    cuts: list[Cut] = []
    for metal, groups in lies.items():
        work = _Work(metal, job.parting, job.kerf_mm / 2 if job.parting.way == "saw" else 0.0)
        points = {
            group: np.vstack([shapely.get_coordinates(outline) for outline in outlines])
            for group, outlines in groups.items()
        }
        if not work.part(0, job.stock_by_id[metal].outline, points):
            return None
        cuts += work.cuts
    return tuple(cuts)


@dataclass(slots=True)
class _Work:
    metal: str
    parting: Parting
    half_kerf_mm: float
    cuts: list[Cut] = field(default_factory=list)

    def part(self, number: int, shape: BaseGeometry, groups: Mapping[str | None, Points]) -> bool:
        """Cut this part until each group has one; whether that could be done."""
        if len(groups) < 2:
            return True
        for angle in _directions(shape, groups.values()):
            along = np.array([math.cos(angle), math.sin(angle)])
            across = np.array([-along[1], along[0]])  # to the left of the direction
            for at, right in self._gaps(groups, across):
                found = self._cut(shape, along, across, at)
                if found is None:
                    continue
                line, left_part, right_part = found
                self.cuts.append(Cut(self.metal, number, *line))
                first = 2 * len(self.cuts) - 1
                rest = {group: points for group, points in groups.items() if group not in right}
                own = {group: points for group, points in groups.items() if group in right}
                return self.part(first, left_part, rest) and self.part(first + 1, right_part, own)
        return False

    def _gaps(
        self, groups: Mapping[str | None, Points], across: Points
    ) -> Iterator[tuple[float, set[str | None]]]:
        """Where a cut in this direction runs clear, the widest gap first; who lies on its right."""
        clear = self.parting.margin_mm + self.half_kerf_mm
        spans = sorted(
            (
                (float((points @ across).min()), float((points @ across).max()), str(group), group)
                for group, points in groups.items()
            ),
            key=lambda span: span[:3],
        )
        gaps, reach, passed = [], spans[0][1], {spans[0][3]}
        for _before, after in pairwise(spans):
            low, high = reach + clear, after[0] - clear
            if high >= low - SLACK_MM:
                gaps.append((high - low, low, high, set(passed)))
            reach = max(reach, after[1])
            passed.add(after[3])
        for _, low, high, right in sorted(gaps, key=lambda gap: (-gap[0], gap[1])):
            for at in ((low + high) / 2, low, high):
                yield at, right

    def _cut(
        self, shape: BaseGeometry, along: Points, across: Points, at: float
    ) -> tuple[tuple[tuple[float, float], tuple[float, float]], BaseGeometry, BaseGeometry] | None:
        """The cut on this line and what lies on its left and right; None beyond tools and hands."""
        middle = across * at
        line = LineString([middle - FAR * along, middle + FAR * along]).intersection(shape)
        runs = shapely.get_coordinates(line) @ along
        if len(runs) < 2:
            return None
        start, end = (middle + float(run) * along for run in (runs.min(), runs.max()))
        longest, throat = self.parting.cut_longest_mm, self.parting.throat_mm
        if longest is not None and float(np.ptp(runs)) > longest + SLACK_MM:
            return None
        if throat is not None:
            spots = np.asarray(shapely.points(np.linspace(start, end, LOOKED_AT)))
            inside = spots[shapely.intersects(spots, shape)]
            if len(inside) and shapely.distance(inside, shape.boundary).max() > throat + SLACK_MM:
                return None
        sides = []
        for sign in (1.0, -1.0):
            near = middle + sign * self.half_kerf_mm * across
            corners = [near - FAR * along, near + FAR * along]
            far = [corner + sign * FAR * across for corner in reversed(corners)]
            side = shape.intersection(Polygon([*corners, *far]))
            if _width(side) < self.parting.strip_least_mm - SLACK_MM:
                return None
            sides.append(side)
        ends = ((float(start[0]), float(start[1])), (float(end[0]), float(end[1])))
        return ends, sides[0], sides[1]


def _directions(shape: BaseGeometry, groups: Iterable[Points]) -> list[float]:
    """Angles in radians: upright and level, along the rim, and along what lies there."""
    found = [0.0, math.pi / 2]
    lies = [MultiPoint(points).convex_hull for points in groups]
    for outline in (shape.convex_hull, *lies):
        corners = shapely.get_coordinates(outline)
        sides = np.diff(corners, axis=0)
        order = np.argsort(-np.hypot(sides[:, 0], sides[:, 1]), kind="stable")
        for x, y in sides[order]:
            angle = math.atan2(y, x) % math.pi
            if all(_apart_deg(angle, other) > SAME_DEG for other in found):
                found.append(angle)
            if len(found) >= MOST_DIRECTIONS:
                return found
    return found


def _apart_deg(one: float, other: float) -> float:
    """Between two directions, either way round, in degrees."""
    return math.degrees(abs((one - other + math.pi / 2) % math.pi - math.pi / 2))


def _width(shape: BaseGeometry) -> float:
    """The narrower side of the tightest box of its narrowest part, in mm; 0 of no area."""
    widths = []
    for part in shapely.get_parts(shape):
        corners = shapely.get_coordinates(part.minimum_rotated_rectangle)
        if len(corners) < 4:
            continue
        widths.append(min(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])))
    return min(widths, default=0.0)
