"""Named shapes whose measures are known by hand; millimetres, y upwards."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Polygon, box

from studio.core.drawing import Drawing, DrillMark, Piece


def circle(x: float, y: float, diameter: float, corners: int = 256) -> Polygon:
    """A circle through points on its edge."""
    angle = np.arange(corners) * math.tau / corners
    radius = diameter / 2
    return Polygon(np.stack((x + radius * np.cos(angle), y + radius * np.sin(angle)), axis=1))


def with_windows(outline: Polygon, *windows: Polygon) -> Polygon:
    return Polygon(outline.exterior.coords, [window.exterior.coords for window in windows])


def piece(outline: Polygon, *marks: DrillMark, id: str = "1") -> Piece:
    return Piece(id, outline, tuple(marks))


def drawing(*outlines: Polygon) -> Drawing:
    """Pieces "1", "2", ... with these outlines."""
    return Drawing(
        tuple(Piece(str(number), outline) for number, outline in enumerate(outlines, start=1))
    )


SQUARE_40 = box(0, 0, 40, 40)

TWO_WINDOWS_1_5_APART = with_windows(SQUARE_40, box(8, 10, 18, 30), box(19.5, 10, 30, 30))
"""Bridge exactly 1.5 mm, at x = 18.75."""

WEB_1_2 = with_windows(SQUARE_40, box(1.2, 10, 10, 30))
"""Web exactly 1.2 mm on the left, at x = 0.6."""

DUMBBELL_1_6 = Polygon(
    [(0, 0), (15, 0), (15, 9.2), (25, 9.2), (25, 0), (40, 0),
     (40, 20), (25, 20), (25, 10.8), (15, 10.8), (15, 20), (0, 20)]
)  # fmt: skip
"""Two 15 by 20 blocks joined by a bar exactly 1.6 mm wide and 10 mm long at y = 10."""

SHARP_LEAF = Polygon([(0, 0), (30, 4), (60, 0), (30, -4)])
"""A rhombus with two points of 15.2 degrees and no thin neck anywhere."""

HOURGLASS_1_4 = Polygon([(0, 0), (12, 9.3), (24, 0), (24, 20), (12, 10.7), (0, 20)])
"""Two blunt dents that leave exactly 1.4 mm between their tips at (12, 10)."""

BOW_TIE = [(0.0, 0.0), (20.0, 20.0), (20.0, 0.0), (0.0, 20.0)]
"""Crosses itself at (10, 10): its signed area is zero, its metal is not."""
