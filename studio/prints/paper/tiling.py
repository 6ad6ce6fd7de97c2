"""How is a drawing larger than the page divided, so that the sheets can be joined true?

Tiles overlap by 10 mm. In the middle of each overlap runs a seam with register marks that both
tiles print; rows have letters from the top, columns numbers from the left: A1, A2, B1 …
Coordinates are the drawing's picture: millimetres, y down, origin upper left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .sizes import Area

OVERLAP_MM = 10.0
MARK_EVERY_MM = 60.0


@dataclass(frozen=True, slots=True)
class Tile:
    """One page's window on the drawing."""

    name: str
    x: float
    y: float
    width_mm: float
    height_mm: float
    neighbours: tuple[tuple[str, str], ...]  # side ("left", "above" …) and name

    def holds(self, x: float, y: float, margin: float = 0.0) -> bool:
        return (
            self.x - margin <= x <= self.x + self.width_mm + margin
            and self.y - margin <= y <= self.y + self.height_mm + margin
        )


@dataclass(frozen=True, slots=True)
class Tiling:
    """All tiles of one drawing, row by row, with seams and register marks."""

    width_mm: float
    height_mm: float
    columns: int
    rows: int
    tiles: tuple[Tile, ...]
    seams_x: tuple[float, ...]
    seams_y: tuple[float, ...]
    marks: tuple[tuple[float, float], ...]

    @property
    def is_one(self) -> bool:
        return len(self.tiles) == 1


def tile(width: float, height: float, area: Area, overlap: float = OVERLAP_MM) -> Tiling:
    """The fewest tiles of at most `area` that cover a drawing of `width` by `height`.

    Raises ValueError where the area is not larger than the overlap.
    """
    if min(area.width_mm, area.height_mm) <= overlap:
        raise ValueError("the page leaves no room for a drawing")
    across = _spans(width, area.width_mm, overlap)
    down = _spans(height, area.height_mm, overlap)
    tiles = []
    for row, (y, tall) in enumerate(down):
        for column, (x, wide) in enumerate(across):
            tiles.append(
                Tile(
                    _name(row, column),
                    x,
                    y,
                    wide,
                    tall,
                    _around(row, column, len(down), len(across)),
                )
            )
    seams_x = tuple(x + overlap / 2 for x, _ in across[1:])
    seams_y = tuple(y + overlap / 2 for y, _ in down[1:])
    marks = {
        (round(x, 6), round(y, 6)) for x in seams_x for span in down for y in _along(span, overlap)
    } | {
        (round(x, 6), round(y, 6))
        for y in seams_y
        for span in across
        for x in _along(span, overlap)
    }
    return Tiling(
        width, height, len(across), len(down), tuple(tiles), seams_x, seams_y, tuple(sorted(marks))
    )


def _spans(length: float, most: float, overlap: float) -> list[tuple[float, float]]:
    """Start and length of each span; all of one length where there are several."""
    if length <= most:
        return [(0.0, length)]
    count = math.ceil((length - overlap) / (most - overlap) - 1e-9)
    each = (length + (count - 1) * overlap) / count
    return [(k * (each - overlap), each) for k in range(count)]


def _along(span: tuple[float, float], overlap: float) -> list[float]:
    """Where register marks stand along a seam within a span: near both ends, and between."""
    start, length = span
    inset = overlap + 4.0
    if length <= 2 * inset:
        return [start + length / 2]
    steps = max(1, math.ceil((length - 2 * inset) / MARK_EVERY_MM))
    step = (length - 2 * inset) / steps
    return [start + inset + k * step for k in range(steps + 1)]


def _name(row: int, column: int) -> str:
    letters = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{column + 1}"


def _around(row: int, column: int, rows: int, columns: int) -> tuple[tuple[str, str], ...]:
    """The neighbours of a tile: side and name."""
    sides = (
        ("left", row, column - 1),
        ("right", row, column + 1),
        ("above", row - 1, column),
        ("below", row + 1, column),
    )
    return tuple((side, _name(r, c)) for side, r, c in sides if 0 <= r < rows and 0 <= c < columns)
