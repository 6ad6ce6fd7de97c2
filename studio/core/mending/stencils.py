"""Is a closed line nearly a circle or an ellipse, drawn without a stencil?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import thresholds
from .conics import Ellipse, fit_circle, fit_ellipse
from .hands import trembles
from .sides import is_many_sided
from .ways import Section, Way

_HARMONICS = 24


def stencilled(way: Way, *, paper: bool) -> Ellipse | None:
    """The circle (ratio 1) or ellipse that was meant; None when exact, or meant otherwise."""
    if not way.closed or way.span < thresholds.LEAST_ROUND_MM or len(way.line.points) < 12:
        return None
    if len(way.corners) > thresholds.ROUND_CORNERS:
        return None
    points = way.at(np.linspace(0.0, way.length, 361)[:-1])
    circle, ellipse = fit_circle(points), fit_ellipse(points)
    exact = thresholds.READING_MM if paper else thresholds.FLATTENING_MM
    if any(fit is not None and _most(fit.off(points)) <= exact for fit in (circle, ellipse)):
        return None
    if circle is not None and (ellipse is None or ellipse.ratio >= thresholds.ROUND_RATIO):
        return circle if _is_meant(circle, way, thresholds.ROUND_MOST_SHARE, paper) else None
    if ellipse is None or ellipse.ratio < thresholds.ELLIPSE_LEAST_RATIO:
        return None
    return ellipse if _is_meant(ellipse, way, thresholds.ELLIPSE_MOST_SHARE, paper) else None


def _is_meant(fit: Ellipse, way: Way, share: float, paper: bool) -> bool:
    off = fit.off(way.at(np.linspace(0.0, way.length, 361)[:-1]))
    if _most(off) > min(thresholds.ROUND_MOST_MM, share * fit.lesser_mm):
        return False
    if _has_even_lobes(off, fit.lesser_mm):
        return False
    if is_many_sided(way, Section(0.0, way.length, whole=True), surely=True):
        return False
    return paper or trembles(off, way.length, thresholds.SWING_MM / 2)


def _most(off: NDArray[np.float64]) -> float:
    return float(np.abs(off).max())


def _has_even_lobes(off: NDArray[np.float64], radius_mm: float) -> bool:
    """Whether the offsets are one even wave around: petals, scallops, an egg, a soft square."""
    height = np.abs(np.fft.rfft(off))[: _HARMONICS + 1] * 2.0 / len(off)
    # The first two are the circle's own place and its flatness.
    power = height[3:] ** 2
    if not len(power) or power.sum() <= 0.0:
        return False
    largest = int(power.argmax())
    even = power[largest] >= thresholds.EVEN_LOBES_OF_ALL * power.sum()
    return bool(even and height[3 + largest] >= thresholds.EVEN_LOBES_SHARE * radius_mm)
