"""Which way does the grain run in each stock piece? Known of sheets, and of what was cut from them.

Nobody marks the grain on metal; a school that says how it runs in its sheets knows it of every
offcut too, because an offcut keeps the directions of the piece it was cut from.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from inventory.models import StockPiece
from studio.models import PlacingSettings

MOST_GENERATIONS: Final = 30
NEARLY_SQUARE: Final = 1.02
"""Of a sheet whose sides differ by less, nobody can say which one is the longer."""

ALONG_X, ALONG_Y = 0.0, 90.0


def grains_of(stock: Iterable[StockPiece], rule: str) -> dict[int, float | None]:
    """The grain's direction in degrees for each stock piece (by pk); None where it is unknown.

    `rule` is a `PlacingSettings.SheetGrain`. One query for each generation of offcuts.
    """
    pieces = list(stock)
    if rule not in (PlacingSettings.SheetGrain.LONGER, PlacingSettings.SheetGrain.SHORTER):
        return dict.fromkeys((piece.pk for piece in pieces), None)
    root = {piece.pk: piece for piece in pieces}
    for _ in range(MOST_GENERATIONS):
        wanted = {one.parent_id for one in root.values() if one.parent_id is not None}
        if not wanted:
            break
        parents = StockPiece.objects.in_bulk(wanted)
        root = {
            pk: parents[one.parent_id] if one.parent_id is not None else one
            for pk, one in root.items()
        }
    return {pk: _of_sheet(one, rule) for pk, one in root.items()}


def _of_sheet(piece: StockPiece, rule: str) -> float | None:
    if piece.kind != StockPiece.Kind.SHEET:
        return None
    wide, high = float(piece.width_mm), float(piece.height_mm)
    if max(wide, high) < NEARLY_SQUARE * min(wide, high):
        return None
    along_x = (wide > high) == (rule == PlacingSettings.SheetGrain.LONGER)
    return ALONG_X if along_x else ALONG_Y
