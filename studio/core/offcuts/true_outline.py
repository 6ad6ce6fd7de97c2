"""Which outline has a part that came out smaller or larger than it was planned?

A ruler says how wide and how high the part is; the edges that it has from the stock piece are
where they were, so what moved is the cuts. Millimetres.
"""

from __future__ import annotations

from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common

SAME_MM = 0.2
"""A part measured within this of its planned sides is as planned: what a ruler and a burr leave
(common practice, no source)."""

ON_EDGE_MM = 0.5


def size_of(outline: Polygon | MultiPolygon) -> tuple[float, float]:
    """Width and height of the upright box around it."""
    x0, y0, x1, y1 = outline.bounds
    return x1 - x0, y1 - y0


def is_as_planned(planned: Polygon, width_mm: float, height_mm: float) -> bool:
    """Whether both sides are as planned, as near as anybody measures."""
    width, height = size_of(planned)
    return abs(width_mm - width) <= SAME_MM and abs(height_mm - height) <= SAME_MM


def true_outline(
    planned: Polygon, stock: Polygon | MultiPolygon, width_mm: float, height_mm: float
) -> Polygon:
    """The planned outline drawn out to its measured sides, without what lies off the stock piece.

    It is held at the sides where it has the stock piece's own edge, for those were not cut; where
    neither or both of two sides are, it is held in the middle. A part of straight sides comes out
    exactly, one of slanting sides as near as two measures tell. Raises ValueError where no metal
    of one part is left.
    """
    if is_as_planned(planned, width_mm, height_mm):
        return planned
    width, height = size_of(planned)
    x0, y0, x1, y1 = planned.bounds
    sx0, sy0, sx1, sy1 = stock.bounds
    at_x = _held(x0, x1, abs(x0 - sx0) <= ON_EDGE_MM, abs(x1 - sx1) <= ON_EDGE_MM)
    at_y = _held(y0, y1, abs(y0 - sy0) <= ON_EDGE_MM, abs(y1 - sy1) <= ON_EDGE_MM)
    drawn = affinity.scale(
        planned, xfact=width_mm / width, yfact=height_mm / height, origin=(at_x, at_y)
    )
    inside: BaseGeometry = drawn
    if not box(*stock.bounds).contains(drawn) or not stock.buffer(1e-6).contains(drawn):
        inside = common(drawn, stock)
    parts = [one for one in getattr(inside, "geoms", [inside]) if isinstance(one, Polygon)]
    whole = [one for one in parts if one.area > 1.0]
    if len(whole) != 1:
        raise ValueError("the measured part is not one piece of metal")
    return whole[0]


def _held(low: float, high: float, low_is_edge: bool, high_is_edge: bool) -> float:
    if low_is_edge == high_is_edge:
        return (low + high) / 2.0
    return low if low_is_edge else high
