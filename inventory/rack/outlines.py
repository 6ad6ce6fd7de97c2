"""Is this a piece of metal? Outlines in millimetres: made, checked, put into their place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Final

import shapely
from shapely import wkt
from shapely.affinity import translate
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from classroom.figures.rounding import told_mm
from classroom.refusals import Refused

LEAST_WIDTH_MM: Final = 1.0
MOST_WIDTH_MM: Final = 3100.0
"""A little more than a 10 ft sheet; nothing longer fits a school's rack."""
MOST_CORNERS: Final = 2000
"""Of an outline that a person types."""
MOST_POINTS: Final = 60_000
"""Of any outline; what a whole class's cut plan leaves of a sheet has some ten thousand."""
LEAST_AREA_MM2: Final = 1.0
GRID_MM: Final = 0.0001
CRUMB_MM2: Final = 0.5
"""What a neck thinner than the grid may cut off, unseen by anyone."""


def rectangle(width_mm: float | Decimal, height_mm: float | Decimal) -> Polygon:
    """An upright sheet with its lower left corner at the origin."""
    width, height = float(width_mm), float(height_mm)
    # NaN fails both comparisons, and no polygon can be made of it.
    if not (0 < width <= MOST_WIDTH_MM and 0 < height <= MOST_WIDTH_MM):
        raise Refused(f"A sheet is 1 to {MOST_WIDTH_MM:.0f} mm wide and high.")
    return checked_outline(box(0, 0, width, height))


def polygon_from_points(points: Sequence[tuple[float, float]]) -> Polygon:
    """The outline that runs through these corners in order, in millimetres.

    Raises Refused as `checked_outline` does, and for fewer than three corners.
    """
    if len(points) < 3:
        raise Refused("An outline needs at least three corners, one on each line.")
    if len(points) > MOST_CORNERS:
        raise Refused(f"That outline has too many corners: at most {MOST_CORNERS}.")
    if not all(math.isfinite(value) for point in points for value in point):
        raise Refused("Every corner is two plain numbers, such as 120, 45.")
    return checked_outline(Polygon(points))


def checked_outline(outline: Polygon) -> Polygon:
    """The outline moved so that its least x and y are 0, run anticlockwise, to 0.0001 mm.

    Raises Refused when it is empty, crosses itself (naming the point), or is too large or small.
    """
    if not isinstance(outline, Polygon):
        raise Refused("A piece of metal has one outline: enter separate pieces one by one.")
    if outline.is_empty:
        raise Refused("That outline encloses nothing.")
    if shapely.get_num_coordinates(outline) > MOST_POINTS:
        raise Refused(f"That outline has too many corners: at most {MOST_POINTS}.")
    if not all(math.isfinite(value) for value in outline.bounds):
        raise Refused("Every corner is two plain numbers, such as 120, 45.")
    x0, y0, x1, y1 = outline.bounds
    if max(x1 - x0, y1 - y0) > MOST_WIDTH_MM:
        raise Refused(f"That piece is too large: at most {MOST_WIDTH_MM:.0f} mm across.")
    if min(x1 - x0, y1 - y0) < LEAST_WIDTH_MM:
        raise Refused(
            f"That piece is too small: at least {LEAST_WIDTH_MM:.0f} mm across. Metal too small "
            "to use again goes into the scrap box."
        )
    if not outline.is_valid:
        raise Refused(_why_not(outline))
    moved = _largest(shapely.set_precision(translate(outline, -x0, -y0), GRID_MM))
    if not isinstance(moved, Polygon) or not moved.is_valid or moved.area < LEAST_AREA_MM2:
        raise Refused("That outline is too narrow somewhere: it would fall into pieces.")
    return shapely.geometry.polygon.orient(moved)


def _largest(shape: BaseGeometry) -> BaseGeometry:
    """The shape without crumbs that rounding has cut off; anything larger stays in view."""
    if not isinstance(shape, MultiPolygon):
        return shape
    parts = sorted(shape.geoms, key=lambda part: -part.area)
    return parts[0] if all(part.area <= CRUMB_MM2 for part in parts[1:]) else shape


def outline_text(outline: Polygon | MultiPolygon) -> str:
    """Well-known text as it is stored: millimetres to four places."""
    return str(wkt.dumps(outline, rounding_precision=4, trim=True))


def area_of(outline: Polygon | MultiPolygon) -> Decimal:
    """Area in square millimetres as it is stored: two places."""
    return Decimal(repr(float(outline.area))).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def size_of(outline: Polygon | MultiPolygon) -> tuple[Decimal, Decimal]:
    """Width and height of the upright box around the outline, as stored: two places."""
    x0, y0, x1, y1 = outline.bounds
    width, height = (
        Decimal(repr(float(side))).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
        for side in (x1 - x0, y1 - y0)
    )
    return width, height


def outline_fields(outline: Polygon) -> dict[str, Any]:
    """What a stock piece's row says about its outline."""
    width, height = size_of(outline)
    return {
        "outline": outline_text(outline),
        "area_mm2": area_of(outline),
        "width_mm": width,
        "height_mm": height,
    }


def _why_not(outline: Polygon) -> str:
    """The fault in a person's words, with the point where it can be seen."""
    words = explain_validity(outline)
    where = words.partition("[")[2].rstrip("]").split()
    at = ""
    if len(where) >= 2:
        point = Point(float(where[0]), float(where[1]))
        at = f" at x {told_mm(point.x)} mm, y {told_mm(point.y)} mm"
    if "Self-intersection" in words or "Ring Self" in words:
        return f"The outline crosses or touches itself{at}: list the corners in walking order."
    if "Hole" in words or "Nested" in words:
        return f"A window lies outside the metal or in another window{at}."
    return f"The outline is broken{at}: list every corner once, in walking order."
