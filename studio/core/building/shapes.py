"""The outlines of single shapes, about the middle of the paper, not turned, in millimetres."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import without

from .curves import Point, arc, parts_in
from .errors import RecipeError
from .recipe import Step


def disc(diameter: float, centre: Point = (0.0, 0.0)) -> Polygon:
    return Polygon(arc(centre, diameter / 2, 0.0, math.tau)[:-1])


def ellipse(width: float, height: float) -> Polygon:
    # As many corners as the sharper end needs, spread evenly over the angle.
    a, b = width / 2, height / 2
    count = parts_in(max(a, b), math.tau)
    angles = [math.tau * k / count for k in range(count)]
    return Polygon([(a * math.cos(t), b * math.sin(t)) for t in angles])


def rectangle(width: float, height: float, corner: float) -> Polygon:
    """With corners of that radius, at most half the shorter side."""
    r = min(corner, width / 2, height / 2)
    x, y = width / 2 - r, height / 2 - r
    if r <= 0:
        return Polygon([(x, y), (-x, y), (-x, -y), (x, -y)])
    quarter = math.pi / 2
    points: list[Point] = []
    for turn, centre in enumerate(((x, y), (-x, y), (-x, -y), (x, -y))):
        points += arc(centre, r, turn * quarter, quarter)
    return Polygon(points)


def polygon(sides: int, diameter: float) -> Polygon:
    """A regular polygon in a circle of that diameter, one corner on top."""
    return Polygon([_on_circle(diameter / 2, k / sides) for k in range(sides)])


def star(points: int, diameter: float, inner_percent: float) -> Polygon:
    """Corners in turn on the outer circle and on one of `inner_percent` of its size."""
    radii = (diameter / 2, diameter / 2 * inner_percent / 100)
    return Polygon([_on_circle(radii[k % 2], k / (2 * points)) for k in range(2 * points)])


def _on_circle(radius: float, share: float) -> Point:
    angle = math.pi / 2 + math.tau * share
    return radius * math.cos(angle), radius * math.sin(angle)


def drop(width: float, length: float) -> Polygon:
    """A disc with the two lines that touch it and meet in a tip on top."""
    r = width / 2
    if length <= 1.02 * width:
        raise RecipeError("A drop is longer than it is wide.", "Make it longer, or take an oval.")
    to_tip = length - r
    touching = math.acos(r / to_tip)  # from the tip's direction to where the lines touch
    low = -length / 2 + r
    start = math.pi / 2 + touching
    return Polygon([(0.0, length / 2), *arc((0.0, low), r, start, math.tau - 2 * touching)])


def crescent(diameter: float, bite: float, shift: float) -> BaseGeometry:
    """A disc out of which another one is bitten, whose middle lies `shift` to the right."""
    left = without(disc(diameter), disc(bite, (shift, 0.0)))
    if left.is_empty:
        raise RecipeError(
            "Nothing is left of this crescent.",
            "Bite out a smaller disc, or move its middle further.",
        )
    return left


def ring(diameter: float, band: float) -> Polygon:
    inner = diameter - 2 * band
    if inner <= 0:
        raise RecipeError("The band of this ring leaves no opening.", "Make the band narrower.")
    return Polygon(disc(diameter).exterior.coords, [disc(inner).exterior.coords])


_LOBE: Final = 0.29  # radius of a lobe as a share of the width: the dent stays open for a blade
_USUAL_HEIGHT: Final = 0.9


def heart(width: float, height: float) -> Polygon:
    """Two lobes and the lines that touch them and meet in a point below."""
    r, aside = _LOBE * width, (0.5 - _LOBE) * width
    tall = _USUAL_HEIGHT * width
    middle = tall / 2 - r  # height of the lobes' centres
    dent = math.acos(aside / r)  # where the lobes meet, seen from the right one's centre
    tip = -tall / 2
    reach = math.hypot(aside, middle - tip)
    touching = math.acos(r / reach)
    to_tip = math.atan2(tip - middle, -aside)  # from the right centre to the tip
    end = to_tip + touching  # anticlockwise of it: the outer side
    start = math.pi - dent
    right = arc((aside, middle), r, end, start - end)
    left = [(-x, y) for x, y in reversed(right[:-1])]
    whole = Polygon([(0.0, tip), *right, *left])
    return affinity.scale(whole, 1.0, height / tall, origin=(0, 0))


BY_KIND: Final[dict[str, Callable[[Step], BaseGeometry]]] = {
    "circle": lambda step: disc(step.number("diameter")),
    "ellipse": lambda step: ellipse(step.number("width"), step.number("height")),
    "rectangle": lambda step: rectangle(
        step.number("width"), step.number("height"), step.number("corner")
    ),
    "polygon": lambda step: polygon(step.count("sides"), step.number("diameter")),
    "star": lambda step: star(step.count("points"), step.number("diameter"), step.number("inner")),
    "drop": lambda step: drop(step.number("width"), step.number("length")),
    "crescent": lambda step: crescent(
        step.number("diameter"), step.number("bite"), step.number("shift")
    ),
    "ring": lambda step: ring(step.number("diameter"), step.number("band")),
    "heart": lambda step: heart(step.number("width"), step.number("height")),
}
