"""Where are the diameters of holes written, so that no line runs through them?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num

HALF_HIGH_EM = 0.55
DIRECTIONS = tuple(math.tau * k / 12 for k in (9, 3, 0, 6, 10, 8, 2, 4, 11, 7, 1, 5))
"""Below the hole first, then above and beside it."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole and the words for it; `clear_mm` is what its cross covers round its middle."""

    at: Point
    text: str
    clear_mm: float


@dataclass(frozen=True, slots=True)
class SizeWords:
    """Words about a hole and the middle of where they stand, y up; a thin line leads there from
    the hole where they do not stand beside it."""

    hole: Hole
    x: float
    y: float
    size_mm: float
    led: bool

    @property
    def box(self) -> Polygon:
        return words_box(self.x, self.y, self.hole.text, self.size_mm)


def words_box(x: float, y: float, text: str, size: float) -> Polygon:
    """The room that words take round their middle."""
    wide, high = LETTER_EM * size * len(text) / 2, HALF_HIGH_EM * size
    return box(x - wide, y - high, x + wide, y + high)


def beside_holes(
    holes: Sequence[Hole],
    size: float,
    lines: BaseGeometry,
    within: BaseGeometry,
    *,
    reach_mm: float,
    taken: Sequence[Polygon] = (),
    windows: Sequence[Polygon] = (),
) -> list[SizeWords | None]:
    """Words as near to each hole as they find room: on no line, no other words and no cross, and
    `within` an area. None where there is no room in reach. A line that leads to them crosses
    none of the `windows` but the hole's own, where there is such a way."""
    crosses = [hole.at.buffer(hole.clear_mm, quad_segs=4) for hole in holes]
    standing = [*taken, *crosses]
    shapely.prepare(lines)
    shapely.prepare(within)
    found: list[SizeWords | None] = []
    for hole in holes:
        others = [window for window in windows if not window.covers(hole.at)]
        words = _nearest(hole, size, lines, within, reach_mm, standing, others)
        found.append(words)
        if words is not None:
            standing.append(words.box)
    return found


def _nearest(
    hole: Hole,
    size: float,
    lines: BaseGeometry,
    within: BaseGeometry,
    reach: float,
    standing: Sequence[Polygon],
    windows: Sequence[Polygon],
) -> SizeWords | None:
    half = LETTER_EM * size * len(hole.text) / 2
    others = united(list(standing))
    further = 0.0
    through: SizeWords | None = None  # the nearest place whose line runs through a window
    while further <= reach:
        boxes, spots = [], []
        for turn in DIRECTIONS:
            dx, dy = math.cos(turn), math.sin(turn)
            x = hole.at.x + dx * (hole.clear_mm + half + further)
            y = hole.at.y + dy * (hole.clear_mm + HALF_HIGH_EM * size + further)
            spots.append((x, y))
            boxes.append(words_box(x, y, hole.text, size))
        free = (
            shapely.covers(within, boxes)
            & ~shapely.intersects(lines, boxes)
            & ~shapely.intersects(others, boxes)
        )
        for spot, is_free in zip(spots, free.tolist(), strict=True):
            if not is_free:
                continue
            words = SizeWords(hole, *spot, size, led=further > size / 2)
            lead = LineString([hole.at.coords[0], spot])
            if not words.led or not any(window.intersects(lead) for window in windows):
                return words
            through = through or words
        further += size / 2
    return through


def shown_at(words: SizeWords, frame: Frame) -> tuple[Text, str]:
    """The words on the page, and the thin line that leads to them ("" where none does)."""
    x, y = frame.xy(words.x, words.y)
    size = words.size_mm * frame.scale
    text = Text(words.hole.text, num(x), num(y + 0.36 * size), num(size))
    half = LETTER_EM * size * len(text.text) / 2
    back = (num(x - half), num(y - HALF_HIGH_EM * size), num(2 * half), num(1.1 * size))
    if not words.led:
        return replace(text, back=back), ""
    from_x, from_y = frame.xy(words.hole.at.x, words.hole.at.y)
    edge = x + math.copysign(half, from_x - x) if abs(from_x - x) > half else x
    level = y if edge != x else y + math.copysign(HALF_HIGH_EM * size, from_y - y)
    return replace(text, back=back), f"M{num(from_x)} {num(from_y)}L{num(edge)} {num(level)}"
