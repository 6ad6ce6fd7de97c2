"""Areas filled with ink: their rim is the saw line, for black is what will be sawn away.

Where a darker line runs around a lighter filling, the middle of that line counts as usual.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .inking import Grey, Ink
from .middling import Middle, evened, middle_of, normals

Points = NDArray[np.float64]
_MOSTLY = 0.55
_LINED = 0.2


@dataclass(frozen=True, slots=True)
class Blob:
    """`rings` as OpenCV gives contours, (n, 1, 2): the outer one first, then those of gaps."""

    rings: list[NDArray[np.int32]]

    def measured(self, grey: Grey, half: float, number: int) -> Middle:
        points = self.rings[number][:, 0, :].astype(np.float64)
        # Ink lies on one side of all rings; which one follows from the turning of the ring.
        even = evened(points, True, max(1.0, half))
        across = normals(even, True)
        inward = _inward(grey, even, across)
        line, inner, paper = (
            _level(grey, even + inward * reach * across)
            for reach in (half, 3.2 * half + 2.0, -2.0 - half)
        )
        if inner - line > _LINED * (paper - line):
            return middle_of(grey, points + inward * half * across, True, half)
        return middle_of(grey, even, True, half, edge=-inward)


def _inward(grey: Grey, points: Points, across: Points) -> int:
    """1 when ink lies along the normals, -1 when against them."""
    one, other = _level(grey, points + 2.0 * across), _level(grey, points - 2.0 * across)
    return 1 if one < other else -1


def _level(grey: Grey, points: Points) -> float:
    high, wide = grey.shape
    x = np.clip(np.rint(points[:, 0]).astype(int), 0, wide - 1)
    y = np.clip(np.rint(points[:, 1]).astype(int), 0, high - 1)
    return float(np.median(grey[y, x]))


def take_blobs(ink: Ink, px_per_mm: float) -> tuple[list[Blob], Grey]:
    """Areas of ink much broader than the pen, and the mask without them.

    Where lines run into a filled area, the area is hollowed instead, so that its rim is a line.
    """
    mask = ink.mask.copy()
    depth = 2.0 * ink.half + 2.0
    core = (ink.deep > depth).astype(np.uint8)
    if not core.any():
        return [], mask
    size = 2 * round(depth) + 1
    shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    full = cv2.dilate(core, shape) & mask
    count, labels = cv2.connectedComponents(mask, connectivity=8)
    inked = np.bincount(labels.ravel(), minlength=count)
    filled = np.bincount(labels.ravel(), weights=full.ravel(), minlength=count)
    blobs: list[Blob] = []
    gone = np.zeros(count, dtype=np.bool_)
    for number in np.flatnonzero(filled > _MOSTLY * inked).tolist():
        if number == 0:
            continue
        gone[number] = True
        x, y, wide, high = cv2.boundingRect((labels == number).astype(np.uint8))
        alone = (labels[y : y + high, x : x + wide] == number).astype(np.uint8)
        alone = cv2.copyMakeBorder(alone, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
        found, tree = cv2.findContours(
            alone, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE, offset=(x - 1, y - 1)
        )
        outer = [ring for ring, place in zip(found, tree[0], strict=True) if place[3] < 0]
        gaps = [
            ring
            for ring, place in zip(found, tree[0], strict=True)
            if place[3] >= 0 and cv2.contourArea(ring) > (0.4 * px_per_mm) ** 2
        ]
        blobs.append(Blob([max(outer, key=len), *gaps]))
    mask[gone[labels]] = 0
    mask[(full == 1) & (ink.deep > 2.0 * ink.half + 1.0)] = 0
    return blobs, mask
