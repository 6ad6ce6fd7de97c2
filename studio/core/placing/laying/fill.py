"""The plain fill: one piece after another, each in the first free cells of its metal's raster.

The search looks at it too where a piece found no place, so that it never places fewer.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from studio.core.cutting.job import Job, Placement, allowed_turns
from studio.core.placing.shapes import Shape, Variant

from .raster import Grid, Kernels
from .sheets import Sheet, extent, may_fit

CELLS_OF_A_FILL = 150_000
QUARTERS = (0.0, 90.0, 180.0, 270.0)

Place = Callable[[Sheet, list[Variant]], tuple[Variant, float, float] | None]


def raster_fill(job: Job, go_on: Callable[[], bool] = lambda: True) -> list[Placement]:
    """Bottom-left fill: largest first, each in the first free cells along x, then along y.

    It ends with what lies so far when `go_on` says no.
    """
    kernels = Kernels()

    def lowest(sheet: Sheet, variants: list[Variant]) -> tuple[Variant, float, float] | None:
        best: tuple[float, float, int] | None = None
        spot = (0.0, 0.0)
        assert sheet.grid is not None
        for number, variant in enumerate(variants):
            overlap = sheet.grid.overlap(variant, kernels)
            if overlap is None:
                continue
            free = np.argwhere((overlap < 0.5).T)  # sorted by column, then row
            for column, row in free[:40].tolist():
                x, y = sheet.grid.shift(variant, row, column)
                if not sheet.fits(variant, x, y):
                    continue
                x0, y0, x1, y1 = variant.bounds
                box = (x0 + x, y0 + y, x1 + x, y1 + y)
                rank = (extent(box, sheet.bounds, "E"), extent(box, sheet.bounds, "N"), number)
                if best is None or rank < best:
                    best, spot = rank, (x, y)
                break
        return None if best is None else (variants[best[2]], *spot)

    return one_after_another(job, lowest, go_on, fine=True)


def one_after_another(
    job: Job, place: Place, go_on: Callable[[], bool], *, fine: bool
) -> list[Placement]:
    shapes = [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)]
    copies = [(shape, copy) for shape in shapes for copy in range(shape.wanted.count)]
    copies.sort(key=lambda pair: -pair[0].covered)
    sheets = [Sheet(metal, job, 0.0) for metal in job.metal]
    sheets.sort(key=lambda sheet: sheet.area)
    for sheet in sheets:
        if fine and not sheet.free.is_empty:
            sheet.grid = Grid(sheet.free, _cell(sheet.free))
    full: set[tuple[int, int]] = set()
    placements: list[Placement] = []
    for shape, copy in copies:
        for number, sheet in enumerate(sheets):
            if sheet.grid is None or (number, shape.index) in full:
                continue
            if not go_on():
                return placements
            turns = allowed_turns(shape.wanted, sheet.metal, mirror=False)
            variants = [
                shape.variant(turn, mirror=False)
                for turn in (QUARTERS if turns is None else turns[:8])
            ]
            spot = place(sheet, [v for v in variants if may_fit(v, sheet)])
            if spot is None:
                full.add((number, shape.index))
                continue
            variant, x, y = spot[0], round(spot[1], 6), round(spot[2], 6)
            sheet.take([(variant, x, y)])
            placements.append(
                Placement(shape.wanted.id, copy, sheet.metal.id, False, variant.turn_deg, x, y)
            )
            break
    return placements


def _cell(free: Polygon | MultiPolygon) -> float:
    x0, y0, x1, y1 = free.bounds
    return float(np.sqrt((x1 - x0) * (y1 - y0) / CELLS_OF_A_FILL))
