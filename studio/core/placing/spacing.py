"""May a piece lie here? The rules for hands, for one piece more beside those that lie already.

Exact enough for construction, and never more generous than the judge, which reads the same rules
in its own way: runs that may be shared are single straight edges, laid true to a thousandth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiLineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.cutting.job import Hands, Job

from .rooms import Room, arc_steps

TRUE_MM = 0.0008  # how true a run lies on its line
HAIR_MM = 0.0008  # distances may fall short by this: the judge's tolerance is a little more
ALONG_MM = 0.01  # what runs along a line lies on one of its two sides, as true as this
END_MM = 0.02  # the zone is taken a little smaller than it is

Array = npt.NDArray[np.float64]

NOWHERE = Room(Polygon(), Polygon(), np.zeros((0, 4)), np.zeros((0, 4)))


@dataclass
class Laid:
    """What lies on one stock piece, as far as later pieces must know."""

    outlines: list[Polygon] = field(default_factory=list)
    runs: Array = field(default_factory=lambda: np.zeros((0, 4)))  # of all of them
    zone: Array = field(default_factory=lambda: np.zeros((0, 4)))  # lines shared or free

    def copy(self) -> Laid:
        return Laid(list(self.outlines), self.runs, self.zone)


class Spacing:
    """The rules of one job for hands."""

    def __init__(self, job: Job, hands: Hands) -> None:
        self.hands = hands
        self.kerf = job.kerf_mm
        self.gap = hands.gap_mm

    def lines_for(self, runs: Array, room: Room, laid: Laid) -> tuple[Array, Array]:
        """The free edges of a piece with these runs, and the lines that it would share."""
        least = self.hands.straight_min_mm
        free = common_lines(runs, room.lines, apart=0.0, facing=1.0, least=least)
        apart = self.hands.shared_mm
        return free, common_lines(runs, laid.runs, apart=apart, facing=-1.0, least=least)

    def allows(self, outline: Polygon, runs: Array, room: Room, laid: Laid) -> bool:
        """Whether a piece may lie so, where it lies within the room already."""
        free, shared = self.lines_for(runs, room, laid)
        if not len(free) and not len(shared):
            return False  # then nothing excuses it from keeping its gap
        lines = np.vstack([free, shared, laid.zone])
        lines = lines[_near_box(lines, outline.bounds, 3.0 * self.gap)]
        rim = outline.boundary
        outside = self._outside(rim, lines)
        if len(room.rim):
            edges = MultiLineString(list(room.rim.reshape(-1, 2, 2)))
            if outside.distance(edges) < self.gap - HAIR_MM:
                return False
            if self.kerf > 0.0:
                off = self._outside(rim, free)
                if off.distance(edges) < self.kerf - HAIR_MM:
                    return False
        others = np.array(laid.outlines, dtype=object)
        if not len(others):
            return True
        close = others[shapely.dwithin(others, outline, self.gap - HAIR_MM)]
        for other in close:
            if self.kerf > HAIR_MM and outline.distance(other) < self.kerf - HAIR_MM:
                return False
            if outside.distance(other) < self.gap - HAIR_MM:
                return False
            if self._outside(other.boundary, lines).distance(outline) < self.gap - HAIR_MM:
                return False
        return True

    def _outside(self, rim: BaseGeometry, lines: Array) -> BaseGeometry:
        """What of an outline neither runs along one of the lines nor is near its ends."""
        if not len(lines):
            return rim
        along = MultiLineString(list(lines.reshape(-1, 2, 2)))
        band = along.buffer(self.hands.shared_mm + ALONG_MM, cap_style="flat")
        near = max(2.0 * self.gap - END_MM, 0.0)
        ends = MultiPoint(lines.reshape(-1, 2)).buffer(near, quad_segs=arc_steps(near))
        return rim.difference(band).difference(ends)

    def stand_together(self, outlines: Sequence[Polygon], runs: Sequence[Array]) -> bool:
        """Whether pieces may lie so beside each other, wherever that is."""
        laid = Laid()
        for outline, own in zip(outlines, runs, strict=True):
            near = [o for o in laid.outlines if o.distance(outline) < self.gap - HAIR_MM]
            if near and not self.allows(outline, own, NOWHERE, laid):
                return False
            self.lay(outline, own, NOWHERE, laid)
        return True

    def lay(self, outline: Polygon, runs: Array, room: Room, laid: Laid) -> None:
        """Note that a piece lies there."""
        free, shared = self.lines_for(runs, room, laid)
        laid.zone = np.vstack([laid.zone, free, shared])
        laid.outlines.append(outline)
        laid.runs = np.vstack([laid.runs, runs])


def common_lines(
    edges: Array, others: Array, *, apart: float, facing: float, least: float
) -> Array:
    """The stretches of `edges` along which another runs, `apart` mm to their right.

    `facing` is 1 where both run in the same sense, −1 where they run against each other.
    """
    if not len(edges) or not len(others):
        return np.zeros((0, 4))
    x0, y0 = edges[:, 0:1], edges[:, 1:2]
    length = np.hypot(edges[:, 2:3] - x0, edges[:, 3:4] - y0)
    ux, uy = (edges[:, 2:3] - x0) / length, (edges[:, 3:4] - y0) / length
    along0 = (others[:, 0] - x0) * ux + (others[:, 1] - y0) * uy
    along1 = (others[:, 2] - x0) * ux + (others[:, 3] - y0) * uy
    across0 = (others[:, 0] - x0) * uy - (others[:, 1] - y0) * ux
    across1 = (others[:, 2] - x0) * uy - (others[:, 3] - y0) * ux
    low = np.maximum(0.0, np.minimum(along0, along1))
    high = np.minimum(length, np.maximum(along0, along1))
    met = (
        (np.abs(across0 - apart) <= TRUE_MM)
        & (np.abs(across1 - apart) <= TRUE_MM)
        & ((along1 - along0) * facing > 0.0)
        & (high - low >= least)
    )
    i, j = np.nonzero(met)
    begin, end = low[i, j], high[i, j]
    return np.column_stack(
        [
            x0[i, 0] + ux[i, 0] * begin,
            y0[i, 0] + uy[i, 0] * begin,
            x0[i, 0] + ux[i, 0] * end,
            y0[i, 0] + uy[i, 0] * end,
        ]
    )


def _near_box(
    lines: Array, box: tuple[float, float, float, float], by: float
) -> npt.NDArray[np.bool_]:
    """Which lines come within `by` of a box."""
    x0, y0, x1, y1 = box
    found: npt.NDArray[np.bool_] = (
        (np.minimum(lines[:, 0], lines[:, 2]) <= x1 + by)
        & (np.maximum(lines[:, 0], lines[:, 2]) >= x0 - by)
        & (np.minimum(lines[:, 1], lines[:, 3]) <= y1 + by)
        & (np.maximum(lines[:, 1], lines[:, 3]) >= y0 - by)
    )
    return found
