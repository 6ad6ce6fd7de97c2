"""From the work that is done to the lines of a drawing, on the layers that the reader knows."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united
from studio.core.writing.sheet import (
    DRILLED,
    OUTLINES,
    SURFACE_LINES,
    WINDOWS,
    Circle,
    Path,
    Sheet,
)

from .curves import polygons
from .work import Work

_DECIMALS: Final = 6
_LEAST_LINE_MM: Final = 0.2


def draw(work: Work, sheet: Sheet) -> BaseGeometry:
    """Put pieces, windows, holes and engraved lines on their layers, and answer with the metal.

    Numbers are rounded as the reader and the writer have them. Holes beside the metal are left
    out, and of engraved lines what lies beside it.
    """
    pieces = [left for piece in work.pieces for left in polygons(_even(piece))]
    for piece in pieces:
        sheet.add(OUTLINES, _ring(piece.exterior))
        sheet.add(WINDOWS, *(_ring(ring) for ring in piece.interiors))
    metal = united(pieces) if pieces else Polygon()
    for hole in work.holes:
        if metal.covers(hole.point):
            sheet.add(DRILLED[hole.kind], Circle(hole.x, hole.y, hole.diameter))
    for line in work.lines:
        for way in _ways(line.intersection(metal), line):
            sheet.add(SURFACE_LINES, way)
    return metal


def _even(piece: Polygon) -> BaseGeometry:
    """Rounded to a millionth of a millimetre; the same numbers for neighbours that touch."""
    even = shapely.transform(piece, lambda points: np.round(points, _DECIMALS) + 0.0)
    return even if even.is_valid else shapely.make_valid(even, method="structure")


def _ring(ring: LineString) -> Path:
    points = [(float(x), float(y)) for x, y, *_ in ring.coords[:-1]]
    return Path(tuple(points), closed=True)


def _ways(shape: BaseGeometry, whole: LineString) -> list[Path]:
    """The parts of an engraved line that lie on metal."""
    if shape.is_empty:
        return []
    closed = whole.is_ring
    if closed and abs(shape.length - whole.length) < 1e-6:
        return [_ring(whole)]
    merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    return [
        Path(tuple((float(x), float(y)) for x, y, *_ in line.coords), closed=False)
        for line in getattr(merged, "geoms", [merged])
        if line.geom_type == "LineString" and line.length >= _LEAST_LINE_MM
    ]
