"""Puts one piece together so that its polygon is valid, telling which windows do not fit."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from studio.core.drawing import DrillMark, Finding, Piece, Weight
from studio.core.reading.tracing import Line

from .meetings import meetings

_MOST_TRIALS = 200


def build_piece(
    piece_id: str,
    outline: Line,
    windows: list[Line],
    marks: tuple[DrillMark, ...],
    findings: list[Finding],
) -> Piece:
    """The piece with all windows that leave one connected area of metal.

    A window that runs along the outline or another window, or cuts the piece in two, is left
    out and becomes a stop.
    """
    whole = Polygon(outline.points, [window.points for window in windows])
    if not whole.is_valid:
        lines = [outline, *windows]
        pairs = meetings([np.asarray(line.points) for line in lines], [True] * len(lines))
        touching = {int(number) - 1 for pair in pairs for number in pair if pair[0] != pair[1]}
        kept = [window for number, window in enumerate(windows) if number not in touching]
        for tried, number in enumerate(sorted(touching - {-1})):
            window = windows[number]
            trial = Polygon(outline.points, [each.points for each in (*kept, window)])
            if tried < _MOST_TRIALS and trial.is_valid:
                kept.append(window)
            else:
                findings.append(_touching(piece_id, outline, kept, window))
        whole = Polygon(outline.points, [window.points for window in kept])
    return Piece(piece_id, shapely.orient_polygons(whole), marks)


def _touching(piece_id: str, outline: Line, kept: list[Line], window: Line) -> Finding:
    own = window.polygon
    others = [each.polygon for each in kept] + [outline.linework]
    nearest = min(others, key=own.distance)
    meeting = window.linework.intersection(getattr(nearest, "boundary", nearest))
    if nearest is others[-1]:
        meeting = window.linework.intersection(outline.linework)
        what = "the outline"
    else:
        what = "another window"
    if meeting.is_empty:
        meeting = shapely.shortest_line(window.linework, nearest)
    point = meeting.representative_point()
    return Finding(
        "window-touches",
        Weight.STOP,
        f"This window touches {what} here: no metal is left between them.",
        "Move them apart, or draw them as one window.",
        piece=piece_id,
        at=(float(point.x), float(point.y)),
        value_mm=0.0,
    )
