"""The parts of one stock piece, cut by cut: the engine's own reading of what a cut may do.

The judge has another, and the last word.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon

from studio.core.areas import common
from studio.core.cutting.job import Cut, Job, Parting, Stock
from studio.core.placing.shapes import polygonal

Point = tuple[float, float]
Region = Polygon | MultiPolygon

SHORTER_MM = 0.001  # a part may fall short of its least width by this, and a cut be so much longer
LEAST_MM2 = 1e-3
STEP_MM = 0.5


@dataclass(frozen=True, slots=True)
class Side:
    """The half plane on one side of a cut: all points whose distance along the normal
    (nx, ny) is at least `at` mm. The normal points into the part."""

    nx: float
    ny: float
    at: float

    def moved(self, by: float) -> Side:
        """The same side, begun `by` mm further in."""
        return Side(self.nx, self.ny, self.at + by)

    def cuts(self, region: Region) -> Region:
        """What of a region lies on this side."""
        found = shapely.get_parts(polygonal(common(region, self.area(region))))
        thick = [part for part in found if part.area > SHORTER_MM * part.length / 2.0]
        return thick[0] if len(thick) == 1 else MultiPolygon(thick)

    def area(self, region: Region) -> Polygon:
        """As much of the half plane as reaches round a region."""
        x0, y0, x1, y1 = region.bounds
        far = 2.0 * (math.hypot(x1 - x0, y1 - y0) + 10.0)
        mx, my = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        off = self.at - (mx * self.nx + my * self.ny)
        bx, by = mx + off * self.nx, my + off * self.ny
        tx, ty = -self.ny, self.nx
        deep = far + abs(off)
        return Polygon(
            [
                (bx - far * tx, by - far * ty),
                (bx + far * tx, by + far * ty),
                (bx + far * tx + deep * self.nx, by + far * ty + deep * self.ny),
                (bx - far * tx + deep * self.nx, by - far * ty + deep * self.ny),
            ]
        )


@dataclass(frozen=True)
class Part:
    """A part of a stock piece: what is left of it, and on which sides of cuts it lies."""

    number: int
    region: Region
    sides: tuple[Side, ...] = ()

    def cut_edges(self) -> MultiLineString:
        """The stretches of its outline that cuts have made."""
        lines = []
        for side in self.sides:
            area = side.area(self.region)
            x, y = shapely.get_coordinates(area)[:2].T
            line = LineString([(x[0], y[0]), (x[1], y[1])])
            lines.append(line)
        if not lines:
            return MultiLineString()
        near = shapely.union_all([line.buffer(1e-5, cap_style="flat") for line in lines])
        found = self.region.boundary.intersection(near)
        return MultiLineString(
            [
                piece
                for piece in shapely.get_parts(found)
                if isinstance(piece, LineString) and piece.length > 1e-4
            ]
        )


class Parts:
    """One stock piece and its cuts."""

    def __init__(self, job: Job, parting: Parting, stock: Stock) -> None:
        self.parting, self.stock = parting, stock
        self.kerf = job.kerf_mm if parting.way == "saw" else 0.0
        self.leaves: dict[int, Part] = {0: Part(0, stock.outline)}
        self.cuts: list[Cut] = []

    def copy(self) -> Parts:
        other = Parts.__new__(Parts)
        other.parting, other.stock, other.kerf = self.parting, self.stock, self.kerf
        other.leaves, other.cuts = dict(self.leaves), list(self.cuts)
        return other

    def cut(self, number: int, through: Point, along: Point) -> tuple[Part, Part] | None:
        """Cut a part along the line through a point: what lies on its left and on its right.

        None where no cut may be: too long, too deep, it leaves too narrow a part, or meets none.
        """
        part = self.leaves[number]
        made = self.tried(part, through, along)
        if made is None:
            return None
        cut, one, other = made
        k = len(self.cuts)
        left = Part(2 * k + 1, one.region, one.sides)
        right = Part(2 * k + 2, other.region, other.sides)
        del self.leaves[number]
        self.leaves[left.number], self.leaves[right.number] = left, right
        self.cuts.append(cut)
        return left, right

    def tried(self, part: Part, through: Point, along: Point) -> tuple[Cut, Part, Part] | None:
        """A cut and both its parts, where it may be."""
        chord = chord_of(part.region, through, along)
        if chord is None:
            return None
        (x0, y0), (x1, y1) = chord
        length = math.hypot(x1 - x0, y1 - y0)
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        left = Side(-uy, ux, -uy * x0 + ux * y0 + 0.5 * self.kerf)
        right = Side(uy, -ux, uy * x0 - ux * y0 + 0.5 * self.kerf)
        if not self._within_reach(part.region, chord):
            return None
        found = []
        for side in (left, right):
            region = side.cuts(part.region)
            if region.area <= LEAST_MM2 or not self._wide_enough(region):
                return None
            found.append(Part(-1, region, (*part.sides, side)))
        return Cut(self.stock.id, part.number, *chord), found[0], found[1]

    def _wide_enough(self, region: Region) -> bool:
        least = self.parting.strip_least_mm - SHORTER_MM
        return least <= 0.0 or all(width_of(part) >= least for part in shapely.get_parts(region))

    def _within_reach(self, region: Region, chord: tuple[Point, Point]) -> bool:
        longest, throat = self.parting.cut_longest_mm, self.parting.throat_mm
        for part in shapely.get_parts(region):
            inside = LineString(chord).intersection(part)
            if inside.length <= 0.0:
                continue
            points = shapely.get_coordinates(inside)
            if self.parting.way == "shear":
                # the blade spans all from the first metal to the last
                if longest is not None and _reach_of(points) > longest:
                    return False
            elif throat is not None:
                between = shapely.points(shapely.get_coordinates(inside.segmentize(STEP_MM)))
                deepest = float(shapely.distance(between, part.exterior).max())
                # between two points it may be deeper by half a step, but for cuts that are short
                spare = 0.5 * STEP_MM if _reach_of(points) > 2.0 * throat else 0.0
                if deepest > throat - spare:
                    return False
        return True


def _reach_of(points: npt.NDArray[np.float64]) -> float:
    """The length from the first to the last of points on one line."""
    return float(np.hypot(*np.ptp(points, axis=0)))


def width_of(outline: Polygon) -> float:
    """The least distance of two parallel lines between which an outline fits, in mm."""
    corners = shapely.get_coordinates(outline.convex_hull)
    steps = np.diff(corners, axis=0)
    length = np.hypot(steps[:, 0], steps[:, 1])
    steps, start = steps[length > 1e-9] / length[length > 1e-9, None], corners[:-1][length > 1e-9]
    across = (corners[None, :, 1] - start[:, None, 1]) * steps[:, 0:1] - (
        corners[None, :, 0] - start[:, None, 0]
    ) * steps[:, 1:2]
    return float(np.abs(across).max(axis=1).min()) if len(steps) else 0.0


def chord_of(region: Region, through: Point, along: Point) -> tuple[Point, Point] | None:
    """From where to where the straight line reaches in a region; None where it meets none."""
    x0, y0, x1, y1 = region.bounds
    far = math.hypot(x1 - x0, y1 - y0) + math.hypot(through[0] - x0, through[1] - y0) + 1.0
    length = math.hypot(*along)
    ux, uy = along[0] / length, along[1] / length
    line = LineString(
        [
            (through[0] - far * ux, through[1] - far * uy),
            (through[0] + far * ux, through[1] + far * uy),
        ]
    )
    inside = shapely.get_coordinates(line.intersection(region))
    if len(inside) < 2:
        return None
    reach = (inside[:, 0] - through[0]) * ux + (inside[:, 1] - through[1]) * uy
    low, high = float(reach.min()), float(reach.max())
    if high - low < 0.01:
        return None
    begin = (round(through[0] + low * ux, 6), round(through[1] + low * uy, 6))
    end = (round(through[0] + high * ux, 6), round(through[1] + high * uy, 6))
    return begin, end


def one_polygon(region: Region) -> Polygon | None:
    """A region in one part as a polygon; specks that rounding made do not count."""
    if isinstance(region, Polygon):
        return region
    large = [part for part in region.geoms if part.area > LEAST_MM2]
    return large[0] if len(large) == 1 else None


def sides_area(sides: Sequence[Side], region: Region, by: float) -> Region:
    """What of a region lies on all these sides, each begun `by` mm further in."""
    for side in sides:
        if region.is_empty:
            break
        region = side.moved(by).cuts(region)
    return region
