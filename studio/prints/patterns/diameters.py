"""Where are the diameters of drill marks written, so that no line runs through them?"""

from __future__ import annotations

from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Point, Polygon, box

from classroom.figures.rounding import short_mm
from studio.prints.paper.lettering import Text
from studio.prints.paper.paths import Frame, num

from .cutouts import Cutout, Mark

DIAMETER_MM = 2.3  # letters
LEADER_MM = 2.0  # from the paper's edge to words beside it


@dataclass(frozen=True, slots=True)
class Diameter:
    """What a drill mark's diameter is called and where: in the drawing's millimetres, y up.

    `side` is −1 or 1 where the words stand beside the paper, at the end of a thin line, and 0
    where there is room for them on the piece.
    """

    text: str
    mark: Point
    x: float
    y: float
    side: int


def diameters(cutout: Cutout) -> list[Diameter]:
    """The words on the piece where no line is in their way, else beside the paper."""
    rings = shapely.union_all([cutout.outline.exterior, *cutout.outline.interiors, *cutout.surface])
    x0, _, x1, _ = cutout.rim.bounds
    found: list[Diameter] = []
    taken: list[Polygon] = [
        mark.at.buffer(mark.diameter_mm / 2 + DIAMETER_MM * 0.4) for mark in cutout.marks
    ]
    for mark in cutout.marks:
        text = f"Ø {short_mm(mark.diameter_mm)}"
        wide = 0.6 * DIAMETER_MM * len(text)
        inside = _room_for(mark, wide, cutout, rings, taken)
        if inside is not None:
            taken.append(_words_box(inside, wide))
            found.append(Diameter(text, mark.at, inside.x, inside.y, 0))
            continue
        side = -1 if mark.at.x - x0 <= x1 - mark.at.x else 1
        y = mark.at.y
        while any(one.side == side and abs(one.y - y) < 1.4 * DIAMETER_MM for one in found):
            y -= 1.4 * DIAMETER_MM
        found.append(
            Diameter(text, mark.at, x0 - LEADER_MM if side < 0 else x1 + LEADER_MM, y, side)
        )
    return found


def _room_for(
    mark: Mark, wide: float, cutout: Cutout, rings: shapely.Geometry, taken: list[Polygon]
) -> Point | None:
    """The middle of the words, above, below or beside the mark, or None."""
    cross = max(2.0, 0.8 * mark.diameter_mm)
    up, aside = cross + 0.7 * DIAMETER_MM, cross + wide / 2 + 0.4
    for dx, dy in ((0, -up), (0, up), (aside, 0), (-aside, 0)):
        at = Point(mark.at.x + dx, mark.at.y + dy)
        words = _words_box(at, wide)
        if (
            cutout.outline.covers(words)
            and not words.intersects(rings)
            and not any(words.intersects(other) for other in taken)
        ):
            return at
    return None


def _words_box(at: Point, wide: float) -> Polygon:
    half = 0.55 * DIAMETER_MM
    return box(at.x - wide / 2, at.y - half, at.x + wide / 2, at.y + half)


def shown_at(one: Diameter, frame: Frame) -> tuple[Text, str]:
    """The words on the page, and the thin line that leads to them."""
    x, y = frame.xy(one.x, one.y)
    text = Text(one.text, num(x), num(y + 0.36 * DIAMETER_MM), num(DIAMETER_MM))
    if not one.side:
        return text, ""
    anchor = "end" if one.side < 0 else "start"
    from_x, from_y = frame.xy(one.mark.x, one.mark.y)
    return (
        replace(text, anchor=anchor),
        f"M{num(from_x)} {num(from_y)}L{num(x - one.side * 0.6)} {num(y)}",
    )
