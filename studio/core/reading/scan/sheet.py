"""From one upright grey picture of a sheet to the lines on it, in millimetres.

Working from the outside inwards: what the ink on bare paper encloses is a piece, what is
shaded in a piece is a window, a small round in it a drill mark, a cross too; every other line on
the metal is a surface line, also where it closes. In a window lie pieces again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.drawing import Finding

from ..errors import PatternError
from ..rough import RoughLine
from .ink.blobs import Blob, take_blobs
from .ink.crosses import cross_at
from .ink.faces import faces_of
from .ink.inking import Grey, find_ink, no_ink
from .ink.loops import Loop, loops_around, loops_by_area
from .ink.small_rounds import ANY_HAND, TRUE_HAND, fitted_circle
from .ink.strokes import Stroke, Web, web_of
from .ink.thinning import thin
from .limits import (
    CROSS_DIAMETER_MM,
    CROSS_MAX_MM,
    DRILL_DRAWN_MAX_MM,
    LEAST_PIECE_MM,
    MAX_MIDDLE_PX,
)
from .marking import Sheet, add_drawn, add_loop, add_round, add_surface, small_round
from .remarks import remarks_on

Points = NDArray[np.float64]

_LEAST_WINDOW_MM = 0.6


@dataclass(slots=True)
class Part:
    """Ink that hangs together: its strokes, or the black area it is."""

    strokes: list[Stroke] = field(default_factory=list)
    blob: Blob | None = None


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
    sheet = Sheet(grey, ink, px_per_mm, web, faces)
    _read_parts(sheet, _parts(web, blobs))
    if not sheet.lines:
        raise no_ink()
    return sheet.lines, remarks_on(sheet)


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


def _read_parts(sheet: Sheet, parts: Iterable[Part]) -> None:
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


def _face_around(sheet: Sheet, part: Part) -> int:
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


def _read_blob(sheet: Sheet, blob: Blob, metal: bool) -> list[tuple[int, bool]]:
    scale = sheet.px_per_mm
    outer = blob.measured(sheet.grey, sheet.ink.half, 0)
    circle = fitted_circle(outer.points, TRUE_HAND)
    if circle is not None and len(blob.rings) == 1 and 2 * circle[2] <= DRILL_DRAWN_MAX_MM * scale:
        if metal or sheet.lines:
            add_round(sheet, *circle)
        else:
            sheet.small += 1
        return []
    if not metal and _extent(Part(blob=blob)) < LEAST_PIECE_MM * scale:
        sheet.small += 1
        return []
    for number in range(len(blob.rings)):
        found = outer if number == 0 else blob.measured(sheet.grey, sheet.ink.half, number)
        add_loop(sheet, found.points, found.sure, "area", "")
    return []


def _read_strokes(sheet: Sheet, part: Part, face: int, metal: bool) -> list[tuple[int, bool]]:
    faces, scale = sheet.faces, sheet.px_per_mm
    enclosed = {
        side for stroke in part.strokes for side in faces.sides[id(stroke)] if side not in (0, face)
    }
    extent = _extent(part) / scale
    if (
        metal
        and extent <= CROSS_MAX_MM
        and (spot := cross_at(part.strokes, sheet.web, scale)) is not None
    ):
        sheet.crosses += 1
        add_round(sheet, spot[0], spot[1], CROSS_DIAMETER_MM / 2 * scale)
        return []
    rims = _rims(sheet, part, enclosed)
    if metal and len(rims) == 1 and extent <= DRILL_DRAWN_MAX_MM + 3.0:
        circle = small_round(sheet, rims[0], TRUE_HAND if enclosed & faces.shaded else ANY_HAND)
        if circle is not None:
            add_round(sheet, *circle)
            return []
    if not metal:
        return _read_piece(sheet, part, face, enclosed, rims, extent)
    windows = enclosed & faces.shaded
    if windows:
        # Slivers that hatching leaves along the window's line belong to the window.
        windows |= {each for each in enclosed if faces.areas[each] < (5.0 * sheet.ink.half) ** 2}
    for loop in _rims(sheet, part, windows):
        if cv2.contourArea(loop.points.astype(np.float32)) > (_LEAST_WINDOW_MM * scale) ** 2:
            add_drawn(sheet, loop, "window", "")
    for stroke in part.strokes:
        one, other = faces.sides[id(stroke)]
        if not {one, other} & (windows | {0}):
            add_surface(sheet, stroke)
    return [(each, each not in windows) for each in enclosed]


def _rims(sheet: Sheet, part: Part, inside: Collection[int]) -> list[Loop]:
    if not inside:
        return []
    found = loops_around(part.strokes, inside, sheet.faces.sides)
    if found is None:
        found = loops_by_area(sheet.faces.labels, inside, part.strokes)
    return found


def _read_piece(
    sheet: Sheet, part: Part, face: int, enclosed: set[int], rims: list[Loop], extent: float
) -> list[tuple[int, bool]]:
    """A part on bare paper or in a window: what it encloses is metal, but for windows."""
    faces = sheet.faces
    if extent < LEAST_PIECE_MM:
        circle = small_round(sheet, rims[0], ANY_HAND) if len(rims) == 1 else None
        if circle is not None and face in faces.shaded:
            add_round(sheet, *circle)  # a pilot hole
        elif face not in faces.shaded:
            sheet.small += 1
        return []
    windows = enclosed & faces.shaded
    if windows == enclosed:
        if face in faces.shaded:
            return []  # hatching that does not reach the window's line
        windows = set()
    for loop in rims:
        add_drawn(sheet, loop, "outline", "")
    for loop in _rims(sheet, part, windows):
        add_drawn(sheet, loop, "window", "")
    for stroke in part.strokes:
        one, other = faces.sides[id(stroke)]
        if one == other == face:
            if face not in faces.shaded:
                add_surface(sheet, stroke)
        elif {one, other} <= enclosed - windows - {0}:
            add_surface(sheet, stroke)
    return [(each, each not in windows) for each in enclosed]
