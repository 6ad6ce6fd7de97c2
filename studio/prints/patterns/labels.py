"""Where do pieces have their names on a paper? In the roomiest place that no hole and no surface
line needs. Pure; millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Point, Polygon

from studio.core.areas import united, without
from studio.prints.paper.drill_sizes import words_box
from studio.prints.paper.lettering import LETTER_EM

from .cutouts import Cutout, PieceOnPaper

MOST_MM = 5.0
LEAST_MM = 1.8


@dataclass(frozen=True, slots=True)
class Label:
    """What a piece is called on its paper, and the size of the letters."""

    text: str
    at: Point
    size_mm: float

    @property
    def box(self) -> Polygon:
        return words_box(self.at.x, self.at.y, self.text, self.size_mm)


def labels_on(cutout: Cutout) -> list[Label]:
    """The names that find room on their pieces; the others stand in the caption alone."""
    found = [_label(one) for one in cutout.pieces]
    return [label for label in found if label.size_mm >= LEAST_MM]


def _label(one: PieceOnPaper) -> Label:
    text = one.label or one.piece
    room: Polygon | MultiPolygon = one.outline
    for clear_mm in (4.0, 1.5):  # room for a diameter beside a hole, or for its cross at least
        taken = [mark.at.buffer((mark.diameter_mm or 0.0) / 2 + clear_mm) for mark in one.marks]
        taken += [line.buffer(0.4) for line in one.surface]
        rest = without(one.outline, united(taken))
        if isinstance(rest, Polygon | MultiPolygon) and not rest.is_empty:
            room = rest
            break
    circle = shapely.maximum_inscribed_circle(room, tolerance=0.1)
    size = min(MOST_MM, 1.5 * circle.length / max(1.0, LETTER_EM * len(text)))
    return Label(text, Point(circle.coords[0]), size)
