"""A rectangle of a stock piece to lay out on: its outline, and which of its sides the saw makes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import shapely
from shapely import wkt
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box

from studio.core.areas import common
from studio.core.cutting.job import to_wkt

Rectangle = tuple[float, float, float, float]  # least x and y, most x and y
LEAST_SIDE_MM = 10.0
SMALLEST_PART_MM2 = 1.0
ON_RIM_MM = 1e-4


def cut_to(metal: Mapping[str, Any], rectangle: Rectangle) -> dict[str, Any] | None:
    """A job's metal cut to an upright rectangle of it, in the metal's own millimetres.

    Sides that are not the metal's own edge will be sawn, so they are rough. None where the
    rectangle has hardly any of the metal.
    """
    outline = wkt.loads(metal["outline"])
    inside = [
        part
        for part in shapely.get_parts(common(outline, box(*rectangle)))
        if isinstance(part, Polygon) and part.area >= SMALLEST_PART_MM2
    ]
    if not inside:
        return None
    rest: Polygon | MultiPolygon = inside[0] if len(inside) == 1 else MultiPolygon(inside)
    found = dict(metal) | {"outline": to_wkt(rest)}
    found.pop("rough_edges", None)
    if metal.get("clean_edges", True):
        sawn = rest.boundary.difference(outline.boundary.buffer(ON_RIM_MM))
        rough = _lines(sawn)
        if metal.get("rough_edges"):
            before = wkt.loads(metal["rough_edges"])
            rough += _lines(before.intersection(rest.boundary.buffer(ON_RIM_MM)))
        if rough:
            found["rough_edges"] = to_wkt(MultiLineString(rough))
    return found


def _lines(geometry: shapely.Geometry) -> list[LineString]:
    merged = geometry
    if isinstance(geometry, MultiLineString):
        merged = shapely.line_merge(geometry)
    return [
        part
        for part in shapely.get_parts(merged)
        if isinstance(part, LineString) and part.length > 10.0 * ON_RIM_MM
    ]
