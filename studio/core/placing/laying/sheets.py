"""A stock piece while a plan is being made: what of it is still free."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import united, without
from studio.core.cutting.job import Job, Stock
from studio.core.placing.shapes import Variant, corners_of, edges_left

from .raster import Grid, cell_for

Array = npt.NDArray[np.float64]
Box = tuple[float, float, float, float]

AXES = {"E": (1.0, 0.0), "W": (-1.0, 0.0), "N": (0.0, 1.0), "S": (0.0, -1.0)}


class Sheet:
    """A stock piece in its present state: what is free, as polygon, edges and raster."""

    def __init__(self, metal: Stock, job: Job, least: float) -> None:
        self.metal = metal
        self.least = least  # parts of the free region smaller than this are forgotten
        free: Polygon | MultiPolygon = metal.outline
        if not metal.clean_edges and job.edge_gap_mm > 0.0:
            free = _polygonal(free.buffer(-job.edge_gap_mm, join_style="mitre"))
        self.free = free
        self.bounds = metal.outline.bounds
        self.angles = _metal_angles(metal)
        self.grid = None if free.is_empty else Grid(free, cell_for(free))
        self.area = float(free.area)
        self._edges: Array | None = None
        self._corners: Array | None = None
        self.failed: set[tuple[int, bool]] = set()
        self.reach: dict[str, float] = {}  # how far the pieces reach, by fill direction

    def copy(self) -> Sheet:
        other = object.__new__(Sheet)
        other.metal, other.bounds, other.angles = self.metal, self.bounds, self.angles
        other.least = self.least
        other.free, other.area = self.free, self.area
        other.grid = None if self.grid is None else self.grid.copy()
        other._edges, other._corners = self._edges, self._corners
        other.failed, other.reach = set(), {}
        return other

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

    def take(self, laid: Sequence[tuple[Variant, float, float]]) -> None:
        """Lay pieces: their metal and one kerf around them are no longer free."""
        grown = [_shift(variant.grown, x, y) for variant, x, y in laid]
        taken = grown[0] if len(grown) == 1 else united(grown)
        self.free = _polygonal(without(self.free, taken), self.least)
        self.area = float(self.free.area)
        self._edges = self._corners = None
        assert self.grid is not None
        for outline in grown:
            self.grid.block(outline)
        for variant, x, y in laid:
            x0, y0, x1, y1 = variant.bounds
            for name in AXES:
                reach = extent((x0 + x, y0 + y, x1 + x, y1 + y), self.bounds, name)
                self.reach[name] = max(self.reach.get(name, 0.0), reach)


def may_fit(variant: Variant, sheet: Sheet) -> bool:
    x0, y0, x1, y1 = variant.bounds
    sx0, sy0, sx1, sy1 = sheet.free.bounds
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


def _polygonal(region: shapely.Geometry, least: float = 0.0) -> Polygon | MultiPolygon:
    """The polygons of a region larger than `least`, without the points and lines that touching
    leaves behind."""
    if isinstance(region, Polygon):
        return region
    parts = [p for p in shapely.get_parts(region) if isinstance(p, Polygon) and p.area > least]
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)
