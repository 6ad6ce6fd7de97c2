"""From one upright grey picture of a sheet to the lines on it, in millimetres.

Working from the outside inwards: what the ink on bare paper encloses is a piece, what is
shaded in a piece is a window, a small round in it a drill mark, a cross too; every other line on
the metal is a surface line, also where it closes. In a window lie pieces again.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.drawing import Finding, Weight

from ..errors import PatternError
from ..rough import RoughLine
from ..tracing import Round
from .blobs import Blob, take_blobs
from .faces import Faces, faces_of
from .inking import Grey, Ink, find_ink, no_ink
from .limits import (
    CROSS_DIAMETER_MM,
    CROSS_MAX_MM,
    DRILL_DRAWN_MAX_MM,
    MAX_MIDDLE_PX,
    SIMPLE_MM,
)
from .loops import Loop, loops_around, loops_by_area
from .middling import inset_from, middle_of, pen_width
from .rounding import ANY_HAND, TRUE_HAND, circle_points, fitted_circle
from .shaping import shaped
from .strokes import Stroke, Web, web_of
from .thinning import thin

Points = NDArray[np.float64]

_LEAST_PIECE_MM = 3.0
_LEAST_SURFACE_MM = 0.8
_LEAST_WINDOW_MM = 0.6


@dataclass(slots=True)
class Part:
    """Ink that hangs together: its strokes, or the black area it is."""

    strokes: list[Stroke] = field(default_factory=list)
    blob: Blob | None = None


@dataclass(slots=True)
class _Sheet:
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


def read_sheet(grey: Grey, px_per_mm: float) -> tuple[list[RoughLine], list[Finding]]:
    """Raises PatternError when there is no drawing to be read."""
    ink = find_ink(grey, px_per_mm)
    blobs, mask = take_blobs(ink, px_per_mm)
    skeleton = thin(mask)
    if int(skeleton.sum()) > MAX_MIDDLE_PX:
        raise PatternError(
            "too-detailed",
            "There are far more lines in this picture than in a drawing to be sawn.",
            "Keep print, patterned tables and shadows out of the picture.",
        )
    web = web_of(skeleton, 2 * ink.half)
    barrier = _barrier(grey.shape, web, blobs)
    faces = faces_of(web, ink, barrier, px_per_mm)
    sheet = _Sheet(grey, ink, px_per_mm, web, faces)
    _read_parts(sheet, _parts(web, blobs))
    if not sheet.lines:
        raise no_ink()
    return sheet.lines, _remarks(sheet)


def _barrier(shape: tuple[int, ...], web: Web, blobs: list[Blob]) -> NDArray[np.uint8]:
    """All middle lines and rims, one dot wide and without gaps."""
    barrier = np.zeros(shape, dtype=np.uint8)
    for stroke in web.strokes:
        dots = np.rint(stroke.points).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(barrier, [dots], stroke.loose, 1, 1, cv2.LINE_8)
    for blob in blobs:
        cv2.polylines(barrier, [ring.astype(np.int32) for ring in blob.rings], True, 1)
    return barrier


def _parts(web: Web, blobs: list[Blob]) -> list[Part]:
    group: dict[int, int] = {node: node for node in web.nodes}

    def root(node: int) -> int:
        while group[node] != node:
            group[node] = group[group[node]]
            node = group[node]
        return node

    for stroke in web.strokes:
        if not stroke.loose:
            group[root(stroke.start)] = root(stroke.end)
    parts: dict[int, Part] = {}
    alone: list[Part] = []
    for stroke in web.strokes:
        if stroke.loose:
            alone.append(Part([stroke]))
        else:
            parts.setdefault(root(stroke.start), Part()).strokes.append(stroke)
    return [*parts.values(), *alone, *(Part(blob=blob) for blob in blobs)]


def _read_parts(sheet: _Sheet, parts: Iterable[Part]) -> None:
    """Each part once the face around it is known to be metal, window or bare paper."""
    around: dict[int, list[Part]] = {}
    for part in parts:
        around.setdefault(_face_around(sheet, part), []).append(part)
    seen: set[int] = set()
    todo = [(sheet.faces.outside, False)]
    while todo:
        face, metal = todo.pop()
        if face in seen:
            continue
        seen.add(face)
        for part in sorted(around.get(face, ()), key=lambda each: -_extent(each)):
            if part.blob is not None:
                todo += _read_blob(sheet, part.blob, metal)
            else:
                todo += _read_strokes(sheet, part, face, metal)


def _face_around(sheet: _Sheet, part: Part) -> int:
    labels = sheet.faces.labels
    if part.blob is not None:
        x, y = part.blob.rings[0][:, 0, :].min(axis=0)[0], part.blob.rings[0][:, 0, 1]
        row = int(y[part.blob.rings[0][:, 0, 0].argmin()])
        return int(labels[row, max(0, int(x) - 1)])
    points = np.vstack([stroke.points for stroke in part.strokes])
    left = points[points[:, 0].argmin()]
    row, column = round(left[1]), round(left[0])
    for step in range(1, 6):
        face = int(labels[row, max(0, column - step)])
        if face:
            return face
    return sheet.faces.outside


def _extent(part: Part) -> float:
    if part.blob is not None:
        return float(np.ptp(part.blob.rings[0][:, 0, :], axis=0).max())
    points = np.vstack([stroke.points for stroke in part.strokes])
    return float(np.ptp(points, axis=0).max())


def _read_blob(sheet: _Sheet, blob: Blob, metal: bool) -> list[tuple[int, bool]]:
    scale = sheet.px_per_mm
    outer = blob.measured(sheet.grey, sheet.ink.half, 0)
    circle = fitted_circle(outer.points, TRUE_HAND)
    if circle is not None and len(blob.rings) == 1 and 2 * circle[2] <= DRILL_DRAWN_MAX_MM * scale:
        if metal or sheet.lines:
            _add_round(sheet, *circle)
        else:
            sheet.small += 1
        return []
    if not metal and _extent(Part(blob=blob)) < _LEAST_PIECE_MM * scale:
        sheet.small += 1
        return []
    for number in range(len(blob.rings)):
        found = outer if number == 0 else blob.measured(sheet.grey, sheet.ink.half, number)
        _add_loop(sheet, found.points, found.sure, "area", "")
    return []


def _read_strokes(sheet: _Sheet, part: Part, face: int, metal: bool) -> list[tuple[int, bool]]:
    faces, scale = sheet.faces, sheet.px_per_mm
    enclosed = {
        side for stroke in part.strokes for side in faces.sides[id(stroke)] if side not in (0, face)
    }
    extent = _extent(part) / scale
    if metal and extent <= CROSS_MAX_MM and (spot := _cross(part, sheet.web, scale)) is not None:
        sheet.crosses += 1
        _add_round(sheet, spot[0], spot[1], CROSS_DIAMETER_MM / 2 * scale)
        return []
    rims = _rims(sheet, part, enclosed)
    if metal and len(rims) == 1 and extent <= DRILL_DRAWN_MAX_MM + 3.0:
        circle = _small_round(sheet, rims[0], TRUE_HAND if enclosed & faces.shaded else ANY_HAND)
        if circle is not None:
            _add_round(sheet, *circle)
            return []
    if not metal:
        return _read_piece(sheet, part, face, enclosed, rims, extent)
    windows = enclosed & faces.shaded
    if windows:
        # Slivers that hatching leaves along the window's line belong to the window.
        windows |= {each for each in enclosed if faces.areas[each] < (5.0 * sheet.ink.half) ** 2}
    for loop in _rims(sheet, part, windows):
        if cv2.contourArea(loop.points.astype(np.float32)) > (_LEAST_WINDOW_MM * scale) ** 2:
            _add_drawn(sheet, loop, "window", "")
    for stroke in part.strokes:
        one, other = faces.sides[id(stroke)]
        if not {one, other} & (windows | {0}):
            _add_surface(sheet, stroke)
    return [(each, each not in windows) for each in enclosed]


def _rims(sheet: _Sheet, part: Part, inside: Collection[int]) -> list[Loop]:
    if not inside:
        return []
    found = loops_around(part.strokes, inside, sheet.faces.sides)
    if found is None:
        found = loops_by_area(sheet.faces.labels, inside, part.strokes)
    return found


def _read_piece(
    sheet: _Sheet, part: Part, face: int, enclosed: set[int], rims: list[Loop], extent: float
) -> list[tuple[int, bool]]:
    """A part on bare paper or in a window: what it encloses is metal, but for windows."""
    faces = sheet.faces
    if extent < _LEAST_PIECE_MM:
        circle = _small_round(sheet, rims[0], ANY_HAND) if len(rims) == 1 else None
        if circle is not None and face in faces.shaded:
            _add_round(sheet, *circle)  # a pilot hole
        elif face not in faces.shaded:
            sheet.small += 1
        return []
    windows = enclosed & faces.shaded
    if windows == enclosed:
        if face in faces.shaded:
            return []  # hatching that does not reach the window's line
        windows = set()
    for loop in rims:
        _add_drawn(sheet, loop, "outline", "")
    for loop in _rims(sheet, part, windows):
        _add_drawn(sheet, loop, "window", "")
    for stroke in part.strokes:
        one, other = faces.sides[id(stroke)]
        if one == other == face:
            if face not in faces.shaded:
                _add_surface(sheet, stroke)
        elif {one, other} <= enclosed - windows - {0}:
            _add_surface(sheet, stroke)
    return [(each, each not in windows) for each in enclosed]


def _small_round(sheet: _Sheet, loop: Loop, slack: float) -> tuple[float, float, float] | None:
    found = middle_of(sheet.grey, loop.points, True, sheet.ink.half)
    if found.sure.sum() < 8:
        return None
    circle = fitted_circle(found.points[found.sure], slack)
    if circle is None or 2 * circle[2] > DRILL_DRAWN_MAX_MM * sheet.px_per_mm:
        return None
    return circle


def _cross(part: Part, web: Web, px_per_mm: float) -> Points | None:
    """The middle of a small cross: four free arms of like length from one node."""
    if len(part.strokes) != 4:
        return None
    starts = set.intersection(*({stroke.start, stroke.end} for stroke in part.strokes))
    if len(starts) != 1:
        return None
    node = web.nodes[next(iter(starts))]
    ends = [
        stroke.points[-1] if stroke.start in starts else stroke.points[0] for stroke in part.strokes
    ]
    arms = np.array(ends) - node
    lengths = np.hypot(*arms.T)
    if lengths.min() < 0.3 * px_per_mm or lengths.max() > 2.6 * lengths.min():
        return None
    order = np.argsort(np.arctan2(arms[:, 1], arms[:, 0]))
    ends_in_order = np.array(ends)[order]
    (p, q, r, s) = ends_in_order
    u, v = r - p, s - q
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.6 * math.hypot(*u) * math.hypot(*v):
        return None
    along = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / cross
    spot: Points = p + along * u
    return spot


def _add_round(sheet: _Sheet, x: float, y: float, radius: float) -> None:
    centre = sheet.mm(np.array([[x, y]]))[0]
    circle = Round(float(centre[0]), float(centre[1]), 2 * radius / sheet.px_per_mm)
    sheet.lines.append(RoughLine(circle_points(circle), True, circle, "drill mark"))


def _add_drawn(sheet: _Sheet, loop: Loop, element: str, hint: str) -> None:
    found = middle_of(sheet.grey, loop.points, True, sheet.ink.half)
    sure = found.sure & ~_near_nodes(sheet, found.points, loop.nodes)
    if element == "window" and len(loop.nodes) > 1 and sure.sum() < 0.6 * len(sure):
        width = _pen_width(sheet)
        found = inset_from(sheet.grey, loop.points, sheet.ink.half, width)
        sure = found.sure
    elif sure.sum() < 0.3 * len(sure):
        sure = found.sure
    _add_loop(sheet, found.points, sure, element, hint)


def _pen_width(sheet: _Sheet) -> float:
    """The pen's width in dots, measured across the longest stroke; lines of one pen are alike."""
    if sheet.pen is None:
        longest = max(sheet.web.strokes, key=lambda stroke: stroke.length)
        sheet.pen = pen_width(sheet.grey, longest.points, longest.loose, sheet.ink.half)
    return sheet.pen


def _near_nodes(sheet: _Sheet, points: Points, nodes: Iterable[int]) -> NDArray[np.bool_]:
    near = np.zeros(len(points), dtype=np.bool_)
    for node in nodes:
        near |= np.hypot(*(points - sheet.web.nodes[node]).T) < 2.2 * sheet.ink.half + 1.0
    return near


def _add_loop(
    sheet: _Sheet, points: Points, sure: NDArray[np.bool_], element: str, hint: str
) -> None:
    line = shaped(
        points,
        sure,
        True,
        half=sheet.ink.half,
        px_per_mm=sheet.px_per_mm,
        simple=SIMPLE_MM * sheet.px_per_mm,
    )
    if len(line) >= 3:
        sheet.lines.append(RoughLine(sheet.mm(line), True, None, element, "", hint))


def _add_surface(sheet: _Sheet, stroke: Stroke) -> None:
    if stroke.length < _LEAST_SURFACE_MM * sheet.px_per_mm:
        return
    closed = stroke.loose
    if closed:
        _add_drawn(sheet, Loop(stroke.points, []), "line", "surface")
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
    )
    if len(line) >= 2:
        sheet.lines.append(RoughLine(sheet.mm(line), False, None, "line", "", "surface"))


def _remarks(sheet: _Sheet) -> list[Finding]:
    remarks: list[Finding] = []
    if sheet.crosses:
        remarks.append(
            Finding(
                "cross-diameter",
                Weight.CAUTION,
                f"{sheet.crosses} cross{'es' if sheet.crosses > 1 else ''} read as a drill mark "
                f"of {CROSS_DIAMETER_MM:g} mm, because a cross does not say how large.",
                "Draw a circle of the drill's size where another diameter is meant.",
                value_mm=CROSS_DIAMETER_MM,
            )
        )
    if sheet.ink.at_border:
        remarks.append(
            Finding(
                "ink-at-border",
                Weight.CAUTION,
                "Something dark runs over the edge of the picture and was left out.",
                "If it is part of the drawing, take the picture again with paper all around it.",
            )
        )
    if sheet.small:
        remarks.append(
            Finding(
                "ink-small",
                Weight.CAUTION,
                f"{sheet.small} small spot{'s' if sheet.small > 1 else ''} outside every piece "
                f"and less than {_LEAST_PIECE_MM:g} mm across left out.",
                "Nothing to do, unless one was meant to be a piece: then draw it larger.",
                limit_mm=_LEAST_PIECE_MM,
            )
        )
    return remarks
