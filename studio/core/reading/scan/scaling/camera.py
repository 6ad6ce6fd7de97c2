"""How a camera saw the paper: perspective, and a lens that bends straight lines.

x = H(X): millimetres to picture, a homography; then, with r the distance from the picture's
middle as a share of half its longer side, every dot moves outwards by (1 + k1 r^2).

OpenCV's calibration takes the picture's middle for the lens's, so a cropped photo misleads it by
millimetres (the README of `studio/core/reading` has the figures); a free homography does not mind.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

_ROUNDS = 30


@dataclass(frozen=True, slots=True)
class Camera:
    """`homography` (3, 3) maps millimetres to the picture's own measure around `middle`."""

    homography: Points
    k1: float
    middle: Points
    reach: float

    def seen(self, paper: Points) -> Points:
        """Places on the paper (n, 2) in millimetres to places in the picture in dots."""
        bent = _bent(paper, np.append(self.homography.ravel()[:8], self.k1))
        return self.middle + self.reach * bent

    def scale_at(self, paper: Points) -> NDArray[np.float64]:
        """Dots for a millimetre at places on the paper, the smaller of both directions."""
        step = 0.1
        here = self.seen(paper)
        moved = [self.seen(paper + np.array(way) * step) - here for way in ((1, 0), (0, 1))]
        least: NDArray[np.float64] = np.min([np.hypot(*way.T) for way in moved], axis=0) / step
        return least


def _bent(paper: Points, values: Points) -> Points:
    matrix = np.append(values[:8], 1.0).reshape(3, 3)
    flat = np.column_stack((paper, np.ones(len(paper)))) @ matrix.T
    at = flat[:, :2] / flat[:, 2:]
    bent: Points = at * (1.0 + values[8] * (at**2).sum(axis=1))[:, None]
    return bent


def fitted_camera(paper: Points, dots: Points, size: tuple[int, int], *, lens: bool) -> Camera:
    """The camera that explains best where the marker corners are (least squares).

    `paper` in millimetres and `dots`, both (n, 2); `size` is the picture's width and height.
    `lens` is False where too few corners are known to tell a lens from perspective.
    """
    middle = (np.array(size, dtype=np.float64) - 1) / 2
    reach = max(size) / 2
    goal = (dots - middle) / reach
    start, _ = cv2.findHomography(paper, goal, 0)
    if start is None:
        raise ValueError("the corners lie on one line")
    values = np.append((start / start[2, 2]).ravel()[:8], 0.0)
    count = 9 if lens else 8
    damping = 1e-6
    off = _bent(paper, values) - goal
    for _ in range(_ROUNDS):
        slope = np.empty((off.size, count))
        for index in range(count):
            step = max(1e-7, 1e-6 * abs(values[index]))
            nudged = values.copy()
            nudged[index] += step
            slope[:, index] = ((_bent(paper, nudged) - goal) - off).ravel() / step
        normal = slope.T @ slope
        normal += damping * np.diag(np.diag(normal)) + 1e-18 * np.eye(count)
        change = np.linalg.solve(normal, -slope.T @ off.ravel())
        tried = values.copy()
        tried[:count] += change
        fresh = _bent(paper, tried) - goal
        if (fresh**2).sum() < (off**2).sum():
            better = 1 - (fresh**2).sum() / max((off**2).sum(), 1e-30)
            values, off, damping = tried, fresh, damping / 5
            if better < 1e-10:
                break
        else:
            damping *= 10
            if damping > 1e6:
                break
    return Camera(np.append(values[:8], 1.0).reshape(3, 3), float(values[8]), middle, reach)


def flattened(
    grey: NDArray[np.uint8], camera: Camera, width_mm: float, height_mm: float, px_per_mm: float
) -> NDArray[np.uint8]:
    """The paper from (0, 0) to (width, height) as if scanned; the last row is y = 0."""
    wide, high = round(width_mm * px_per_mm), round(height_mm * px_per_mm)
    out = np.empty((high, wide), dtype=np.uint8)
    x = (np.arange(wide) + 0.5) / px_per_mm
    matrix = camera.homography
    for first in range(0, high, 256):
        rows = np.arange(first, min(first + 256, high))
        y = (height_mm - (rows + 0.5) / px_per_mm)[:, None]
        depth = matrix[2, 0] * x + (matrix[2, 1] * y + matrix[2, 2])
        across = (matrix[0, 0] * x + (matrix[0, 1] * y + matrix[0, 2])) / depth
        down = (matrix[1, 0] * x + (matrix[1, 1] * y + matrix[1, 2])) / depth
        bend = camera.reach * (1.0 + camera.k1 * (across * across + down * down))
        out[rows] = cv2.remap(
            grey,
            (camera.middle[0] + bend * across).astype(np.float32),
            (camera.middle[1] + bend * down).astype(np.float32),
            cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=0,
        )
    return out
