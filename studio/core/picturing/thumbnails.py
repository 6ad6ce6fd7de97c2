"""A drawing small, without labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.core.drawing import Piece

from .paths import Flip, numbers, polygons_of


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """A drawing small: its view box, one path for the even-odd rule, and its size."""

    view_box: str
    path: str
    width_mm: float
    height_mm: float


def thumbnail(pieces: Sequence[Piece]) -> Thumbnail:
    """The pieces as drawn, without labels."""
    boxes = [piece.outline.bounds for piece in pieces] or [(0.0, 0.0, 1.0, 1.0)]
    x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
    x1, y1 = max(box[2] for box in boxes), max(box[3] for box in boxes)
    margin = 0.06 * max(x1 - x0, y1 - y0)
    view_box = numbers(-margin, -margin, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin)
    flip = Flip(x0, y1)
    path = flip.path(p for piece in pieces for p in polygons_of(piece.outline.simplify(0.1)))
    return Thumbnail(view_box, path, x1 - x0, y1 - y0)
