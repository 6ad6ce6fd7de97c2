"""Which areas the ink divides the sheet into, and which of them are shaded or hatched.

A face is an area with middle lines all around it. It is shaded when it is darker than the
paper, and hatched when the lines in it lie so close that no gap between them is wider than
`HATCH_GAP_MM`.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.reading.scan.limits import HATCH_GAP_MM, SHADED_FROM

from .inking import Ink
from .middling import evened, normals
from .strokes import Stroke, Web

_COARSE_PX_PER_MM = 6.0
_CELLS = 3
_THIN = 0.9
_DENSE = 0.45
_COVERED = 0.6
_BESIDE = 0.8

Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Faces:
    """`labels` numbers each dot's face (0 on middle lines); `sides` holds both faces of each
    stroke; `shaded` the numbers of shaded or hatched faces; `outside` the face around all."""

    labels: Labels
    sides: dict[int, tuple[int, int]]
    shaded: frozenset[int]
    outside: int
    areas: NDArray[np.int64]


def faces_of(web: Web, ink: Ink, barrier: NDArray[np.uint8], px_per_mm: float) -> Faces:
    """`barrier` is 1 on every middle line and on the rims of black areas."""
    count, labels = cv2.connectedComponents(1 - barrier, connectivity=4, ltype=cv2.CV_32S)
    labels = labels.astype(np.int32, copy=False)
    sides = {id(stroke): _sides(stroke, labels) for stroke in web.strokes}
    areas = np.bincount(labels.ravel(), minlength=count)
    shaded = _shaded(labels, ink, count)
    shaded |= _hatched(web, sides, labels, areas, ink, px_per_mm)
    outside = int(labels[0, 0])
    shaded.discard(outside)
    shaded.discard(0)
    return Faces(labels, sides, frozenset(shaded), outside, areas)


def _sides(stroke: Stroke, labels: Labels) -> tuple[int, int]:
    """The faces left and right of a stroke, as most dots beside its middle say."""
    count = len(stroke.points)
    even = evened(stroke.points, stroke.loose, 2.0)
    middle = (
        slice(0, count) if stroke.loose else slice(count // 4, max(count // 4 + 1, -count // 4))
    )
    points, across = even[middle], normals(even, stroke.loose)[middle]
    high, wide = labels.shape
    found = []
    for way in (1.0, -1.0):
        beside = []
        for step in (1.6, 2.4, 3.2):
            dots = np.rint(points + way * step * across).astype(int)
            beside.append(
                labels[np.clip(dots[:, 1], 0, high - 1), np.clip(dots[:, 0], 0, wide - 1)]
            )
        around = np.concatenate(beside)
        around = around[around > 0]
        found.append(int(np.bincount(around).argmax()) if around.size else 0)
    return found[0], found[1]


def _shaded(labels: Labels, ink: Ink, count: int) -> set[int]:
    """Faces whose paper, well away from ink lines, is dark."""
    shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(ink.half + 1) + 3,) * 2)
    clear = cv2.dilate(ink.mask, shape) == 0
    # In an area filled with black there is no clear paper at all.
    faces, shades = labels[clear], ink.shade[clear]
    dots = np.bincount(faces, minlength=count)
    mean = np.bincount(faces, weights=shades, minlength=count) / np.maximum(dots, 1)
    found = set(np.flatnonzero((mean > SHADED_FROM) & (dots > 30)).tolist())
    rest = np.bincount(labels.ravel(), minlength=count)
    inked = np.bincount(labels.ravel(), weights=ink.mask.ravel(), minlength=count)
    black = np.bincount(labels.ravel(), weights=ink.shade.ravel(), minlength=count)
    full = (inked > 0.92 * rest) & (black > 0.5 * rest) & (rest > (5 * ink.half) ** 2)
    return found | set(np.flatnonzero(full).tolist())


def _hatched(
    web: Web,
    sides: dict[int, tuple[int, int]],
    labels: Labels,
    areas: NDArray[np.int64],
    ink: Ink,
    px_per_mm: float,
) -> set[int]:
    cover = _cover(labels, areas, ink, px_per_mm)
    gap = HATCH_GAP_MM * px_per_mm
    inner: dict[int, float] = {}
    times: dict[int, int] = {}
    joins: list[tuple[int, int]] = []
    for stroke in web.strokes:
        one, other = sides[id(stroke)]
        if one == other:
            inner[one] = inner.get(one, 0.0) + stroke.length
            times[one] = times.get(one, 0) + 1
            continue
        if cover[one] > _THIN and cover[other] > _THIN:
            joins.append((one, other))
        # Crossing lines of hatching close small cells; they shade the face around them.
        for face, cell in ((one, other), (other, one)):
            if cover[cell] > _THIN and areas[cell] < gap**2:
                inner[face] = inner.get(face, 0.0) + stroke.length
    found = {
        face
        for face, length in inner.items()
        if times.get(face, 0) >= 2
        and length * gap > _DENSE * areas[face]
        and cover[face] > _COVERED
    }
    for group in _groups(joins):
        if len(group) >= _CELLS:
            found |= group
    narrow = (cover > _BESIDE) | (areas < (5.0 * ink.half) ** 2)
    return found | _beside(web, sides, narrow, found)


def _beside(
    web: Web,
    sides: dict[int, tuple[int, int]],
    narrow: NDArray[np.bool_],
    hatched: set[int],
) -> set[int]:
    """Narrow faces next to hatched ones: hatching that stops short of its line leaves some."""
    found: set[int] = set()
    for _ in range(3):
        more = {
            face
            for stroke in web.strokes
            for face, other in (sides[id(stroke)], sides[id(stroke)][::-1])
            if other in hatched | found and face and narrow[face]
        } - found
        if not more:
            break
        found |= more
    return found


def _groups(joins: list[tuple[int, int]]) -> list[set[int]]:
    group_of: dict[int, set[int]] = {}
    for one, other in joins:
        merged = group_of.get(one, {one}) | group_of.get(other, {other})
        for face in merged:
            group_of[face] = merged
    return list({id(group): group for group in group_of.values()}.values())


def _cover(
    labels: Labels, areas: NDArray[np.int64], ink: Ink, px_per_mm: float
) -> NDArray[np.float64]:
    """For each face the share of it that lies within half a hatching gap of ink on both sides."""
    shrink = max(1, round(px_per_mm / _COARSE_PX_PER_MM))
    high, wide = ink.mask.shape
    coarse = cv2.resize(
        ink.mask, (max(1, wide // shrink), max(1, high // shrink)), interpolation=cv2.INTER_AREA
    )
    small = cv2.resize(labels, (coarse.shape[1], coarse.shape[0]), interpolation=cv2.INTER_NEAREST)
    scale = px_per_mm / shrink
    radius = max(1, round(HATCH_GAP_MM / 2 * scale))
    shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    rim = radius + 1
    padded = cv2.copyMakeBorder(
        (coarse > 0).astype(np.uint8), rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=0
    )
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, shape)[rim:-rim, rim:-rim]
    total = np.bincount(small.ravel(), minlength=len(areas))
    within = np.bincount(small.ravel(), weights=closed.ravel(), minlength=len(areas))
    return within / np.maximum(total, 1)
