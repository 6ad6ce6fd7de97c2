"""A stock piece while a plan is being made: what of it is still free."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.errors import GEOSException
from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import united, without
from studio.core.cutting.job import Job, Stock
from studio.core.placing.rooms import room_of
from studio.core.placing.shapes import Variant, corners_of, edges_left, polygonal
from studio.core.placing.spacing import Laid, Spacing

from .raster import Grid, cell_for

Array = npt.NDArray[np.float64]
Box = tuple[float, float, float, float]

AXES = {"E": (1.0, 0.0), "W": (-1.0, 0.0), "N": (0.0, 1.0), "S": (0.0, -1.0)}


class Face:
    """A free region in its present state, as polygon, edges and raster."""

    def __init__(self, free: Polygon | MultiPolygon, least: float) -> None:
        self.least = least  # parts of the free region smaller than this are forgotten
        self.free = free
        self.grid = None if free.is_empty else Grid(free, cell_for(free))
        self.area = float(free.area)
        self._edges: Array | None = None
        self._corners: Array | None = None

    def as_it_is(self) -> Face:
        """A face that goes on from here by itself."""
        other = Face.__new__(Face)
        other._take_over(self)
        return other

    def _take_over(self, other: Face) -> None:
        self.least, self.free, self.area = other.least, other.free, other.area
        self.grid = None if other.grid is None else other.grid.copy()
        self._edges, self._corners = other._edges, other._corners

    @property
    def edges(self) -> Array:
        if self._edges is None:
            self._edges = edges_left(self.free)
        return self._edges

    @property
    def corners(self) -> Array:
        if self._corners is None:
            self._corners = corners_of(self.edges, least=2.0)
        return self._corners

    def fits(self, variant: Variant, x: float, y: float) -> bool:
        shapely.prepare(self.free)
        return bool(self.free.covers(_shift(variant.shrunk, x, y)))

    def block(self, grown: Sequence[Polygon]) -> None:
        """These areas are no longer free."""
        self.free = polygonal(_less(self.free, grown), self.least)
        self.area = float(self.free.area)
        self._edges = self._corners = None
        if self.grid is not None:
            for outline in grown:
                self.grid.block(outline)


class Sheet(Face):
    """A stock piece while a plan is being made.

    As a face it is where a piece keeps its gap from everything. Under the rules for hands
    `tight` is a second face: where pieces may come as near as along shared lines and free edges,
    if `allows` says that they are.
    """

    def __init__(self, metal: Stock, job: Job, least: float, *, with_runs: bool = False) -> None:
        """`with_runs` where some piece has a straight run that it could share."""
        self.metal = metal
        self.room = room_of(job, metal)
        super().__init__(self.room.soft, least)
        self.bounds = metal.outline.bounds
        self.angles = _metal_angles(metal)
        self.failed: set[tuple[int, bool]] = set()
        self.reach: dict[str, float] = {}  # how far the pieces reach, by fill direction
        self.spacing: Spacing | None = None
        self.tight: Face | None = None
        self.laid = Laid()
        if job.hands is not None:
            self.spacing = Spacing(job, job.hands)
            if with_runs:
                self.tight = Face(self.room.hard, least)

    def copy(self) -> Sheet:
        other = Sheet.__new__(Sheet)
        other._take_over(self)
        other.metal, other.bounds, other.angles = self.metal, self.bounds, self.angles
        other.room, other.spacing, other.laid = self.room, self.spacing, self.laid.copy()
        other.tight = None if self.tight is None else self.tight.as_it_is()
        other.failed, other.reach = set(), {}
        return other

    @property
    def largest(self) -> float:
        """The area that is free at most, in mm²."""
        return self.area if self.tight is None else max(self.area, self.tight.area)

    def allows(self, variant: Variant, x: float, y: float) -> bool:
        """Whether a piece may lie nearer than its gap here, as it shares lines or lies on edges."""
        if self.spacing is None:
            return False
        outline = _shift(variant.outline, x, y)
        return self.spacing.allows(outline, moved(variant.runs, x, y), self.room, self.laid)

    def take(self, laid: Sequence[tuple[Variant, float, float]]) -> None:
        """Lay pieces: their metal and the gap around them are no longer free."""
        self.block([_shift(variant.grown, x, y) for variant, x, y in laid])
        if self.tight is not None and self.spacing is not None:
            by = self.spacing.hands.shared_mm
            self.tight.block([_shift(variant.grown_by(by), x, y) for variant, x, y in laid])
        for variant, x, y in laid:
            if self.spacing is not None:
                outline = _shift(variant.outline, x, y)
                self.spacing.lay(outline, moved(variant.runs, x, y), self.room, self.laid)
            x0, y0, x1, y1 = variant.bounds
            for name in AXES:
                reach = extent((x0 + x, y0 + y, x1 + x, y1 + y), self.bounds, name)
                self.reach[name] = max(self.reach.get(name, 0.0), reach)


def moved(edges: Array, x: float, y: float) -> Array:
    """Edges shifted by (x, y)."""
    found: Array = edges + np.array([x, y, x, y])
    return found


def may_fit(variant: Variant, face: Face) -> bool:
    x0, y0, x1, y1 = variant.bounds
    if face.free.is_empty:
        return False
    sx0, sy0, sx1, sy1 = face.free.bounds
    return x1 - x0 <= sx1 - sx0 + 1e-3 and y1 - y0 <= sy1 - sy0 + 1e-3


def extent(box: Box, metal: Box, name: str) -> float:
    """How far a box reaches into the metal, measured from where filling starts."""
    if name == "E":
        return box[2] - metal[0]
    if name == "W":
        return metal[2] - box[0]
    if name == "N":
        return box[3] - metal[1]
    return metal[3] - box[1]


def _metal_angles(metal: Stock) -> tuple[float, ...]:
    """The directions (modulo 90°) of the metal's long edges, the longest first."""
    edges = edges_left(metal.outline)
    dx, dy = edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]
    length = np.hypot(dx, dy)
    turns = np.round(np.degrees(np.arctan2(dy, dx)) % 90.0, 6) % 90.0
    weight: dict[float, float] = {}
    for k in np.argsort(-length, kind="stable").tolist():
        turn = float(turns[k])
        near = next((a for a in weight if abs(a - turn) < 0.02), turn)
        weight[near] = weight.get(near, 0.0) + float(length[k])
        if len(weight) >= 40:
            break
    found = sorted(weight, key=lambda a: -weight[a])
    x0, y0, x1, y1 = metal.outline.bounds
    exact = [a for a in found[:2] if weight[a] >= 0.25 * max(x1 - x0, y1 - y0)]
    return tuple(exact) or (0.0,)


def _shift(polygon: Polygon, x: float, y: float) -> Polygon:
    moved = affinity.translate(polygon, x, y)
    assert isinstance(moved, Polygon)
    return moved


def _less(region: Polygon | MultiPolygon, grown: Sequence[Polygon]) -> shapely.Geometry:
    """What of a region these areas leave. Not proved a second time, which a first plan would
    wait for: the judge tries every plan, whatever was taken to be free."""
    try:
        taken = grown[0] if len(grown) == 1 else shapely.union_all(grown)
        return region.difference(taken)
    except GEOSException:  # all but coinciding lines
        return without(region, united(grown))
