"""The pieces of the practice sheets, about the middle of the paper, in millimetres."""

from __future__ import annotations

import math
from typing import Final

from shapely import affinity
from shapely.geometry import Polygon

from studio.core.areas import united
from studio.core.building.curves import bent
from studio.core.building.shapes import ellipse

ANY_MITRE: Final = 100.0
"""Corners stay corners, however sharp they are."""


def shrunk(outline: Polygon, by_mm: float) -> Polygon:
    """The outline with every side moved in by so much; corners stay corners."""
    moved = outline.buffer(-by_mm, join_style="mitre", mitre_limit=ANY_MITRE)
    assert isinstance(moved, Polygon)
    return moved


def fish(length: float, height: float) -> Polygon:
    """A body with a tail of straight end."""
    body = affinity.translate(ellipse(0.74 * length, height), 0.13 * length, 0.0)
    tail = Polygon(
        [
            (-0.5 * length, -0.42 * height),
            (-0.12 * length, -0.2 * height),
            (-0.12 * length, 0.2 * height),
            (-0.5 * length, 0.42 * height),
        ]
    )
    whole = united([body, tail])
    assert isinstance(whole, Polygon)
    return whole


def leaf(length: float, width: float) -> Polygon:
    """Two arcs from tip to tip."""
    bend = 2.0 * math.atan(width / length)
    one, other = (-length / 2, 0.0), (length / 2, 0.0)
    return Polygon([*bent(one, other, bend)[:-1], *bent(other, one, bend)[:-1]])


def boat(length: float) -> Polygon:
    """A hull with a straight keel, and one sail."""
    unit = length / 40.0
    corners = [(-13, -12), (13, -12), (20, -2), (13, -2), (-4, 22), (-4, -2), (-20, -2)]
    return Polygon([(x * unit, y * unit) for x, y in corners])


def buoy(width: float, height: float) -> Polygon:
    """A half disc on a straight foot, as high as wide or higher."""
    radius = width / 2
    shoulder = height - radius
    top = bent((radius, shoulder), (-radius, shoulder), math.pi / 2)
    return affinity.translate(Polygon([(-radius, 0.0), (radius, 0.0), *top]), 0.0, -height / 2)
