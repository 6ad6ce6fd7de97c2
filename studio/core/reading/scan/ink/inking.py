"""From a grey picture to ink: light made even, pen lines told from paper, pencil and fingers.

Two estimates of the paper's brightness serve two ends. The near one follows every shadow, so
that a pen line is dark against its own surroundings; the wide one runs smoothly over the whole
sheet, so that a shaded area stays darker than the paper around it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.reading.errors import PatternError
from studio.core.reading.scan.limits import MAX_PARTS, PEN_LEAST_MM, PEN_MOST_MM, SPECK_AREA

Grey = NDArray[np.uint8]
Plane = NDArray[np.float32]

_NEAR_MM = 3.0
_COARSE_PX_PER_MM = 1.5


@dataclass(frozen=True, slots=True)
class Ink:
    """What is ink on one sheet; all planes have the picture's shape.

    `shade` is 0 on paper and 1 on black, against the paper far and wide; `mask` is 1 on ink;
    `deep` is how far each ink dot lies from paper (px); `half` is half the pen's width (px).
    """

    shade: Plane
    mask: Grey
    deep: Plane
    half: float
    at_border: bool


def find_ink(grey: Grey, px_per_mm: float) -> Ink:
    """Raises PatternError when there is no ink, or far too much."""
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.6)
    wide = _wide_paper(grey, px_per_mm)
    near = _near_paper(smooth, wide, px_per_mm)
    dark = np.clip(1.0 - smooth.astype(np.float32) / near, 0.0, 1.0)
    shade = np.clip(1.0 - cv2.GaussianBlur(grey, (0, 0), 1.0).astype(np.float32) / wide, 0.0, 1.0)
    level = _ink_level(dark)
    raw = (dark > 0.5 * level).astype(np.uint8)
    mask, at_border = _pen_lines(raw, dark, level, px_per_mm)
    deep = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
    half = _half_width(deep, px_per_mm)
    mask = _without_specks(mask, half)
    if not mask.any():
        raise no_ink()
    return Ink(shade, mask, cv2.distanceTransform(mask, cv2.DIST_L2, 5), half, at_border)


def no_ink() -> PatternError:
    return PatternError(
        "no-ink",
        "No ink line was found in this picture.",
        "Draw over your lines with a black pen, about half a millimetre wide, and try again.",
    )


def _wide_paper(grey: Grey, px_per_mm: float) -> Plane:
    """The paper's brightness as a smooth surface through the bright parts of the sheet."""
    height, width = grey.shape
    shrink = max(1.0, px_per_mm / _COARSE_PX_PER_MM)
    size = max(8, round(width / shrink)), max(8, round(height / shrink))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    small = cv2.medianBlur(small, 5)
    y, x = np.mgrid[-1 : 1 : size[1] * 1j, -1 : 1 : size[0] * 1j].astype(np.float32)
    terms = [x**i * y**j for i in range(5) for j in range(5 - i)]
    basis = np.stack([term.ravel() for term in terms], axis=1)
    step = max(1, len(basis) // 8_000)
    rows, values = basis[::step], small.ravel()[::step]
    kept = values > 0.5 * np.percentile(values, 90)
    fit = np.zeros(len(terms))
    for _ in range(12):
        if kept.sum() < 4 * len(terms):
            break
        fit = np.linalg.lstsq(rows[kept].astype(np.float64), values[kept], rcond=None)[0]
        off = values - rows @ fit
        spread = max(2.0, 1.5 * float(np.median(np.abs(off[kept]))))
        fresh = (off > -2.0 * spread) & (off < 4.0 * spread)
        if (fresh == kept).all():
            break
        kept = fresh
    surface = (basis @ fit).reshape(size[1], size[0]).astype(np.float32)
    bright = float(np.percentile(values, 95))
    surface = np.clip(surface, 0.25 * bright, 1.3 * bright + 1.0)
    full: Plane = cv2.resize(surface, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.maximum(full, 8.0)


def _near_paper(grey: Grey, wide: Plane, px_per_mm: float) -> Plane:
    """The brightness just beside each dot; inside a black area that of the wide sheet."""
    shrink = max(1, int(px_per_mm // 5))
    height, width = grey.shape
    size = max(1, width // shrink), max(1, height // shrink)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    across = 2 * max(1, round(_NEAR_MM * px_per_mm / shrink / 2)) + 1
    shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    closed = cv2.morphologyEx(cv2.medianBlur(small, 3), cv2.MORPH_CLOSE, shape)
    closed = cv2.GaussianBlur(closed, (0, 0), across / 4)
    near = cv2.resize(closed, (width, height), interpolation=cv2.INTER_LINEAR).astype(np.float32)
    return np.maximum(np.where(near < 0.55 * wide, wide, near), 8.0)


def _ink_level(dark: Plane) -> float:
    """How dark ink is here: the darker part of all that is not paper."""
    values = dark[::2, ::2]
    values = values[values > 0.3]
    if values.size < 40:
        raise no_ink()
    return float(np.percentile(values, 75))


def _pen_lines(raw: Grey, dark: Plane, level: float, px_per_mm: float) -> tuple[Grey, bool]:
    """Without what touches the picture's border, and without faint (pencil) lines."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(raw, connectivity=8)
    height, width = raw.shape
    rim = max(1, round(0.3 * px_per_mm))
    touching = (
        (stats[:, 0] < rim)
        | (stats[:, 1] < rim)
        | (stats[:, 0] + stats[:, 2] > width - rim)
        | (stats[:, 1] + stats[:, 3] > height - rim)
    )
    big = stats[:, 4] > (PEN_LEAST_MM * px_per_mm) ** 2 * 2
    if int(big.sum()) > MAX_PARTS:
        raise PatternError(
            "too-many-parts",
            "This picture is full of small dark spots and no drawing can be told from them.",
            "Use plain white paper and even light, and keep print and patterns out of the picture.",
        )
    spots = labels.ravel()
    ink = spots > 0
    darkest = np.zeros(count, dtype=np.float32)
    sums = np.bincount(
        spots[ink], weights=(dark.ravel()[ink] > 0.68 * level).astype(np.float64), minlength=count
    )
    darkest[: len(sums)] = sums / np.maximum(stats[:, 4], 1)
    keep = big & ~touching & (darkest > 0.25)
    keep[0] = False
    lost = big & touching & (darkest > 0.25) & (stats[:, 4] > 20 * px_per_mm)
    lost[0] = False
    return keep[labels].astype(np.uint8), bool(lost.any())


def _half_width(deep: Plane, px_per_mm: float) -> float:
    """Half the pen's width: the usual depth along the middles of the ink."""
    if not deep.any():
        raise no_ink()
    ridge = (deep >= cv2.dilate(deep, np.ones((3, 3), np.uint8)) - 1e-3) & (deep > 0)
    depths = deep[ridge]
    thin = depths[depths <= PEN_MOST_MM / 2 * px_per_mm]
    chosen = float(np.median(thin)) if thin.size > 20 else PEN_MOST_MM / 4 * px_per_mm
    # The distance transform counts from the middle of the first paper dot.
    return max(chosen - 0.5, PEN_LEAST_MM / 2 * px_per_mm, 0.7)


def _without_specks(mask: Grey, half: float) -> Grey:
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    keep = stats[:, 4] >= SPECK_AREA * (2 * half) ** 2 / 2
    keep[0] = False
    kept: Grey = keep[labels].astype(np.uint8)
    return kept
