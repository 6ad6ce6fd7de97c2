"""Takes a photo of a drawing in the printed capture frame, with a made-up camera.

The camera stands askew, has a lens that bends straight lines (as OpenCV's k1 says it), uneven
light, noise, and saves as JPEG. Every dot of the photo looks up where on the paper it lies.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.reading.frame import CLEAR_MM, Frame

from .rendering import grained, lit, paper_with
from .truth import TrueDrawing

Points = NDArray[np.float64]

_AROUND_MM = 12.0
_TABLE = 70


@dataclass(frozen=True, slots=True)
class Shot:
    """`tilt_deg` from straight above; `k1` with the focal length as its unit.

    `fine` is how many dots a millimetre of the paper has that is photographed.
    """

    tilt_deg: float = 0.0
    turn_deg: float = 0.0
    k1: float = 0.0
    megapixels: float = 12.0
    noise: float = 4.0
    fall: float = 0.4
    fine: float = 20.0


def framed_paper(
    frame: Frame, drawing: TrueDrawing, seed: int, fine: float = 20.0
) -> NDArray[np.uint8]:
    """The frame's sheet with the drawing in the middle of its area, `fine` dots for a mm."""
    rim = frame.border_mm + _AROUND_MM
    high = round((frame.height_mm + 2 * rim) * fine)
    wide = round((frame.width_mm + 2 * rim) * fine)
    page = np.full((high, wide), 245, dtype=np.uint8)

    def box(x: float, y: float, side: float, grey: int) -> None:
        left, top = round((x + rim) * fine), round((frame.height_mm - y - side + rim) * fine)
        page[top : top + round(side * fine), left : left + round(side * fine)] = grey

    for marker in frame.markers:
        box(marker.x_mm, marker.y_mm, frame.border_mm - CLEAR_MM, 25)
        for x, y, side in marker.white_modules:
            box(x, y, side, 245)
    drawn = paper_with(drawing, fine, seed=seed)
    left = round((rim + (frame.width_mm - drawing.width_mm) / 2) * fine)
    top = round((rim + (frame.height_mm - drawing.height_mm) / 2) * fine)
    page[top : top + drawn.shape[0], left : left + drawn.shape[1]] = drawn
    return page


class View(Protocol):
    """How askew the camera looks; `k1` with the focal length as its unit."""

    @property
    def tilt_deg(self) -> float: ...
    @property
    def turn_deg(self) -> float: ...
    @property
    def k1(self) -> float: ...


Standing = tuple[NDArray[np.float64], NDArray[np.float64], float]


def standing(
    chance: np.random.Generator, frame: Frame, view: View, size: tuple[int, int], focal: float
) -> Standing:
    """Rotation, where the paper's middle is, and how far: the whole frame is in the picture."""
    axis = chance.uniform(0, math.tau)
    tilt, turn = math.radians(view.tilt_deg), math.radians(view.turn_deg)
    leaning, _ = cv2.Rodrigues(np.array([math.cos(axis), math.sin(axis), 0.0]) * tilt)
    turning, _ = cv2.Rodrigues(np.array([0.0, 0.0, turn]))
    rotation = leaning @ turning
    rim = frame.border_mm + 4.0
    corners = np.array([(x, y, 0.0) for x in (-1.0, 1.0) for y in (-1.0, 1.0)]) * [
        frame.width_mm / 2 + rim,
        frame.height_mm / 2 + rim,
        1.0,
    ]
    far = 100.0
    while True:  # step back until the whole frame is in the picture
        seen = (rotation @ corners.T).T + np.array([0, 0, far])
        flat = seen[:, :2] / seen[:, 2:]
        bent = flat * (1 + view.k1 * (flat**2).sum(axis=1))[:, None] * focal
        if (np.abs(bent) <= [size[0] / 2 - 4, size[1] / 2 - 4]).all():
            return rotation, np.array([0.0, 0.0, far]), far
        far *= 1.01


def photographed(
    frame: Frame, drawing: TrueDrawing, shot: Shot, *, seed: int = 0
) -> NDArray[np.uint8]:
    """The photo as grey values; its long side lies along the paper's."""
    chance = np.random.default_rng(seed + 123)
    fine = shot.fine
    page = framed_paper(frame, drawing, seed, fine)
    long = round(math.sqrt(shot.megapixels * 1e6 * 4 / 3))
    high, wide = long, round(long * 3 / 4)
    focal = 0.85 * long
    rotation, _, far = standing(chance, frame, shot, (wide, high), focal)
    plane = np.column_stack((rotation[:, 0], rotation[:, 1], [0, 0, far]))
    back = np.linalg.inv(plane)
    out = np.empty((high, wide), dtype=np.float32)
    blur = far / focal * fine * 0.45
    page = cv2.GaussianBlur(page, (0, 0), max(0.5, blur))
    px = np.arange(wide) - (wide - 1) / 2
    for first in range(0, high, 500):
        rows = np.arange(first, min(first + 500, high))
        grid = np.stack(np.meshgrid(px, rows - (high - 1) / 2), axis=-1) / focal
        straight = grid.copy()
        for _ in range(8):
            straight = grid / (1 + shot.k1 * (straight**2).sum(axis=-1, keepdims=True))
        rays = np.dstack((straight, np.ones(straight.shape[:2]))) @ back.T
        mm = rays[..., :2] / rays[..., 2:]
        x = (mm[..., 0] + frame.width_mm / 2 + frame.border_mm + _AROUND_MM) * fine - 0.5
        y = (mm[..., 1] + frame.height_mm / 2 + frame.border_mm + _AROUND_MM) * fine - 0.5
        out[rows] = cv2.remap(
            page,
            x.astype(np.float32),
            y.astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=_TABLE,
        )
    return grained(lit(out, chance, shot.fall, finger=True), chance, shot.noise)
