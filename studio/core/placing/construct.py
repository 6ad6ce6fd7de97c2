"""One plan from nothing: pieces laid one after another, each where it costs least.

A raster proposes places, exact slides settle them against metal and neighbours, and a figure
in money chooses. Always valid by construction (the judge still has the last word).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.errors import GEOSException
from shapely.geometry import MultiPolygon, Polygon

from studio.core.placing.job import Job, Metal, Placement
from studio.core.placing.raster import Grid, Kernels, cell_for
from studio.core.placing.reach import exact_places
from studio.core.placing.shapes import Shape, Variant, corners_of, edges_left
from studio.core.placing.sliding import flush_length, slide

Array = npt.NDArray[np.float64]

AXES = {"E": (1.0, 0.0), "W": (-1.0, 0.0), "N": (0.0, 1.0), "S": (0.0, -1.0)}
PROPOSALS = 6  # places settled exactly before one is chosen
SETTLE_STEPS = 8


@dataclass(frozen=True)
class Strategy:
    """What distinguishes one plan from the next.

    `fill` names two compass directions: metal is used up along the first, then along the
    second ("EN": from the left edge, and there from the bottom). `sequence` is the order of
    pieces (indices of copies), `metals` the order in which stock pieces are tried.
    """

    fill: str
    sequence: tuple[int, ...]
    metals: tuple[int, ...]
    wide: bool = False


class Sheet:
    """A stock piece in its present state: what is free, as polygon, edges and raster."""

    def __init__(self, metal: Metal, job: Job) -> None:
        self.metal = metal
        free: Polygon | MultiPolygon = metal.outline
        if not metal.clean_edges and job.kerf_mm > 0.0:
            free = _polygonal(free.buffer(-job.kerf_mm, join_style="mitre"))
        self.free = free
        self.bounds = metal.outline.bounds
        self.angles = _metal_angles(metal)
        self.grid = None if free.is_empty else Grid(free, cell_for(free))
        self.area = float(free.area)
        self._edges: Array | None = None
        self._corners: Array | None = None
        self.failed: set[tuple[int, bool]] = set()
        self.reach: dict[str, float] = {}

    def copy(self) -> Sheet:
        other = object.__new__(Sheet)
        other.metal, other.bounds, other.angles = self.metal, self.bounds, self.angles
        other.free, other.area = self.free, self.area
        other.grid = None if self.grid is None else self.grid.copy()
        other._edges, other._corners = self._edges, self._corners
        other.failed, other.reach = set(), {}
        return other

    @property
    def edges(self) -> Array:
        if self._edges is None:
            parts = _parts(self.free)
            self._edges = (
                np.vstack([edges_left(part) for part in parts]) if parts else np.zeros((0, 4))
            )
        return self._edges

    @property
    def corners(self) -> Array:
        if self._corners is None:
            self._corners = corners_of(self.edges, least=2.0)
        return self._corners

    def fits(self, variant: Variant, x: float, y: float) -> bool:
        shapely.prepare(self.free)
        return bool(self.free.covers(_shift(variant.shrunk, x, y)))

    def take(self, variant: Variant, x: float, y: float) -> None:
        """Lay a piece: its metal and one kerf around it are no longer free."""
        grown = _shift(variant.grown, x, y)
        self.free = _polygonal(_without(self.free, grown))
        self.area = float(self.free.area)
        self._edges = self._corners = None
        assert self.grid is not None
        self.grid.block(grown)
        box = _shift(variant.outline, x, y).bounds
        for name in AXES:
            reach = _extent(box, self.bounds, name)
            self.reach[name] = max(self.reach.get(name, 0.0), reach)


class Builder:
    """Makes plans for one job; keeps what every plan needs (shapes, spectra, empty sheets)."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.shapes = [Shape(i, order, job) for i, order in enumerate(job.pieces)]
        self.copies = [(shape, copy) for shape in self.shapes for copy in range(shape.order.count)]
        self.kernels = Kernels()
        self._blank: dict[int, Sheet] = {}
        self._alone: dict[int, bool] = {}

    def blank(self, index: int) -> Sheet:
        """A fresh copy of an empty stock piece."""
        if index not in self._blank:
            self._blank[index] = Sheet(self.job.metal[index], self.job)
        return self._blank[index].copy()

    def build(
        self, strategy: Strategy, go_on: Callable[[], bool]
    ) -> tuple[list[Placement], list[int], bool]:
        """Placements, indices of copies that found no place, and whether all were tried.

        `go_on` is asked before every piece; False stops, the rest counts as not placed.
        """
        sheets: dict[int, Sheet] = {}
        placed: list[Placement] = []
        left: list[int] = []
        for number, index in enumerate(strategy.sequence):
            if not go_on():
                left.extend(strategy.sequence[number:])
                return placed, left, False
            shape, copy = self.copies[index]
            found = self._lay(shape, strategy, sheets)
            if found is None:
                left.append(index)
                continue
            metal, variant, x, y = found
            placed.append(
                Placement(shape.order.id, copy, metal.id, variant.mirror, variant.turn_deg, x, y)
            )
        return placed, left, True

    def fits_alone(self, shape: Shape) -> bool:
        """Whether a piece finds a place on some stock piece when it is the only one."""
        if shape.index not in self._alone:
            strategy = Strategy("EN", (), tuple(range(len(self.job.metal))), wide=True)
            self._alone[shape.index] = self._lay(shape, strategy, {}) is not None
        return self._alone[shape.index]

    def _lay(
        self, shape: Shape, strategy: Strategy, sheets: dict[int, Sheet]
    ) -> tuple[Metal, Variant, float, float] | None:
        for wide in (strategy.wide, True):
            for index in strategy.metals:
                if index not in sheets:
                    sheets[index] = self.blank(index)
                sheet = sheets[index]
                if sheet.grid is None or sheet.area < shape.area * 0.999:
                    continue
                if (shape.index, wide) in sheet.failed:
                    continue
                found = self._best_place(sheet, shape, strategy.fill, wide)
                if found is not None:
                    variant, x, y = found
                    sheet.take(variant, x, y)
                    return sheet.metal, variant, x, y
                sheet.failed.add((shape.index, wide))
        return None

    def _best_place(
        self, sheet: Sheet, shape: Shape, fill: str, wide: bool
    ) -> tuple[Variant, float, float] | None:
        variants = [v for v in shape.variants(sheet.angles, wide=wide) if _may_fit(v, sheet)]
        proposals = self._proposals(sheet, variants, fill)
        best: tuple[float, Variant, float, float] | None = None
        settled = 0
        for _, variant, x, y in proposals:
            spot = self._settle(sheet, variant, x, y, fill)
            if spot is None:
                continue
            settled += 1
            figure = self._figure(sheet, variant, *spot, fill)
            if best is None or figure < best[0] - 1e-12:
                best = (figure, variant, *spot)
            if settled >= PROPOSALS:
                break
        if best is None and wide:
            best = self._squeeze_in(sheet, variants, fill)
        return None if best is None else best[1:]

    def _proposals(
        self, sheet: Sheet, variants: Sequence[Variant], fill: str
    ) -> list[tuple[float, Variant, float, float]]:
        """Rough places, the most promising first."""
        found: list[tuple[float, int, float, float]] = []
        assert sheet.grid is not None
        for number, variant in enumerate(variants):
            overlap = sheet.grid.overlap(variant, self.kernels)
            if overlap is None:
                continue
            found.extend(
                (self._rough(sheet, variant, x, y, fill), number, x, y)
                for x, y in _free_cells(sheet.grid, variant, overlap < 0.5, fill)
            )
            found.extend(
                (self._rough(sheet, variant, x, y, fill), number, x, y)
                for x, y in _corner_places(sheet, variant, overlap, fill)
            )
        found.sort()
        return [(figure, variants[number], x, y) for figure, number, x, y in found[:60]]

    def _rough(self, sheet: Sheet, variant: Variant, x: float, y: float, fill: str) -> float:
        x0, y0, x1, y1 = variant.bounds
        box = (x0 + x, y0 + y, x1 + x, y1 + y)
        return _extent(box, sheet.bounds, fill[0]) + 0.15 * _extent(box, sheet.bounds, fill[1])

    def _figure(self, sheet: Sheet, variant: Variant, x: float, y: float, fill: str) -> float:
        """Roughly what this place costs: metal opened up, less sawing saved."""
        x0, y0, x1, y1 = variant.bounds
        box = (x0 + x, y0 + y, x1 + x, y1 + y)
        first = _extent(box, sheet.bounds, fill[0])
        second = _extent(box, sheet.bounds, fill[1])
        wide, high = sheet.bounds[2] - sheet.bounds[0], sheet.bounds[3] - sheet.bounds[1]
        across = high if fill[0] in "EW" else wide
        price = max(sheet.metal.price_per_mm2, 1e-7)
        opened = max(0.0, first - sheet.reach.get(fill[0], 0.0))
        figure = price * (across * opened + 0.3 * across * first + 0.05 * across * second)
        flush = flush_length(_moved(variant.edges, x, y), sheet.edges)
        saved = self.job.saw_cost_per_mm if self.job.goal == "plan" else 0.0
        return figure - (saved + 0.5 * price * math.sqrt(across)) * flush

    def _settle(
        self, sheet: Sheet, variant: Variant, x: float, y: float, fill: str
    ) -> tuple[float, float] | None:
        """Push a piece against the fill directions until it rests; None where it does not fit."""
        if not sheet.fits(variant, x, y):
            return None
        start = (x, y)
        moving, rim = variant.edges, sheet.edges
        for step in range(SETTLE_STEPS):
            dx, dy = AXES[fill[step % 2]]
            far = slide(_moved(moving, x, y), rim, (-dx, -dy))
            if not math.isfinite(far) or (far < 1e-7 and step > 1):
                break
            x, y = x - dx * far, y - dy * far
        x, y = round(x, 6), round(y, 6)
        if not sheet.fits(variant, x, y):
            x, y = round(start[0], 6), round(start[1], 6)
            if not sheet.fits(variant, x, y):
                return None
        return x, y

    def _squeeze_in(
        self, sheet: Sheet, variants: Sequence[Variant], fill: str
    ) -> tuple[float, Variant, float, float] | None:
        """The last resort for a tight fit: all places there are, by exact geometry."""
        best: tuple[float, Variant, float, float] | None = None
        for variant in variants:
            for x, y in exact_places(sheet.free, sheet.edges, variant):
                spot = self._settle(sheet, variant, x, y, fill)
                if spot is not None:
                    figure = self._figure(sheet, variant, *spot, fill)
                    if best is None or figure < best[0]:
                        best = (figure, variant, *spot)
            if best is not None:
                return best
        return best


def _free_cells(
    grid: Grid, variant: Variant, free: npt.NDArray[np.bool_], fill: str
) -> list[tuple[float, float]]:
    """A few free cells, foremost in the fill directions, spread over the second one."""
    if not free.any():
        return []
    view = free
    flips = []
    if "W" in fill:
        view = view[:, ::-1]
        flips.append(1)
    if "S" in fill:
        view = view[::-1, :]
        flips.append(0)
    if fill[0] in "EW":
        first = np.where(view.any(axis=1), view.argmax(axis=1), 1 << 30)  # column per row
        rows = np.argsort(first + 0.15 * np.arange(len(first)), kind="stable")[:3]
        cells = [(int(row), int(first[row])) for row in rows if first[row] < 1 << 30]
    else:
        first = np.where(view.any(axis=0), view.argmax(axis=0), 1 << 30)
        columns = np.argsort(first + 0.15 * np.arange(len(first)), kind="stable")[:3]
        cells = [(int(first[c]), int(c)) for c in columns if first[c] < 1 << 30]
    height, width = free.shape
    found = []
    for row, column in cells:
        if 0 in flips:
            row = height - 1 - row
        if 1 in flips:
            column = width - 1 - column
        found.append(grid.shift(variant, row, column))
    return found


def _corner_places(
    sheet: Sheet, variant: Variant, overlap: npt.NDArray[np.float32], fill: str
) -> list[tuple[float, float]]:
    """Shifts that lay a corner of the piece in a corner of the free region, edge on edge."""
    own, rim = variant.corners, sheet.corners
    if not len(own) or not len(rim) or sheet.grid is None:
        return []
    arrive = np.abs((own[:, None, 2] - rim[None, :, 2] + np.pi) % (2 * np.pi) - np.pi) < 2e-3
    leave = np.abs((own[:, None, 3] - rim[None, :, 3] + np.pi) % (2 * np.pi) - np.pi) < 2e-3
    i, j = np.nonzero(arrive | leave)
    if not len(i):
        return []
    shifts = rim[j, :2] - own[i, :2]
    cell = sheet.grid.cell
    x0, y0, x1, y1 = variant.bounds
    column = np.round((shifts[:, 0] + x0 - sheet.grid.origin[0]) / cell - 1).astype(int)
    row = np.round((shifts[:, 1] + y0 - sheet.grid.origin[1]) / cell - 1).astype(int)
    inside = (row >= 0) & (column >= 0) & (row < overlap.shape[0]) & (column < overlap.shape[1])
    shifts, row, column = shifts[inside], row[inside], column[inside]
    # flush edges cost about one cell of overlap along the rim; more means a real overlap
    rim_cells = 1.2 * 2.0 * ((x1 - x0) + (y1 - y0)) / cell + 4.0
    shifts = shifts[overlap[row, column] < rim_cells]
    if not len(shifts):
        return []
    along = {"E": 0, "W": 0, "N": 1, "S": 1}
    sign = {"E": 1.0, "N": 1.0, "W": -1.0, "S": -1.0}
    rank = sign[fill[0]] * shifts[:, along[fill[0]]] + 0.15 * (
        sign[fill[1]] * shifts[:, along[fill[1]]]
    )
    best = np.argsort(rank, kind="stable")[:8]
    return [(float(x), float(y)) for x, y in shifts[best]]


def _may_fit(variant: Variant, sheet: Sheet) -> bool:
    x0, y0, x1, y1 = variant.bounds
    sx0, sy0, sx1, sy1 = sheet.free.bounds
    return x1 - x0 <= sx1 - sx0 + 1e-3 and y1 - y0 <= sy1 - sy0 + 1e-3


def _extent(
    box: tuple[float, float, float, float], metal: tuple[float, float, float, float], name: str
) -> float:
    """How far a box reaches into the metal, measured from where filling starts."""
    if name == "E":
        return box[2] - metal[0]
    if name == "W":
        return metal[2] - box[0]
    if name == "N":
        return box[3] - metal[1]
    return metal[3] - box[1]


def _metal_angles(metal: Metal) -> tuple[float, ...]:
    """The directions (modulo 90°) of the metal's long edges, the longest first."""
    edges = np.vstack([edges_left(part) for part in metal.parts])
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


def _moved(edges: Array, x: float, y: float) -> Array:
    moved: Array = edges + np.array([x, y, x, y])
    return moved


def _shift(polygon: Polygon, x: float, y: float) -> Polygon:
    moved = affinity.translate(polygon, x, y)
    assert isinstance(moved, Polygon)
    return moved


def _without(region: Polygon | MultiPolygon, taken: Polygon) -> shapely.Geometry:
    try:
        return region.difference(taken)
    except GEOSException:  # all but coinciding lines: decide on a grid of a nanometre
        return shapely.difference(region, taken, grid_size=1e-6)


def _parts(region: Polygon | MultiPolygon) -> list[Polygon]:
    if isinstance(region, Polygon):
        return [] if region.is_empty else [region]
    return list(region.geoms)


def _polygonal(region: shapely.Geometry) -> Polygon | MultiPolygon:
    """The polygons of a region, without the points and lines that touching leaves behind."""
    if isinstance(region, Polygon | MultiPolygon):
        return region
    return MultiPolygon([g for g in getattr(region, "geoms", ()) if isinstance(g, Polygon)])
