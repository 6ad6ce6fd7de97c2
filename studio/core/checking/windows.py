"""Windows too small to pierce, and windows that are only the inner edge of a pen stroke."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Limits, Piece, Weight

from .boundary import SLACK_MM

_PRECISION_MM = 0.002
_MOST = 60
_PEN_MM = 1.5  # no pen in class is wider; common practice, no source


def check_windows(piece: Piece, limits: Limits) -> list[Finding]:
    """Findings `window-small` (widest circle inside below the limit) and `stroke-edges`."""
    findings = _stroke_edges(piece)
    for ring in piece.outline.interiors:
        window = Polygon(ring)
        # Cheap test first; the exact circle only for windows that may fail.
        if not window.buffer(-(limits.least_window_mm - SLACK_MM) / 2).is_empty:
            continue
        if len(findings) == _MOST:
            break
        circle: LineString = shapely.maximum_inscribed_circle(window, tolerance=_PRECISION_MM)
        width = 2.0 * circle.length
        if width >= limits.least_window_mm - SLACK_MM:
            continue
        x, y = circle.coords[0]
        findings.append(
            Finding(
                "window-small",
                Weight.STOP,
                f"This window is only {told_mm(width, limits.least_window_mm)} mm wide at its "
                f"widest; the drill and the "
                f"blade need {limits.least_window_mm:g} mm.",
                "Make the window larger, or turn it into a drill mark or a surface line.",
                piece=piece.id,
                at=(float(x), float(y)),
                value_mm=width,
                limit_mm=limits.least_window_mm,
            )
        )
    return findings


def _stroke_edges(piece: Piece) -> list[Finding]:
    """A window that follows the whole outline closely: the stroke was turned into a shape.

    Drawing programs do so when strokes are expanded or a picture is traced; then the outline
    and this window are the two edges of one drawn line.
    """
    shell = piece.outline.exterior
    for ring in piece.outline.interiors:
        if ring.length < 0.7 * shell.length:
            continue
        corners: Any = shapely.points(shapely.get_coordinates(ring))
        shapely.prepare(shell)
        if not np.all(shapely.dwithin(shell, corners, _PEN_MM)):
            continue
        x, y = shell.coords[0]
        return [
            Finding(
                "stroke-edges",
                Weight.CAUTION,
                "The outline and this window follow each other closely all the way round, like "
                "the two edges of one pen stroke.",
                "If you meant one line, draw it as a thin line without turning it into a shape, "
                "or leave one of the two lines out.",
                piece=piece.id,
                at=(float(x), float(y)),
            )
        ]
    return []
