"""Which lines have no shape in the drawing? Those that a stop has kept out of it, most often."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry import LineString

from studio.core.drawing import Drawing, DrillMark
from studio.core.reading.labels import Label
from studio.core.reading.tracing import Line

_NEAR_MM = 0.01
_LOOKED_AT = 24  # points of a line, spread evenly: no shape passes through them all by chance


def undrawn_lines(
    drawing: Drawing, lines: Sequence[Line], labels: Mapping[str, str]
) -> tuple[Line, ...]:
    """Lines of the tracing that neither piece, window, drill mark nor surface line shows.

    Of a surface line a stretch is enough. Lines that are left out on purpose belong here too.
    """
    pieces = drawing.pieces
    edges = shapely.geometrycollections([piece.outline.boundary for piece in pieces])
    surfaces = shapely.geometrycollections(
        [line for piece in pieces for line in piece.surface_lines]
    )
    for shape in (edges, surfaces):
        shapely.prepare(shape)
    marks = [mark for piece in pieces for mark in piece.drill_marks]
    found = []
    for line in lines:
        is_surface = labels.get(line.id) == Label.SURFACE
        near = shapely.dwithin(surfaces if is_surface else edges, _points(line), _NEAR_MM)
        drawn = near.any() if is_surface else near.all() or _drilled(line, marks)
        if not drawn:
            found.append(line)
    return tuple(found)


def _points(line: Line) -> list[shapely.Point]:
    """Some of the line, between its corners too."""
    way = LineString([*line.points, line.points[0]] if line.closed else line.points)
    shares = [(number + 0.5) / _LOOKED_AT for number in range(_LOOKED_AT)]
    return list(shapely.line_interpolate_point(way, shares, normalized=True))


def _drilled(line: Line, marks: Sequence[DrillMark]) -> bool:
    circle = line.round
    return circle is not None and any(
        math.hypot(mark.x_mm - circle.x_mm, mark.y_mm - circle.y_mm) <= _NEAR_MM for mark in marks
    )
