"""Puts what was decided about a sheet into lines in millimetres."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..rough import RoughLine
from ..tracing import Round
from .ink.faces import Faces
from .ink.inking import Grey, Ink
from .ink.loops import Loop
from .ink.middling import inset_from, middle_of, pen_width
from .ink.shaping import shaped
from .ink.small_rounds import circle_points, fitted_circle
from .ink.strokes import Stroke, Web
from .limits import DRILL_DRAWN_MAX_MM, SIMPLE_MM

Points = NDArray[np.float64]

_LEAST_SURFACE_MM = 0.8


@dataclass(slots=True)
class Sheet:
    """A sheet while it is read: what is known about it, and the lines found so far."""

    grey: Grey
    ink: Ink
    px_per_mm: float
    web: Web
    faces: Faces
    lines: list[RoughLine] = field(default_factory=list)
    crosses: int = 0
    small: int = 0
    pen: float | None = None

    def mm(self, points: Points) -> Points:
        """Dots to millimetres, y upwards; the middle of the first dot is half a dot in."""
        height = self.grey.shape[0]
        return np.stack(
            ((points[:, 0] + 0.5) / self.px_per_mm, (height - points[:, 1] - 0.5) / self.px_per_mm),
            axis=1,
        )


def small_round(sheet: Sheet, loop: Loop, slack: float) -> tuple[float, float, float] | None:
    """Centre and radius in dots of a round that a drill makes, else None."""
    found = middle_of(sheet.grey, loop.points, True, sheet.ink.half)
    if found.sure.sum() < 8:
        return None
    circle = fitted_circle(found.points[found.sure], slack)
    if circle is None or 2 * circle[2] > DRILL_DRAWN_MAX_MM * sheet.px_per_mm:
        return None
    return circle


def add_round(sheet: Sheet, x: float, y: float, radius: float) -> None:
    centre = sheet.mm(np.array([[x, y]]))[0]
    circle = Round(float(centre[0]), float(centre[1]), 2 * radius / sheet.px_per_mm)
    sheet.lines.append(RoughLine(circle_points(circle), True, circle, "drill mark"))


def add_drawn(sheet: Sheet, loop: Loop, element: str, hint: str) -> None:
    """A closed pen line, by the middle of its ink."""
    found = middle_of(sheet.grey, loop.points, True, sheet.ink.half)
    sure = found.sure & ~_near_nodes(sheet, found.points, loop.nodes)
    if element == "window" and len(loop.nodes) > 1 and sure.sum() < 0.6 * len(sure):
        width = _pen_width(sheet)
        found = inset_from(sheet.grey, loop.points, sheet.ink.half, width)
        sure = found.sure
    elif sure.sum() < 0.3 * len(sure):
        sure = found.sure
    add_loop(sheet, found.points, sure, element, hint, by_pen=True)


def _pen_width(sheet: Sheet) -> float:
    """The pen's width in dots, measured across the longest stroke; lines of one pen are alike."""
    if sheet.pen is None:
        longest = max(sheet.web.strokes, key=lambda stroke: stroke.length)
        sheet.pen = pen_width(sheet.grey, longest.points, longest.loose, sheet.ink.half)
    return sheet.pen


def _near_nodes(sheet: Sheet, points: Points, nodes: Iterable[int]) -> NDArray[np.bool_]:
    near = np.zeros(len(points), dtype=np.bool_)
    for node in nodes:
        near |= np.hypot(*(points - sheet.web.nodes[node]).T) < 2.2 * sheet.ink.half + 1.0
    return near


def add_loop(
    sheet: Sheet,
    points: Points,
    sure: NDArray[np.bool_],
    element: str,
    hint: str,
    *,
    by_pen: bool = False,
) -> None:
    """`by_pen` where the line is the middle of a pen's stroke and no edge of a black area."""
    line = shaped(
        points,
        sure,
        True,
        half=sheet.ink.half,
        px_per_mm=sheet.px_per_mm,
        simple=SIMPLE_MM * sheet.px_per_mm,
        deep=sheet.ink.deep if by_pen else None,
    )
    if len(line) >= 3:
        sheet.lines.append(RoughLine(sheet.mm(line), True, None, element, "", hint))


def add_surface(sheet: Sheet, stroke: Stroke) -> None:
    if stroke.length < _LEAST_SURFACE_MM * sheet.px_per_mm:
        return
    closed = stroke.loose
    if closed:
        add_drawn(sheet, Loop(stroke.points, []), "line", "surface")
        return
    found = middle_of(sheet.grey, stroke.points, False, sheet.ink.half)
    sure = found.sure.copy()
    points = found.points.copy()
    # The ends belong to the line whatever lies across them.
    for place in (0, -1):
        points[place] = stroke.points[place]
        sure[place] = True
    line = shaped(
        points,
        sure,
        False,
        half=sheet.ink.half,
        px_per_mm=sheet.px_per_mm,
        simple=SIMPLE_MM * sheet.px_per_mm,
        deep=sheet.ink.deep,
    )
    if len(line) >= 2:
        sheet.lines.append(RoughLine(sheet.mm(line), False, None, "line", "", "surface"))
