"""Rectangles cut into pieces without gap or overlap, and the same with saw cuts between them.

Every piece gives half a saw cut along all its sides, and so does the whole rectangle. What lay
side by side then lies one saw cut apart, and what lay on the rim lies on the metal's edge. On metal
just so high a hand would have to hit every place to the micrometre, so the metal has some room in
its height: what is lost is the saw cuts and that room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from .shapes import shrunk

Corner = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Part:
    """One piece where it lies in the rectangle, its corners anticlockwise.

    Parts of one `piece` are copies of the first of them, turned by `turn_deg` against it about
    their first corners.
    """

    piece: str
    corners: tuple[Corner, ...]
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Sawn:
    """A part with its saw cut off: its outline about its own origin, and where it comes to lie."""

    piece: str
    outline: Polygon
    turn_deg: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Dissection:
    """A rectangle from the origin to (`width_mm`, `height_mm`), and the parts that fill it."""

    width_mm: float
    height_mm: float
    parts: tuple[Part, ...]

    def sawn(self, cut_mm: float, room_mm: float = 0.0) -> list[Sawn]:
        """The parts on metal that is higher than they need (`metal_mm`) by `room_mm`.

        The metal's lower left corner is at the origin. Parts with a side on the upper edge, and none
        on the lower, lie on the metal's upper edge; the room is beneath them.
        """
        found = []
        for part in self.parts:
            left = shrunk(Polygon(part.corners), cut_mm / 2)
            x, y = part.corners[0]
            about = affinity.translate(left, -x, -y)
            about = affinity.rotate(about, -part.turn_deg, origin=(0.0, 0.0))
            lifted = room_mm if self._hangs(part) else 0.0
            shift = x - cut_mm / 2, y - cut_mm / 2 + lifted
            found.append(Sawn(part.piece, about, part.turn_deg, *shift))
        return found

    def _hangs(self, part: Part) -> bool:
        def on(height_mm: float) -> bool:
            return sum(y == height_mm for _, y in part.corners) > 1

        return on(self.height_mm) and not on(0.0)

    def metal_mm(self, cut_mm: float, room_mm: float = 0.0) -> tuple[float, float]:
        """Width and height of metal for the parts, the saw cuts between them and some room."""
        return self.width_mm - cut_mm, self.height_mm - cut_mm + room_mm


def least_length_mm(outlines: Sequence[Polygon], height_mm: float, cut_mm: float) -> float:
    """No layout of these pieces on a strip of this height can be shorter than this.

    Pieces keep a saw cut between them. So each, grown by half a saw cut, lies within the strip
    grown as much, and no two of them overlap: their areas add up to no more than the strip's.
    """
    half = cut_mm / 2
    grown = sum(float(shapely.buffer(one, half, quad_segs=64).area) for one in outlines)
    return grown / (height_mm + cut_mm) - cut_mm


FLAGS: Final = Dissection(
    72.0,
    40.0,
    (
        Part("flag", ((0, 0), (24, 0), (24, 40), (0, 40))),
        Part("pennant", ((24, 0), (72, 0), (72, 20))),
        Part("pennant", ((72, 20), (24, 20), (24, 0)), 180.0),
        Part("short flag", ((24, 20), (56, 20), (48, 40), (24, 40))),
        Part("long flag", ((56, 20), (72, 20), (72, 40), (48, 40))),
    ),
)
"""Our own: a rectangle parted by straight cuts into five signal flags."""

SEVEN: Final = Dissection(
    80.0,
    80.0,
    (
        Part("large triangle", ((40, 40), (0, 0), (80, 0))),
        Part("large triangle", ((40, 40), (0, 80), (0, 0)), -90.0),
        Part("middle triangle", ((80, 80), (40, 80), (80, 40))),
        Part("small triangle", ((60, 20), (80, 0), (80, 40))),
        Part("small triangle", ((40, 40), (60, 60), (20, 60)), 90.0),
        Part("square", ((40, 40), (60, 20), (80, 40), (60, 60))),
        Part("slanted piece", ((0, 80), (20, 60), (60, 60), (40, 80))),
    ),
)
"""The classical square of seven pieces."""


def _squares(unit_mm: float, width: int, height: int, places: dict[int, Corner]) -> Dissection:
    """A rectangle of squares, each other than all others: by size, where its lower left lies."""
    parts = []
    for size, (x, y) in places.items():
        corners = ((x, y), (x + size, y), (x + size, y + size), (x, y + size))
        parts.append(Part(f"square {size}", tuple((a * unit_mm, b * unit_mm) for a, b in corners)))
    return Dissection(width * unit_mm, height * unit_mm, tuple(parts))


NINE: Final = _squares(
    4.0,
    33,
    32,
    {
        18: (0, 0),
        15: (18, 0),
        14: (0, 18),
        10: (14, 22),
        9: (24, 23),
        8: (25, 15),
        7: (18, 15),
        4: (14, 18),
        1: (24, 22),
    },
)
"""Z. Moroń, "O rozkładach prostokątów na kwadraty", 1925: nine squares, no two alike."""
