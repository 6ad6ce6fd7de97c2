"""Where in a flattened photo is metal? Paper is known from the frame's rim; the rest is not paper.

Levels are shares of the paper's brightness at the same place: 1 is paper, darker is less.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ..errors import PatternError

Grey = NDArray[np.uint8]
Plane = NDArray[np.float32]
Points = NDArray[np.float64]

RIM_MM = 3.0
_SMALL_PX_PER_MM = 2.0
_LEAST_OFF = 0.07
_LEAST_SIDE_MM = 8.0
_LEAST_OPENING_MM = 0.9
_CLOSE_MM = 1.2
_SECOND = 0.15  # of the metal's area: so large a second thing may be metal too


@dataclass(frozen=True, slots=True)
class Silhouette:
    """`level` has the picture's shape; `outer` and each of `openings` are rings (n, 2) in dots,
    coarse; `bays` are those openings that run out into the paper through a gap, however narrow.
    `ground` has the picture's shape: 0 is metal, 1 the paper outside, 2 onwards the openings in
    their order. `others` is how many smaller things lay beside the metal."""

    level: Plane
    metal: float
    outer: Points
    openings: list[Points]
    bays: frozenset[int]
    ground: NDArray[np.int16]
    others: int


def find_metal(grey: Grey, px_per_mm: float) -> Silhouette:
    """Raises PatternError when no metal, or more than one piece, or only a part lies there."""
    paper, noise = _paper(grey, px_per_mm)
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.08 * px_per_mm).astype(np.float32)
    level = smooth / paper
    least = max(_LEAST_OFF, 6.0 * noise)
    metal = _metal_level(level, least, px_per_mm)
    off = max(least, 0.5 * (1.0 - metal))
    unlike = ((level < 1.0 - off) | (level > 1.0 + max(0.09, 6.0 * noise))).astype(np.uint8)
    unlike = cv2.morphologyEx(unlike, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    whole, others = _one_piece(unlike, px_per_mm)
    outlines, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outer = max(outlines, key=cv2.contourArea)
    filled = cv2.drawContours(np.zeros_like(whole), [outer], -1, 1, cv2.FILLED)
    openings = _openings(filled, unlike & filled, px_per_mm)
    ground = np.where(filled > 0, 0, 1).astype(np.int16)
    for number, one in enumerate(openings):
        cv2.drawContours(ground, [one], -1, number + 2, cv2.FILLED)
    bays = _bays(openings, ground, unlike)
    rings = [_ring(one) for one in openings]
    return Silhouette(level, metal, _ring(outer), rings, bays, ground, others)


def _paper(grey: Grey, px_per_mm: float) -> tuple[Plane, float]:
    """The paper's brightness over the whole sheet, and its grain as a share of it."""
    height, width = grey.shape
    shrink = px_per_mm / _SMALL_PX_PER_MM
    size = max(16, round(width / shrink)), max(16, round(height / shrink))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    values = cv2.medianBlur(small, 5).astype(np.float64).ravel()
    y, x = np.mgrid[-1 : 1 : size[1] * 1j, -1 : 1 : size[0] * 1j]
    rim = round(RIM_MM * _SMALL_PX_PER_MM)
    edge = np.ones(small.shape, dtype=np.bool_)
    edge[rim:-rim, rim:-rim] = False
    band = edge.ravel()
    bright = band & (values > 0.6 * np.percentile(values[band], 80))
    if bright.sum() < 0.6 * band.sum():
        raise _at_the_rim()
    kept, fit = bright, np.zeros(0)
    for degree, near in ((1, 0.2), (2, 0.1), (2, 0.06), (3, 0.05), (3, 0.04)):
        basis = np.stack(
            [(x**i * y**j).ravel() for i in range(degree + 1) for j in range(degree + 1 - i)],
            axis=1,
        )
        fit = basis @ np.linalg.lstsq(basis[kept], values[kept], rcond=None)[0]
        fit = np.maximum(fit, 0.3 * np.percentile(values[bright], 50))
        fresh = np.abs(values / fit - 1.0) < near
        # Metal as bright as the paper must not pull the paper's surface towards itself.
        kept = fresh & (band if degree == 1 else _away_from_dark(values / fit, small.shape))
        if kept.sum() < 200:
            raise _at_the_rim()
    plane = fit.reshape(small.shape).astype(np.float32)
    full: Plane = np.maximum(cv2.resize(plane, (width, height)), 8.0)
    here = cv2.resize(
        kept.reshape(small.shape).astype(np.uint8), (width, height), interpolation=cv2.INTER_NEAREST
    )
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.08 * px_per_mm).astype(np.float32)
    rest = np.abs(smooth / full - 1.0)[here > 0]
    return full, 1.5 * float(np.median(rest[:: max(1, rest.size // 100_000)]))


def _away_from_dark(level: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Places that no area unlike paper encloses."""
    unlike = (np.abs(level.reshape(shape) - 1.0) > 0.1).astype(np.uint8)
    outlines, _ = cv2.findContours(unlike, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    large = [one for one in outlines if cv2.contourArea(one) > 30]
    inside = cv2.drawContours(np.zeros(shape, np.uint8), large, -1, 1, cv2.FILLED)
    inside = cv2.dilate(inside, np.ones((5, 5), np.uint8))
    found: NDArray[np.bool_] = (inside == 0).ravel()
    return found


def _metal_level(level: Plane, least: float, px_per_mm: float) -> float:
    """How bright the metal usually is."""
    shrink = max(1, round(px_per_mm / 4))
    small = level[::shrink, ::shrink]
    unlike = (np.abs(small - 1.0) > least).astype(np.uint8)
    core = cv2.erode(unlike, np.ones((5, 5), np.uint8))
    if core.sum() < (_LEAST_SIDE_MM / 2 * px_per_mm / shrink) ** 2:
        raise PatternError(
            "no-metal",
            "No piece of metal stands out from the paper in this photo.",
            "Lay the metal on the white paper inside the frame's dashed line. Where it shines as "
            "bright as the paper, turn it, or draw round it with a pen and photograph the line.",
        )
    return float(np.median(small[core > 0]))


def _one_piece(unlike: Grey, px_per_mm: float) -> tuple[Grey, int]:
    """The largest thing that is not paper, slits closed; how many others lie there."""
    across = 2 * round(_CLOSE_MM * px_per_mm / 2) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    padded = cv2.copyMakeBorder(unlike, across, across, across, across, cv2.BORDER_CONSTANT)
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc)[across:-across, across:-across]
    _, labels, stats, _ = cv2.connectedComponentsWithStats(closed, connectivity=4)
    areas = stats[1:, cv2.CC_STAT_AREA]
    height, width = unlike.shape
    rim = max(2, round(0.5 * px_per_mm))
    best = int(areas.argmax()) + 1
    x, y, wide, high = (int(value) for value in stats[best, :4])
    if min(x, y) < rim or x + wide > width - rim or y + high > height - rim:
        raise _at_the_rim()
    if max(wide, high) < _LEAST_SIDE_MM * px_per_mm:
        raise PatternError(
            "metal-small",
            "The piece in this photo is too small to be read as metal.",
            f"A piece has to be at least {_LEAST_SIDE_MM:.0f} mm long; measure a smaller one.",
        )
    large = np.flatnonzero(areas > _SECOND * areas[best - 1])
    if len(large) > 1:
        raise PatternError(
            "metal-several",
            f"{len(large)} things lie in the frame.",
            "Photograph one piece of metal at a time, with nothing beside it.",
        )
    speck = (1.5 * px_per_mm) ** 2
    one: Grey = (labels == best).astype(np.uint8)
    return one, int((areas > speck).sum()) - 1


def _openings(filled: Grey, metal: Grey, px_per_mm: float) -> list[NDArray[np.int32]]:
    """Contours around what is light inside the metal, but for scratches."""
    light = (filled & (1 - metal)).astype(np.uint8)
    across = 2 * round(_LEAST_OPENING_MM * px_per_mm / 2) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    broad = cv2.morphologyEx(light, cv2.MORPH_OPEN, disc)
    found, _ = cv2.findContours(broad, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    least = (_LEAST_OPENING_MM * px_per_mm) ** 2 * 0.6
    rings = [np.asarray(each, np.int32) for each in found if cv2.contourArea(each) > least]
    rings.sort(key=cv2.contourArea, reverse=True)
    return rings[:60]


def _bays(
    openings: list[NDArray[np.int32]], ground: NDArray[np.int16], unlike: Grey
) -> frozenset[int]:
    """Which openings light joins to the paper outside: their mouth was closed as a slit is."""
    _, light = cv2.connectedComponents(1 - unlike, connectivity=4)
    outside = np.unique(light[(ground == 1) & (unlike == 0)])
    found = set()
    for number, one in enumerate(openings):
        x, y, wide, high = cv2.boundingRect(one)
        here = np.s_[y : y + high, x : x + wide]
        inside = light[here][(ground[here] == number + 2) & (unlike[here] == 0)]
        if inside.size and np.isin(np.bincount(inside).argmax(), outside):
            found.add(number)
    return frozenset(found)


def _ring(contour: NDArray[np.int32]) -> Points:
    return contour[:, 0, :].astype(np.float64)


def _at_the_rim() -> PatternError:
    return PatternError(
        "metal-at-rim",
        "Something dark runs over the edge of the frame's drawing area.",
        "Lay the whole piece inside the dashed line with white paper all around it, and let no "
        "shadow of a hand or of the camera fall on it. A piece too large for the frame is "
        "measured instead.",
    )
