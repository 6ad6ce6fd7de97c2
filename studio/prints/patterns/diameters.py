"""Where are the diameters of a paper's holes written? On the paper where there is room, else
beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely.geometry import Point, Polygon

from classroom.figures.units import Units
from studio.core.areas import united
from studio.prints.paper.drill_sizes import Hole, beside_holes, shown_at
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.pilots import drill_words

from .cutouts import Cutout, Mark
from .labels import labels_on

DIAMETER_MM = 2.3  # letters
LEADER_MM = 2.0  # from the paper's edge to words beside it
NEAR_MM = 6.0  # how far from its hole a diameter may stand on the paper
CROSS_MM = 2.0  # half of a cross
PILOT_MM = 1.5


def arm_of(mark: Mark) -> float:
    """Half the length of a mark's cross."""
    least = PILOT_MM if mark.pilot else CROSS_MM
    return max(least, 0.8 * (mark.diameter_mm or 0.0))


@dataclass(frozen=True, slots=True)
class Diameter:
    """A diameter on the page: where its words stand (drawing's millimetres, y up) and what leads
    to them. `side` is −1 or 1 where they stand beside the paper, else 0."""

    text: str
    mark: Point
    y: float
    side: int
    shown: Text | None
    leader: str


def diameters(cutout: Cutout, frame: Frame, units: Units) -> list[Diameter]:
    """The words for every hole whose size is known."""
    marks = [mark for mark in cutout.marks if mark.diameter_mm is not None]
    holes = [
        Hole(mark.at, drill_words(mark.diameter_mm or 0.0, units), arm_of(mark)) for mark in marks
    ]
    if not holes:
        return []
    whole = united([Polygon(one.outline.exterior) for one in cutout.pieces])
    places = beside_holes(
        holes,
        DIAMETER_MM,
        cutout.lines,
        whole,
        reach_mm=NEAR_MM,
        taken=[label.box for label in labels_on(cutout)],
    )
    x0, _, x1, _ = cutout.rim.bounds
    found: list[Diameter] = []
    for hole, place in zip(holes, places, strict=True):
        if place is not None:
            text, leader = shown_at(place, frame)
            found.append(Diameter(hole.text, hole.at, place.y, 0, text, leader))
            continue
        side = -1 if hole.at.x - x0 <= x1 - hole.at.x else 1
        y = hole.at.y
        while any(one.side == side and abs(one.y - y) < 1.4 * DIAMETER_MM for one in found):
            y -= 1.4 * DIAMETER_MM
        found.append(_beside(hole, x0 - LEADER_MM if side < 0 else x1 + LEADER_MM, y, side, frame))
    return found


def _beside(hole: Hole, at: float, level: float, side: int, frame: Frame) -> Diameter:
    """Words beside the paper, at the end of a thin line."""
    x, y = frame.xy(at, level)
    text = Text(hole.text, num(x), num(y + 0.36 * DIAMETER_MM), num(DIAMETER_MM))
    from_x, from_y = frame.xy(hole.at.x, hole.at.y)
    leader = f"M{num(from_x)} {num(from_y)}L{num(x - side * 0.6)} {num(y)}"
    anchored = replace(text, anchor="end" if side < 0 else "start")
    return Diameter(hole.text, hole.at, level, side, anchored, leader)


def reach_of(cutout: Cutout, units: Units) -> tuple[float, float, float, float]:
    """The box round a paper with the words beside it."""
    x0, y0, x1, y1 = cutout.rim.bounds
    for one in diameters(cutout, Frame(x0, y1), units):
        if one.side:
            reach = LEADER_MM + LETTER_EM * DIAMETER_MM * len(one.text)
            x0 = min(x0, cutout.rim.bounds[0] - reach) if one.side < 0 else x0
            x1 = max(x1, cutout.rim.bounds[2] + reach) if one.side > 0 else x1
            y0 = min(y0, one.y - DIAMETER_MM)
    return x0, y0, x1, y1
