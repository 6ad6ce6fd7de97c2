"""Places to choose for a piece without dragging: in a corner, along an edge, beside a piece, free.

For a place there are candidates: a straight run of the piece laid on the edge or on the shared
line, longest run first, else the piece at its gap; from each the piece slides along until the
judge has no fault to find. The judge alone decides; what is looked at before it only spares it
work. Lengths in mm, angles in degrees anticlockwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.cutting.job import Job, Placement, Stock, Wanted, allowed_turns, turns_apart
from studio.core.verifying import Fault
from studio.core.verifying.cuts import metal_edges
from studio.core.verifying.fault import TOLERANCE_MM
from studio.core.verifying.faults import faults_of
from studio.core.verifying.kept import Kept
from studio.core.verifying.sides import sides_of

Array = npt.NDArray[np.float64]
Spot = tuple[float, float]

QUARTERS: Final = (0.0, 90.0, 180.0, 270.0)
RUNS: Final = 4
"""So many of a piece's straight runs are tried, the longest first."""
STEPS: Final = 120
"""Along an edge or a line a piece is tried at so many spots at most."""
LEAST_STEP_MM: Final = 0.5
JUDGED: Final = 240
"""So often the judge is asked for one place; what fits is found long before."""
LOOKED_AT: Final = 12_000
GRID: Final = 34
NUDGE_MM: Final = 0.0005
HALVINGS: Final = 14
SAME_TURN_DEG: Final = 1e-6
ALONG_DEG: Final = 0.1
CORNER_LEAST_MM: Final = 5.0
ON_METAL_MM: Final = 0.002
MOST_LISTED: Final = 12
DIRECTIONS: Final = 16


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of a stock piece, by its number among `corners_of`."""

    metal: str
    number: int


@dataclass(frozen=True, slots=True)
class Edge:
    """A clean straight edge of a stock piece, by its number among `edges_of`."""

    metal: str
    number: int


@dataclass(frozen=True, slots=True)
class Beside:
    """Beside another piece that lies: along a straight side of it where it has one."""

    piece: str
    copy: int


@dataclass(frozen=True, slots=True)
class Free:
    """Wherever there is room first; on one stock piece, or on any."""

    metal: str | None = None


@dataclass(frozen=True, slots=True)
class At:
    """At numbers: where the lower left of the box around the piece is to lie, and its turn."""

    metal: str
    x_mm: float
    y_mm: float
    turn_deg: float


Place = Corner | Edge | Beside | Free | At


@dataclass(frozen=True, slots=True)
class Found:
    """Where the piece comes to lie, and what the judge says of that; no faults: it is good."""

    placement: Placement
    faults: tuple[Fault, ...]


def find(
    job: Job,
    placements: Sequence[Placement],
    piece: str,
    copy: int,
    place: Place,
    *,
    mirror: bool = False,
    turn_deg: float | None = None,
) -> Found | None:
    """Lay one copy of a piece at a chosen place.

    Parameters
    ----------
    job, placements
        What is laid by, and where everything lies; where this copy lies now makes no difference.
    mirror
        The piece turned over, where its pattern may be; a piece that finds no room as it is
        is tried the other way too, where it may be.
    turn_deg
        Where the place itself asks for no turn: at this one only. None: at quarter turns.

    Returns
    -------
    Found
        A placement without fault where one is found, else the one nearest to the place, with its
        faults. None where the place is not there, or no place at all is free (`Free`).

    Raises
    ------
    KeyError
        The job does not know the piece.
    """
    table = _Table(job, placements, piece, copy)
    if isinstance(place, At):
        return table.at(place, mirror=mirror and table.wanted.may_mirror)
    ways = [mirror and table.wanted.may_mirror]
    if table.wanted.may_mirror:
        ways.append(not ways[0])
    turns = QUARTERS if turn_deg is None else (turn_deg,)
    nearest: Found | None = None
    for way in ways:
        for candidates in _candidates(table, place, way, turns):
            found = table.first_good(candidates)
            if found is not None and not found.faults:
                return found
            nearest = nearest or found
    return None if isinstance(place, Free) else nearest


def turned(job: Job, lies: Placement, by_deg: float) -> Placement:
    """A piece turned about the middle of the box around it."""
    wanted = job.wanted_by_id[lies.piece]
    before = _middle(lies.lay(wanted.outline))
    turn = (lies.turn_deg + by_deg) % 360.0
    after = _middle(replace(lies, turn_deg=turn).lay(wanted.outline))
    return replace(
        lies,
        turn_deg=turn,
        x_mm=lies.x_mm + before[0] - after[0],
        y_mm=lies.y_mm + before[1] - after[1],
    )


def _middle(outline: Polygon) -> Spot:
    x0, y0, x1, y1 = outline.bounds
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0


def edges_of(job: Job, metal: Stock) -> Array:
    """The clean straight edges (x0, y0, x1, y1; metal on their left), longest first; bounded."""
    if job.hands is not None:
        runs = metal_edges(job, job.hands, metal, Kept()).runs
    elif metal.clean_edges:
        runs = np.vstack([sides_of(part, CORNER_LEAST_MM).runs for part in metal.parts])
    else:
        runs = np.empty((0, 4))
    order = np.argsort(-np.hypot(runs[:, 2] - runs[:, 0], runs[:, 3] - runs[:, 1]), kind="stable")
    found: Array = runs[order[:MOST_LISTED]]
    return found


def corners_of(metal: Stock) -> list[tuple[Array, Array]]:
    """The corners between two straight edges, clean or rough: the edge that leads into each and
    the one that leads out of it, metal on their left; the lowest first, bounded."""
    found = []
    for part in metal.parts:
        runs = sides_of(part, CORNER_LEAST_MM).runs
        for one in runs:
            for other in runs:
                if math.dist(one[2:], other[:2]) > 0.2 or one is other:
                    continue
                angle = _angle(other) - _angle(one)
                if 20.0 <= angle % 360.0 <= 160.0:
                    found.append((one, other))
    found.sort(key=lambda pair: (round(pair[1][1], 1), round(pair[1][0], 1)))
    return found[:MOST_LISTED]


def _angle(line: Array) -> float:
    return math.degrees(math.atan2(line[3] - line[1], line[2] - line[0]))


class _Table:
    """Everything but one copy of a piece lies; that one is tried here and there."""

    def __init__(self, job: Job, placements: Sequence[Placement], piece: str, copy: int) -> None:
        self.job, self.piece, self.copy = job, piece, copy
        self.wanted: Wanted = job.wanted_by_id[piece]
        self.others = [
            p
            for p in placements
            if (p.piece, p.copy) != (piece, copy)
            and p.piece in job.wanted_by_id
            and p.metal in job.stock_by_id
            and p.is_finite
        ]
        self._kept = Kept()
        self._around: dict[str, tuple[BaseGeometry, shapely.STRtree, list[Polygon]]] = {}
        self._looked = self._asked = 0
        self._as_it_was = set(self._faults(self.others))

    @cached_property
    def straight_mm(self) -> float:
        return CORNER_LEAST_MM if self.job.hands is None else self.job.hands.straight_min_mm

    @property
    def shared_mm(self) -> float:
        return self.job.kerf_mm if self.job.hands is None else self.job.hands.shared_mm

    def _faults(self, placements: Sequence[Placement]) -> tuple[Fault, ...]:
        self._kept.next_answer()
        return faults_of(self.job, placements, self._kept)

    def judged(self, p: Placement) -> Found:
        """What the judge says of the piece there, and of others because of it."""
        found = self._faults([*self.others, p])
        key = (self.piece, self.copy)
        own = [
            fault
            for fault in found
            if key in ((fault.piece, fault.copy), (fault.other, fault.other_copy))
            or fault not in self._as_it_was
        ]
        return Found(p, tuple(own))

    def at(self, place: At, *, mirror: bool) -> Found | None:
        if place.metal not in self.job.stock_by_id:
            return None
        return self.judged(
            self.lying(place.metal, mirror, place.turn_deg, (place.x_mm, place.y_mm))
        )

    def lying(self, metal: str, mirror: bool, turn: float, corner: Spot) -> Placement:
        """With the lower left of the box around it at `corner`."""
        p = Placement(self.piece, self.copy, metal, mirror, turn % 360.0, 0.0, 0.0)
        x0, y0, _, _ = p.lay(self.wanted.outline).bounds
        return replace(p, x_mm=corner[0] - x0, y_mm=corner[1] - y0)

    def shape(self, metal: str, mirror: bool, turn: float) -> Array:
        """The corners of the piece as it is turned, not yet shifted."""
        p = Placement(self.piece, self.copy, metal, mirror, turn, 0.0, 0.0)
        corners: Array = shapely.get_coordinates(p.lay(self.wanted.outline).exterior)
        return corners

    def may_turn(self, metal: Stock, mirror: bool, turn: float) -> bool:
        turns = allowed_turns(self.wanted, metal, mirror=mirror)
        return turns is None or any(turns_apart(turn, one) <= SAME_TURN_DEG for one in turns)

    def turns(self, metal: Stock, mirror: bool, wished: Sequence[float]) -> list[float]:
        """The wished turns as far as they are allowed, else those that are."""
        allowed = allowed_turns(self.wanted, metal, mirror=mirror)
        fit = [turn for turn in wished if self.may_turn(metal, mirror, turn)]
        return fit or list(wished if allowed is None else allowed[:8])

    def runs(self, mirror: bool) -> Array:
        """The piece's straight runs, longest first; as drawn, or as its mirror image."""
        runs = sides_of(self.wanted.outline, self.straight_mm, mirror=mirror).runs
        length = np.hypot(runs[:, 2] - runs[:, 0], runs[:, 3] - runs[:, 1])
        found: Array = runs[np.argsort(-length, kind="stable")[:RUNS]]
        return found

    def _on(self, metal: str) -> tuple[BaseGeometry, shapely.STRtree, list[Polygon]]:
        """A stock piece, a little larger than it is, and what lies on it."""
        if metal not in self._around:
            around = self.job.stock_by_id[metal].outline.buffer(ON_METAL_MM)
            shapely.prepare(around)
            laid = [
                q.lay(self.job.wanted_by_id[q.piece].outline)
                for q in self.others
                if q.metal == metal
            ]
            self._around[metal] = around, shapely.STRtree(laid), laid
        return self._around[metal]

    def might_fit(self, p: Placement) -> bool:
        """No for what the judge would refuse at a glance: off the metal, or onto a piece."""
        around, tree, laid = self._on(p.metal)
        outline = p.lay(self.wanted.outline)
        if not around.covers(outline):
            return False
        kerf = self.job.kerf_mm
        if kerf > ON_METAL_MM:
            return not len(tree.query(outline, predicate="dwithin", distance=kerf - TOLERANCE_MM))
        near = tree.query(outline, predicate="intersects")
        return not any(shapely.relate_pattern(outline, laid[k], "T********") for k in near)

    def is_apart(self, p: Placement, far: float) -> bool:
        """Whether no piece on the same metal is nearer than `far`."""
        tree = self._on(p.metal)[1]
        return not len(tree.query(p.lay(self.wanted.outline), predicate="dwithin", distance=far))

    def first_good(self, candidates: Iterable[Placement]) -> Found | None:
        """The first that the judge passes, else the first that may all but fit, with its faults."""
        first: Placement | None = None
        fits = False
        for p in candidates:
            first = first or p
            self._looked += 1
            if self._looked > LOOKED_AT or self._asked > JUDGED:
                break
            if not self.might_fit(p):
                continue
            if not fits:
                first, fits = p, True
            self._asked += 1
            found = self.judged(p)
            if not found.faults:
                return found
        return None if first is None else self.judged(first)


def _candidates(
    table: _Table, place: Place, mirror: bool, turns: Sequence[float]
) -> Iterator[Iterator[Placement]]:
    """Placements to try in turn, a row of them for each way in which the piece may lie there."""
    match place:
        case Corner(metal, number):
            stock = table.job.stock_by_id.get(metal)
            corners = corners_of(stock) if stock is not None else []
            if stock is not None and 0 <= number < len(corners):
                yield from _in_corner(table, stock, corners[number], mirror, turns)
        case Edge(metal, number):
            stock = table.job.stock_by_id.get(metal)
            edges = edges_of(table.job, stock) if stock is not None else np.empty((0, 4))
            if stock is not None and 0 <= number < len(edges):
                yield from _along_edge(table, stock, edges[number], mirror, turns)
        case Beside(piece, copy):
            for lies in table.others:
                if (lies.piece, lies.copy) == (piece, copy):
                    yield from _beside(table, lies, mirror, turns)
        case Free(metal):
            for stock in table.job.metal:
                if metal in (None, stock.id):
                    yield from _free(table, stock, mirror, turns)


def _in_corner(
    table: _Table,
    stock: Stock,
    corner: tuple[Array, Array],
    mirror: bool,
    turns: Sequence[float],
    *,
    slide: bool = True,
) -> Iterator[Iterator[Placement]]:
    """Into the corner: a run on one edge or the other and the rest against the second; then
    sliding away from the corner along either edge."""
    clean = [_is_clean(table.job, stock, line) for line in corner]
    ways: list[tuple[float, tuple[bool, bool]]] = []  # turn, and whether it lies on either edge
    for run in table.runs(mirror):
        for number, line in enumerate(corner):
            if clean[number]:
                turn = (_angle(line) - _angle(run)) % 360.0
                ways.append((turn, (number == 0, number == 1)))
    ways += [(turn, (False, False)) for turn in table.turns(stock, mirror, turns)]
    ways = [(turn, on) for turn, on in ways if table.may_turn(stock, mirror, turn)]
    ways.sort(key=lambda way: -_spared(table, corner, clean, mirror, way[0]))
    yield (
        Placement(table.piece, table.copy, stock.id, mirror, turn, *spot)
        for turn, on in ways
        for far_into in _apart(table.job, clean[0], on[0])
        for far_out in _apart(table.job, clean[1], on[1])
        if (spot := _meet(table.shape(stock.id, mirror, turn), *corner, (far_into, far_out)))
    )
    for turn, on in ways if slide else ():
        far = tuple(_apart(table.job, clean[k], on[k])[-1] for k in (0, 1))
        yield _slid_from_corner(table, stock, mirror, turn, corner, (far[0], far[1]))


def _spared(
    table: _Table, corner: tuple[Array, Array], clean: Sequence[bool], mirror: bool, turn: float
) -> float:
    """How much of the piece's straight sides would lie on the clean edges of a corner, in mm."""
    spared = 0.0
    for run in table.runs(mirror):
        angle = _angle(run) + turn
        if any(
            is_clean and turns_apart(angle, _angle(line)) < ALONG_DEG
            for line, is_clean in zip(corner, clean, strict=True)
        ):
            spared += math.dist(run[:2], run[2:])
    return spared


def _apart(job: Job, clean: bool, lies: bool) -> tuple[float, ...]:
    """How far from an edge the piece is to lie, nearest first."""
    if not clean:
        return (job.edge_gap_mm,)
    return (0.0,) if lies else (0.0, job.gap_mm)


def _slid_from_corner(
    table: _Table,
    stock: Stock,
    mirror: bool,
    turn: float,
    corner: tuple[Array, Array],
    far: tuple[float, float],
) -> Iterator[Placement]:
    into, out = corner
    spot = _meet(table.shape(stock.id, mirror, turn), into, out, far)
    if spot is None:
        return

    def lying(at: Spot) -> Placement:
        return Placement(table.piece, table.copy, stock.id, mirror, turn, *at)

    yield lying(spot)
    back = (-_way(into)[0], -_way(into)[1])
    for way, line in ((_way(out), out), (back, into)):
        yield from _slide(table, lying, spot, way, math.dist(line[:2], line[2:]))


def _meet(shape: Array, into: Array, out: Array, far: tuple[float, float]) -> Spot | None:
    """The shift that brings a shape so far from both lines, on their left."""
    rows, wanted = [], []
    for line, distance in ((into, far[0]), (out, far[1])):
        ux, uy = _way(line)
        normal = (-uy, ux)
        least = float((shape @ np.array(normal)).min())
        rows.append(normal)
        wanted.append(normal[0] * line[0] + normal[1] * line[1] + distance - least)
    (a, b), (c, d) = rows
    det = a * d - b * c
    if abs(det) < 1e-6:
        return None
    return (
        float((wanted[0] * d - b * wanted[1]) / det),
        float((a * wanted[1] - wanted[0] * c) / det),
    )


def _along_edge(
    table: _Table, stock: Stock, edge: Array, mirror: bool, turns: Sequence[float]
) -> Iterator[Iterator[Placement]]:
    """A run on the edge, from either end of it inwards; without one the piece at its gap."""
    ways = [((_angle(edge) - _angle(run)) % 360.0, 0.0) for run in table.runs(mirror)]
    ways += [(turn, table.job.gap_mm) for turn in table.turns(stock, mirror, turns)]
    for turn, far in ways:
        if table.may_turn(stock, mirror, turn):
            yield _slid_along(table, stock.id, edge, mirror, turn, far)


def _slid_along(
    table: _Table, metal: str, line: Array, mirror: bool, turn: float, far: float
) -> Iterator[Placement]:
    """So far to the left of a line, its beginning first, then along it to its end."""
    shape = table.shape(metal, mirror, turn)
    ux, uy = _way(line)
    along = shape @ np.array((ux, uy))
    across = float((shape @ np.array((-uy, ux))).min())
    length = math.dist(line[:2], line[2:])
    low = float(along.min())
    room = length - float(along.max() - along.min())
    offset = far - across

    def lying(at: Spot) -> Placement:
        return Placement(table.piece, table.copy, metal, mirror, turn, *at)

    def spot(t: float) -> Spot:
        s = t - low
        return (
            float(line[0]) + ux * s - uy * offset,
            float(line[1]) + uy * s + ux * offset,
        )

    begins = (0.0, table.job.gap_mm, table.job.edge_gap_mm)
    for t in begins:
        if t <= room + 1e-9:
            yield lying(spot(t))
    for t in begins:
        if room - t >= 0.0:
            yield lying(spot(room - t))
    yield from _slide(table, lying, spot(0.0), (ux, uy), max(room, 0.0))


def _slide(
    table: _Table, lying: Callable[[Spot], Placement], start: Spot, way: Spot, length: float
) -> Iterator[Placement]:
    """Spots along a way, each drawn back as near to where it cannot lie as it can.

    Where a spot is free after one that was not, the piece is also tried at just a shared line's
    width, and at the gap, from what it was held up by.
    """
    step = max(LEAST_STEP_MM, length / STEPS)
    count = int(length / step)
    held = False

    def at(t: float) -> Placement:
        return lying((start[0] + way[0] * t, start[1] + way[1] * t))

    for k in range(1, count + 1):
        t = k * step
        if not table.might_fit(at(t)):
            held = True
            continue
        if held:
            held = False
            low, high = t - step, t
            for _ in range(HALVINGS):
                middle = (low + high) / 2.0
                low, high = (low, middle) if table.might_fit(at(middle)) else (middle, high)
            kerf, gap = table.job.kerf_mm, table.job.gap_mm
            yield at(high + table.shared_mm - kerf)
            yield at(high + gap - kerf + NUDGE_MM)
            yield from _nearest_gap(table, at, high, t, gap)
        yield at(t)


def _nearest_gap(
    table: _Table, at: Callable[[float], Placement], low: float, high: float, gap: float
) -> Iterator[Placement]:
    """Between two spots, where a slanted neighbour is just far enough."""
    reach = high + 2.0 * gap + LEAST_STEP_MM

    def far_enough(t: float) -> bool:
        return table.is_apart(at(t), gap)

    if not far_enough(reach):
        return
    for _ in range(HALVINGS):
        middle = (low + reach) / 2.0
        low, reach = (low, middle) if far_enough(middle) else (middle, reach)
    yield at(reach + NUDGE_MM)


def _beside(
    table: _Table, lies: Placement, mirror: bool, turns: Sequence[float]
) -> Iterator[Iterator[Placement]]:
    """Along a straight side of another piece, a shared line apart; else at the gap around it."""
    stock = table.job.stock_by_id[lies.metal]
    other = table.job.wanted_by_id[lies.piece]
    sides = sides_of(other.outline, table.straight_mm, mirror=lies.mirror).laid(lies).runs
    length = np.hypot(sides[:, 2] - sides[:, 0], sides[:, 3] - sides[:, 1])
    for side in sides[np.argsort(-length, kind="stable")[:RUNS]]:
        line = side[[2, 3, 0, 1]]  # the free side on its left
        for run in table.runs(mirror):
            turn = (_angle(line) - _angle(run)) % 360.0
            if table.may_turn(stock, mirror, turn):
                yield _along_side(table, lies.metal, line, run, mirror, turn)
    outline = lies.lay(other.outline)
    for turn in table.turns(stock, mirror, turns):
        yield _around(table, lies.metal, outline, mirror, turn)


def _along_side(
    table: _Table, metal: str, line: Array, run: Array, mirror: bool, turn: float
) -> Iterator[Placement]:
    """One run of the piece a shared line from another's side: ends flush, then shifted along."""
    angle = math.radians(turn)
    c, s = math.cos(angle), math.sin(angle)
    laid = [(x * c - y * s, x * s + y * c) for x, y in (run[:2], run[2:])]
    ux, uy = _way(line)
    own = math.dist(laid[0], laid[1])
    length = math.dist(line[:2], line[2:])
    shape = table.shape(metal, mirror, turn)
    across = float((shape @ np.array((-uy, ux))).min())
    level = -uy * laid[0][0] + ux * laid[0][1]
    # a run bends by some hundredths: its outermost point keeps the width, where it is outermost
    inmost = min(level, across) if level - across < 0.06 else level
    offset = float(table.shared_mm - inmost)
    begin = ux * laid[0][0] + uy * laid[0][1]
    starts = [0.0, length - own]
    least = table.straight_mm
    span = max(length, own)
    starts += [t for k in range(1, 25) for t in (k * span / 12.0, -k * span / 12.0)]
    for t in starts:
        if min(length, t + own) - max(0.0, t) < least - 1e-6:
            continue
        along = t - begin
        yield Placement(
            table.piece,
            table.copy,
            metal,
            mirror,
            turn,
            float(line[0] + ux * along - uy * offset),
            float(line[1] + uy * along + ux * offset),
        )


def _around(
    table: _Table, metal: str, outline: Polygon, mirror: bool, turn: float
) -> Iterator[Placement]:
    """At the gap from another piece, in directions all around it, the right of it first."""
    own = table.lying(metal, mirror, turn, (0.0, 0.0))
    shape = own.lay(table.wanted.outline)
    (mx, my), (ox, oy) = _middle(shape), _middle(outline)
    x0, y0, x1, y1 = outline.bounds
    a0, b0, a1, b1 = shape.bounds
    reach = math.hypot(x1 - x0, y1 - y0) + math.hypot(a1 - a0, b1 - b0)
    gap = table.job.gap_mm
    for k in range(DIRECTIONS):
        angle = 2.0 * math.pi * k / DIRECTIONS
        wx, wy = math.cos(angle), math.sin(angle)

        def at(t: float, wx: float = wx, wy: float = wy) -> Placement:
            return replace(own, x_mm=own.x_mm + ox - mx + wx * t, y_mm=own.y_mm + oy - my + wy * t)

        low, high = 0.0, reach
        for _ in range(HALVINGS + 4):
            middle = (low + high) / 2.0
            far = at(middle).lay(table.wanted.outline).distance(outline)
            low, high = (low, middle) if far >= gap else (middle, high)
        yield at(high + NUDGE_MM)


def _free(
    table: _Table, stock: Stock, mirror: bool, turns: Sequence[float]
) -> Iterator[Iterator[Placement]]:
    """Corners first, then edges, then beside what lies, then wherever a grid finds room."""
    for corner in corners_of(stock):
        yield from _in_corner(table, stock, corner, mirror, turns, slide=False)
    for edge in edges_of(table.job, stock):
        yield from _along_edge(table, stock, edge, mirror, turns)
    for lies in table.others:
        if lies.metal == stock.id:
            yield from _beside(table, lies, mirror, turns)
    for turn in table.turns(stock, mirror, turns):
        yield _on_grid(table, stock, mirror, turn)


def _on_grid(table: _Table, stock: Stock, mirror: bool, turn: float) -> Iterator[Placement]:
    """Spots all over the metal, from its lower left on; each room is looked at with its gap."""
    own = table.lying(stock.id, mirror, turn, (0.0, 0.0))
    shape = own.lay(table.wanted.outline)
    _, _, wide, high = shape.bounds
    x0, y0, x1, y1 = stock.outline.bounds
    columns = max(1, min(GRID, int((x1 - x0 - wide) / LEAST_STEP_MM)))
    rows = max(1, min(GRID, int((y1 - y0 - high) / LEAST_STEP_MM)))
    if x1 - x0 < wide or y1 - y0 < high:
        return
    for row in range(rows + 1):
        for column in range(columns + 1):
            x = x0 + (x1 - x0 - wide) * column / columns
            y = y0 + (y1 - y0 - high) * row / rows
            p = replace(own, x_mm=own.x_mm + x, y_mm=own.y_mm + y)
            if table.is_apart(p, table.job.gap_mm):
                yield p


def _way(line: Array) -> Spot:
    length = math.dist(line[:2], line[2:])
    return float(line[2] - line[0]) / length, float(line[3] - line[1]) / length


def _is_clean(job: Job, stock: Stock, line: Array) -> bool:
    """Whether an edge of the metal is clean where it is longest."""
    for run in edges_of(job, stock):
        if abs((_angle(run) - _angle(line) + 180.0) % 360.0 - 180.0) > 0.5:
            continue
        ux, uy = _way(line)
        off = [abs(-uy * (run[i] - line[0]) + ux * (run[i + 1] - line[1])) for i in (0, 2)]
        if max(off) < 0.2:
            return True
    return False
