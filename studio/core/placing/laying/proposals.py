"""Rough places for a piece: free cells of the raster, and corners laid into corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from studio.core.placing.shapes import Variant

from .raster import Grid
from .sheets import Face


@dataclass(frozen=True, slots=True)
class Look:
    """How closely to look for rough places: how many grid lines, steps along each, and the
    number of proposals that are settled at most."""

    lines: int
    steps: tuple[int, ...]
    most: int


QUICK = Look(3, (0, 1), 60)
CLOSE = Look(30, (0, 1, 2, 4), 600)


def free_cells(
    grid: Grid, variant: Variant, free: npt.NDArray[np.bool_], fill: str, look: Look
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
        rows = np.argsort(first + 0.15 * np.arange(len(first)), kind="stable")[: look.lines]
        cells = [
            (int(row), int(first[row]) + step)
            for row in rows
            if first[row] < 1 << 30
            for step in look.steps
        ]
    else:
        first = np.where(view.any(axis=0), view.argmax(axis=0), 1 << 30)
        columns = np.argsort(first + 0.15 * np.arange(len(first)), kind="stable")[: look.lines]
        cells = [
            (int(first[c]) + step, int(c))
            for c in columns
            if first[c] < 1 << 30
            for step in look.steps
        ]
    height, width = free.shape
    found = []
    for row, column in cells:
        if row >= height or column >= width:
            continue
        if 0 in flips:
            row = height - 1 - row
        if 1 in flips:
            column = width - 1 - column
        found.append(grid.shift(variant, row, column))
    return found


def corner_places(
    face: Face, variant: Variant, overlap: npt.NDArray[np.float32], fill: str
) -> list[tuple[float, float]]:
    """Shifts that lay a corner of the piece in a corner of the free region, edge on edge."""
    own, rim = variant.corners, face.corners
    if not len(own) or not len(rim) or face.grid is None:
        return []
    arrive = np.abs((own[:, None, 2] - rim[None, :, 2] + np.pi) % (2 * np.pi) - np.pi) < 2e-3
    leave = np.abs((own[:, None, 3] - rim[None, :, 3] + np.pi) % (2 * np.pi) - np.pi) < 2e-3
    i, j = np.nonzero(arrive | leave)
    if not len(i):
        return []
    shifts = rim[j, :2] - own[i, :2]
    cell = face.grid.cell
    x0, y0, x1, y1 = variant.bounds
    column = np.round((shifts[:, 0] + x0 - face.grid.origin[0]) / cell - 1).astype(int)
    row = np.round((shifts[:, 1] + y0 - face.grid.origin[1]) / cell - 1).astype(int)
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
