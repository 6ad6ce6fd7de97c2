"""Simple ways to place, as a measure for ours: a raster fill and one rectangle per piece."""

from __future__ import annotations

from studio.core.cutting.job import Job, Placement
from studio.core.placing.laying.fill import one_after_another, raster_fill
from studio.core.placing.laying.sheets import Sheet
from studio.core.placing.shapes import Variant

__all__ = ["raster_fill", "shelves"]


def shelves(job: Job) -> list[Placement]:
    """One rectangle per piece, in rows across the metal: what scissors and a ruler would do."""
    rows: dict[int, list[float]] = {}  # by sheet: left end of the row, its right end, next y

    def next_in_row(sheet: Sheet, variants: list[Variant]) -> tuple[Variant, float, float] | None:
        sx0, sy0, _, sy1 = sheet.bounds
        left, right, at = rows.setdefault(id(sheet), [sx0, sx0, sy0])
        for new_row in (False, True):
            if new_row:
                left, at = right, sy0
            for variant in variants:
                x0, y0, x1, y1 = variant.bounds
                if at + y1 - y0 <= sy1 and sheet.fits(variant, left - x0, at - y0):
                    kerf = variant.gap
                    end = max(right, left + x1 - x0 + kerf)
                    rows[id(sheet)] = [left, end, at + y1 - y0 + kerf]
                    return variant, left - x0, at - y0
        return None

    return one_after_another(job, next_in_row, lambda: True, fine=False)
