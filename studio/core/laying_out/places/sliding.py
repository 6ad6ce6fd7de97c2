"""Along a line or out of a corner, spot by spot, each drawn back to what it cannot pass."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Final

import numpy as np

from studio.core.cutting.job import Placement, Stock

from .metal_lines import (
    Array,
    Spot,
    way_of,
)
from .trying import Table

STEPS: Final = 120
"""Along an edge or a line a piece is tried at so many spots at most."""
LEAST_STEP_MM: Final = 0.5
NUDGE_MM: Final = 0.0005
HALVINGS: Final = 14


def slid_from_corner(
    table: Table,
    stock: Stock,
    mirror: bool,
    turn: float,
    corner: tuple[Array, Array],
    far: tuple[float, float],
) -> Iterator[Placement]:
    into, out = corner
    spot = meet(table.shape(stock.id, mirror, turn), into, out, far)
    if spot is None:
        return

    def lying(at: Spot) -> Placement:
        return Placement(table.piece, table.copy, stock.id, mirror, turn, *at)

    yield lying(spot)
    back = (-way_of(into)[0], -way_of(into)[1])
    for way, line in ((way_of(out), out), (back, into)):
        yield from _slide(table, lying, spot, way, math.dist(line[:2], line[2:]))


def meet(shape: Array, into: Array, out: Array, far: tuple[float, float]) -> Spot | None:
    """The shift that brings a shape so far from both lines, on their left."""
    rows, wanted = [], []
    for line, distance in ((into, far[0]), (out, far[1])):
        ux, uy = way_of(line)
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


def slid_along(
    table: Table, metal: str, line: Array, mirror: bool, turn: float, far: float
) -> Iterator[Placement]:
    """So far to the left of a line, its beginning first, then along it to its end."""
    shape = table.shape(metal, mirror, turn)
    ux, uy = way_of(line)
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
    table: Table, lying: Callable[[Spot], Placement], start: Spot, way: Spot, length: float
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
    table: Table, at: Callable[[float], Placement], low: float, high: float, gap: float
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
