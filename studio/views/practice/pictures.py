"""How a practice sheet looks before anything is laid: its metal, and the pieces beneath."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from studio.core.picturing.edges import rough_lines
from studio.core.picturing.paths import Flip, numbers
from studio.core.practice import BY_CODE, spread

APART_MM: Final = 5.0
MARGIN_MM: Final = 3.0
SCREEN_MM: Final = 0.1
"""Points of an outline that nobody misses at this size are left out."""


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """Paths in millimetres, y downwards."""

    view_box: str
    metal: str
    rough: str
    pieces: str


@lru_cache(maxsize=32)
def sheet_picture(code: str) -> SheetPicture:
    sheet = BY_CODE[code]
    metal = sheet.job.metal[0]
    x0, y0, x1, y1 = metal.outline.bounds
    width = x1 - x0
    (page,) = spread(sheet.job, width, 10_000.0, apart_mm=APART_MM)
    deep = -min(one.outline.bounds[1] for one in page)
    above = y1 - y0 + 2 * APART_MM
    on_metal = Flip(x0, y1, SCREEN_MM)
    beneath = Flip(0.0, above, SCREEN_MM)
    box = (-MARGIN_MM, -MARGIN_MM, width + 2 * MARGIN_MM, above + deep + 2 * MARGIN_MM)
    return SheetPicture(
        numbers(*box),
        on_metal.path(metal.parts),
        on_metal.lines(rough_lines(metal).geoms),
        beneath.path(one.outline for one in page),
    )
