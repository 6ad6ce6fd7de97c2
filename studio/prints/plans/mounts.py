"""Which piece lies where on a stock piece, its holes, and where its label has most room. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Point, Polygon

from studio.core.areas import united, without
from studio.core.cutting import Placement
from studio.prints.paper.lettering import LETTER_EM

LABEL_MOST_MM = 5.0
PILOT_LEAST_MM = 0.8  # drawn so wide where no drill is known


@dataclass(frozen=True, slots=True)
class Mount:
    """Which copy of which piece lies where, and what it is called."""

    placement: Placement
    outline: Polygon
    label: str
    group: str


@dataclass(frozen=True, slots=True)
class HoleOnMetal:
    """A hole to drill: whose, where, how wide (None where no blade is known)."""

    piece: str
    copy: int
    at: Point
    diameter_mm: float | None

    @property
    def wide_mm(self) -> float:
        """Its width as drawn."""
        return self.diameter_mm or PILOT_LEAST_MM


def marks_on(mount: Mount, holes: Sequence[HoleOnMetal]) -> list[Point]:
    own = (mount.placement.piece, mount.placement.copy)
    return [hole.at for hole in holes if (hole.piece, hole.copy) == own]


def label_in(mount: Mount, marks: Sequence[Point], scale: float = 1.0) -> tuple[Point, float]:
    """The roomiest place on a piece and the size of letters that fit there, on paper."""
    room: Polygon | MultiPolygon = mount.outline
    if marks:
        clear = without(mount.outline, united(at.buffer(2.5) for at in marks))
        if isinstance(clear, Polygon | MultiPolygon) and not clear.is_empty:
            room = clear
    circle = shapely.maximum_inscribed_circle(room, tolerance=0.2)
    letters = max(1.0, LETTER_EM * len(mount.label))
    size = min(LABEL_MOST_MM, 1.5 * circle.length * scale / letters)
    return Point(circle.coords[0]), size
