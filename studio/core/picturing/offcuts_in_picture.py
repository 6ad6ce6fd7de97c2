"""How what goes back to the rack looks, and the largest rectangle in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry import Polygon

from studio.core.cutting import Plan
from studio.core.verifying import Rectangle, largest_rectangle

from .in_picture import OffcutInPicture
from .paths import Flip

LABEL_LENGTH_EM = 9.5  # "118.2 mm × 64.5 mm" in a sans-serif face

Sides = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Left:
    """What goes back to the rack, with the sides of its largest rectangle, the longer first."""

    outline: Polygon
    sides: Sides
    at_once: bool = False  # as soon as the metal is parted


def rectangles_of(plan: Plan) -> tuple[Sides, ...]:
    """The largest rectangle in each of the plan's offcuts, the longer side first.

    That of the whole plan is told as the plan measured it. Measured anew it comes out otherwise:
    the search for it depends on the outline's points, and earlier plans measured their offcuts
    with round corners.
    """
    found = [rectangle_of(offcut.outline.wkb) for offcut in plan.offcuts]
    sides = [(one.longer_mm, one.shorter_mm) for one in found]
    shorter, longer = sorted(plan.measures.largest_rectangle_mm)
    if sides and shorter:
        off = [abs(one - longer) + abs(other - shorter) for one, other in sides]
        sides[off.index(min(off))] = (longer, shorter)
    return tuple(sides)


def offcut_in_picture(left: Left, flip: Flip, text: float) -> OffcutInPicture:
    outline, sides = left.outline, left.sides
    rectangle = rectangle_of(outline.wkb)
    around = outline if rectangle.polygon.is_empty else rectangle.polygon
    x0, y0, x1, y1 = around.bounds
    upright = y1 - y0 > 1.3 * (x1 - x0)
    along, across = (y1 - y0, x1 - x0) if upright else (x1 - x0, y1 - y0)
    fits = min(along / LABEL_LENGTH_EM, 0.8 * across)
    return OffcutInPicture(
        path=flip.path([outline]),
        at=flip.point(around.centroid),
        label_mm=round(max(0.4 * text, min(text, fits)), 2),
        upright=upright,
        area_mm2=outline.area,
        longer_mm=sides[0],
        shorter_mm=sides[1],
        at_once=left.at_once,
    )


@lru_cache(maxsize=1024)
def rectangle_of(wkb: bytes) -> Rectangle:
    """The slowest part of a picture, and asked for again with every look at the same plan."""
    outline = shapely.from_wkb(wkb)
    assert isinstance(outline, Polygon)
    return largest_rectangle(outline)
