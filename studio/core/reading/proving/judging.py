"""How far is what was read from what was drawn?"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from studio.core.drawing import Drawing

from .truth import TrueDrawing

Points = NDArray[np.float64]
_EVERY_MM = 0.1
_APART_MM = 1.0


@dataclass(slots=True)
class Judged:
    """Distances between read and true lines, both ways, and what is missing or too much."""

    errors_mm: Points
    mistakes: list[str] = field(default_factory=list)
    corners: int = 0


def judged(read: Drawing, true: TrueDrawing, shift: tuple[float, float] = (0.0, 0.0)) -> Judged:
    """`shift` is added to everything read."""
    moved = np.array(shift)
    errors: list[Points] = []
    mistakes: list[str] = []
    corners = 0
    if len(read.pieces) != len(true.pieces):
        mistakes.append(f"{len(read.pieces)} pieces for {len(true.pieces)}")
    for piece in true.pieces:
        found = [
            each
            for each in read.pieces
            if Polygon(np.array(each.outline.exterior.coords) + moved).centroid.distance(
                Polygon(piece.outline).centroid
            )
            < 5 * _APART_MM
        ]
        if len(found) != 1:
            mistakes.append("a piece not found again")
            continue
        (one,) = found
        errors.append(_apart(np.array(one.outline.exterior.coords) + moved, piece.outline))
        corners += len(one.outline.exterior.coords)
        rings = [np.array(ring.coords) + moved for ring in one.outline.interiors]
        _match_windows(rings, [each.points for each in piece.windows], errors, mistakes)
        marks = [(each.x_mm + shift[0], each.y_mm + shift[1]) for each in one.drill_marks]
        diameters = [each.diameter_mm for each in one.drill_marks]
        if len(marks) != len(piece.marks):
            mistakes.append(f"{len(marks)} drill marks for {len(piece.marks)}")
        for mark in piece.marks:
            near = [
                number
                for number, (x, y) in enumerate(marks)
                if np.hypot(x - mark.x_mm, y - mark.y_mm) < 0.3
            ]
            if not near:
                mistakes.append(f"drill mark at {mark.x_mm:.1f}, {mark.y_mm:.1f} lost")
            elif not mark.cross and abs(diameters[near[0]] - mark.diameter_mm) > 0.15:
                mistakes.append(
                    f"drill mark {mark.diameter_mm:.2f} read as {diameters[near[0]]:.2f}"
                )
        if len(one.surface_lines) != len(piece.lines):
            mistakes.append(f"{len(one.surface_lines)} surface lines for {len(piece.lines)}")
    every = np.concatenate(errors) if errors else np.empty(0)
    return Judged(every, mistakes, corners)


def _match_windows(
    read: list[Points], true: list[Points], errors: list[Points], mistakes: list[str]
) -> None:
    if len(read) != len(true):
        mistakes.append(f"{len(read)} windows for {len(true)}")
    for points in true:
        middle = Polygon(points).centroid
        near = [ring for ring in read if Polygon(ring).centroid.distance(middle) < _APART_MM]
        if near:
            errors.append(_apart(near[0], points))
        else:
            mistakes.append(f"window at {middle.x:.1f}, {middle.y:.1f} lost")


def _apart(read: Points, true: Points) -> Points:
    one, other = shapely.linearrings(read), shapely.linearrings(true)
    found = []
    for line, target in ((one, other), (other, one)):
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(line, _EVERY_MM)))
        found.append(shapely.distance(points, target))
    return np.concatenate(found)
