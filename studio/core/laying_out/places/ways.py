"""In which ways a piece may lie at a place: rows of placements to try, the likeliest first."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from shapely.geometry import Polygon

from studio.core.cutting.job import Job, Placement, Stock, turns_apart
from studio.core.verifying.sides import sides_of

from .kinds import Beside, Corner, Edge, Free, Place
from .metal_lines import (
    Array,
    angle_of,
    corners_of,
    edges_of,
    is_clean,
    middle_of,
    way_of,
)
from .sliding import HALVINGS, LEAST_STEP_MM, NUDGE_MM, meet, slid_along, slid_from_corner
from .trying import RUNS, Table

GRID: Final = 34
ALONG_DEG: Final = 0.1
DIRECTIONS: Final = 16


def candidates(
    table: Table, place: Place, mirror: bool, turns: Sequence[float]
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
    table: Table,
    stock: Stock,
    corner: tuple[Array, Array],
    mirror: bool,
    turns: Sequence[float],
    *,
    slide: bool = True,
) -> Iterator[Iterator[Placement]]:
    """Into the corner: a run on one edge or the other and the rest against the second; then
    sliding away from the corner along either edge."""
    clean = [is_clean(table.job, stock, line) for line in corner]
    ways: list[tuple[float, tuple[bool, bool]]] = []  # turn, and whether it lies on either edge
    for run in table.runs(mirror):
        for number, line in enumerate(corner):
            if clean[number]:
                turn = (angle_of(line) - angle_of(run)) % 360.0
                ways.append((turn, (number == 0, number == 1)))
    ways += [(turn, (False, False)) for turn in table.turns(stock, mirror, turns)]
    ways = [(turn, on) for turn, on in ways if table.may_turn(stock, mirror, turn)]
    ways.sort(key=lambda way: -_spared(table, corner, clean, mirror, way[0]))
    yield (
        Placement(table.piece, table.copy, stock.id, mirror, turn, *spot)
        for turn, on in ways
        for far_into in _apart(table.job, clean[0], on[0])
        for far_out in _apart(table.job, clean[1], on[1])
        if (spot := meet(table.shape(stock.id, mirror, turn), *corner, (far_into, far_out)))
    )
    for turn, on in ways if slide else ():
        far = tuple(_apart(table.job, clean[k], on[k])[-1] for k in (0, 1))
        yield slid_from_corner(table, stock, mirror, turn, corner, (far[0], far[1]))


def _spared(
    table: Table, corner: tuple[Array, Array], clean: Sequence[bool], mirror: bool, turn: float
) -> float:
    """How much of the piece's straight sides would lie on the clean edges of a corner, in mm."""
    spared = 0.0
    for run in table.runs(mirror):
        angle = angle_of(run) + turn
        if any(
            is_clean and turns_apart(angle, angle_of(line)) < ALONG_DEG
            for line, is_clean in zip(corner, clean, strict=True)
        ):
            spared += math.dist(run[:2], run[2:])
    return spared


def _apart(job: Job, clean: bool, lies: bool) -> tuple[float, ...]:
    """How far from an edge the piece is to lie, nearest first."""
    if not clean:
        return (job.edge_gap_mm,)
    return (0.0,) if lies else (0.0, job.gap_mm)


def _along_edge(
    table: Table, stock: Stock, edge: Array, mirror: bool, turns: Sequence[float]
) -> Iterator[Iterator[Placement]]:
    """A run on the edge, from either end of it inwards; without one the piece at its gap."""
    ways = [((angle_of(edge) - angle_of(run)) % 360.0, 0.0) for run in table.runs(mirror)]
    ways += [(turn, table.job.gap_mm) for turn in table.turns(stock, mirror, turns)]
    for turn, far in ways:
        if table.may_turn(stock, mirror, turn):
            yield slid_along(table, stock.id, edge, mirror, turn, far)


def _beside(
    table: Table, lies: Placement, mirror: bool, turns: Sequence[float]
) -> Iterator[Iterator[Placement]]:
    """Along a straight side of another piece, a shared line apart; else at the gap around it."""
    stock = table.job.stock_by_id[lies.metal]
    other = table.job.wanted_by_id[lies.piece]
    sides = sides_of(other.outline, table.straight_mm, mirror=lies.mirror).laid(lies).runs
    length = np.hypot(sides[:, 2] - sides[:, 0], sides[:, 3] - sides[:, 1])
    for side in sides[np.argsort(-length, kind="stable")[:RUNS]]:
        line = side[[2, 3, 0, 1]]  # the free side on its left
        for run in table.runs(mirror):
            turn = (angle_of(line) - angle_of(run)) % 360.0
            if table.may_turn(stock, mirror, turn):
                yield _along_side(table, lies.metal, line, run, mirror, turn)
    outline = lies.lay(other.outline)
    for turn in table.turns(stock, mirror, turns):
        yield _around(table, lies.metal, outline, mirror, turn)


def _along_side(
    table: Table, metal: str, line: Array, run: Array, mirror: bool, turn: float
) -> Iterator[Placement]:
    """One run of the piece a shared line from another's side: ends flush, then shifted along."""
    angle = math.radians(turn)
    c, s = math.cos(angle), math.sin(angle)
    laid = [(x * c - y * s, x * s + y * c) for x, y in (run[:2], run[2:])]
    ux, uy = way_of(line)
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
    table: Table, metal: str, outline: Polygon, mirror: bool, turn: float
) -> Iterator[Placement]:
    """At the gap from another piece, in directions all around it, the right of it first."""
    own = table.lying(metal, mirror, turn, (0.0, 0.0))
    shape = own.lay(table.wanted.outline)
    (mx, my), (ox, oy) = middle_of(shape), middle_of(outline)
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
    table: Table, stock: Stock, mirror: bool, turns: Sequence[float]
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


def _on_grid(table: Table, stock: Stock, mirror: bool, turn: float) -> Iterator[Placement]:
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
