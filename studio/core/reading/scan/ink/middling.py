"""Moves a rough middle line to the true middle of the ink, to a fraction of a dot.

Across every dot of the line the picture is sampled, and the two places are found where it is
half as dark as the ink. Where one side has no paper (another line meets it there) the place is
left out, and smoothing carries the line across.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

_STEP = 0.25


@dataclass(frozen=True, slots=True)
class Middle:
    """Points (n, 2) in dots; `sure` says where the middle was measured."""

    points: Points
    sure: NDArray[np.bool_]


def evened(points: Points, closed: bool, spread: float) -> Points:
    """Points blurred along the line by a bell curve of `spread` points; ends stay."""
    if len(points) < 3:
        return points
    reach = max(1, min(int(3 * spread), len(points) - 1))
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    bell /= bell.sum()
    if closed:
        padded = np.vstack((points[-reach:], points, points[:reach]))
    else:
        padded = np.vstack(
            (
                2 * points[0] - points[reach:0:-1],
                points,
                2 * points[-1] - points[-2 : -reach - 2 : -1],
            )
        )
    found: Points = np.stack(
        [np.convolve(padded[:, axis], bell, "valid") for axis in (0, 1)], axis=1
    )
    return found


def normals(points: Points, closed: bool) -> Points:
    """Unit vectors at right angles to the line, to its left when y points down the page."""
    if closed:
        along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    else:
        along = np.gradient(points, axis=0)
    length = np.maximum(np.hypot(*along.T), 1e-9)
    across: Points = np.stack((along[:, 1], -along[:, 0]), axis=1) / length[:, None]
    return across


def middle_of(
    grey: NDArray[np.uint8], points: Points, closed: bool, half: float, *, edge: int = 0
) -> Middle:
    """`half` is half the pen's width in dots.

    `edge` = 1 or -1 asks for the edge of the ink on that side of the line instead.
    """
    even = evened(points, closed, max(1.0, half))
    first = _measured(grey, even, closed, half, edge)
    filled = _bridged(first.points, first.sure, closed)
    if edge:
        return Middle(filled, first.sure)
    return _measured(grey, evened(filled, closed, max(1.0, half / 2)), closed, half, edge)


def inset_from(grey: NDArray[np.uint8], points: Points, half: float, width: float) -> Middle:
    """A closed line half a pen's `width` inside the outer edge of its ink.

    For the rim of hatching, where the ink's inner edge is hardly ever to be seen.
    """
    x, y = points.T
    after_x, after_y = np.roll(points, -1, axis=0).T
    outward = 1 if float((x * after_y - after_x * y).sum()) > 0 else -1
    rim = middle_of(grey, points, True, half, edge=outward)
    even = evened(rim.points, True, max(1.0, half / 2))
    across = normals(even, True)
    return Middle(rim.points - outward * (width / 2) * across, rim.sure)


def pen_width(grey: NDArray[np.uint8], points: Points, closed: bool, half: float) -> float:
    """How wide the ink is along a line, the middle value of all places."""
    one, other = (middle_of(grey, points, closed, half, edge=side) for side in (1, -1))
    both = one.sure & other.sure
    if not both.any():
        return 2 * half
    return float(np.median(np.hypot(*(one.points - other.points)[both].T)))


def _measured(
    grey: NDArray[np.uint8], points: Points, closed: bool, half: float, edge: int
) -> Middle:
    across = normals(points, closed)
    reach = 2.2 * half + 3.0
    offsets = np.arange(-reach, reach + _STEP / 2, _STEP)
    where_x = points[:, :1] + offsets * across[:, :1]
    where_y = points[:, 1:] + offsets * across[:, 1:]
    values = _sampled(grey, where_x, where_y)
    centre = len(offsets) // 2
    core = max(2, round(half / _STEP))
    ink = values[:, centre - core : centre + core + 1].min(axis=1)
    wide = 2.2 * half + 2.5 if edge else 1.35 * half + 2.2
    left, left_sure = _side(values[:, centre::-1], ink, wide)
    right, right_sure = _side(values[:, centre:], ink, wide)
    if edge:
        off = right if edge > 0 else -left
        sure = right_sure if edge > 0 else left_sure
    else:
        off = (right - left) / 2
        sure = left_sure & right_sure
        width = left + right
        if sure.any():
            usual = float(np.median(width[sure]))
            sure &= (width < 1.5 * usual + 1.0) & (width > 0.5 * usual - 1.0)
    return Middle(points + np.where(sure, off, 0.0)[:, None] * across, sure)


def _sampled(
    grey: NDArray[np.uint8], where_x: NDArray[np.float64], where_y: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Bilinear samples; taken in portions, because remapping bounds the height of a table."""
    found = [
        cv2.remap(
            grey,
            where_x[first : first + 8_000].astype(np.float32),
            where_y[first : first + 8_000].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for first in range(0, len(where_x), 8_000)
    ]
    return np.concatenate(found).astype(np.float32)


def _side(
    values: NDArray[np.float32], ink: NDArray[np.float32], reach: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """How far from the middle the ink ends, looking outwards (columns)."""
    count = values.shape[1]
    near = min(count, round(reach / _STEP))
    paper = values[:, :near].max(axis=1)
    # Half way between the darkest of the line and the brightest beside it.
    limit = (ink + paper) / 2
    light = values[:, :near] >= limit[:, None]
    found = light.argmax(axis=1)
    rows = np.arange(len(values))
    before = np.maximum(found - 1, 0)
    low, high = values[rows, before], values[rows, found]
    rise = np.maximum(high - low, 1e-6)
    place = (before + np.clip((limit - low) / rise, 0.0, 1.0)) * _STEP
    sure = light.any(axis=1) & (found > 0) & (paper - ink > 25.0)
    return place.astype(np.float64), sure


def _bridged(points: Points, sure: NDArray[np.bool_], closed: bool) -> Points:
    """Unmeasured stretches replaced by straight bridges between measured points."""
    if sure.all() or sure.sum() < 2:
        return points
    places = np.flatnonzero(sure)
    index = np.arange(len(points))
    if closed:
        wrapped = np.concatenate((places - len(points), places, places + len(points)))
        known = np.vstack((points[places],) * 3)
    else:
        wrapped, known = places, points[places]
    return np.stack([np.interp(index, wrapped, known[:, axis]) for axis in (0, 1)], axis=1)
