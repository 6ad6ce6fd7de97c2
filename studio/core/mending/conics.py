"""Circles and ellipses nearest to measured points.

OpenCV has the same fit in single precision (0.0001 mm off where this is exact), but no picture
library is loaded into a web process, which is where mending happens.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .ways import Points

Offsets = NDArray[np.float64]
_LIKE_A_CIRCLE = 1e-9


@dataclass(frozen=True, slots=True)
class Ellipse:
    """Centre, greater and lesser half axis in millimetres, turn of the greater in radians."""

    x_mm: float
    y_mm: float
    greater_mm: float
    lesser_mm: float
    turn_rad: float

    @property
    def ratio(self) -> float:
        return self.lesser_mm / self.greater_mm

    def outline(self, tolerance_mm: float) -> Points:
        """Points around it, counter-clockwise, whose polygon has the area of the ellipse."""
        share = min(1.0, 1.5 * tolerance_mm / self.greater_mm)
        count = max(12, 4 * math.ceil(math.pi / math.acos(1.0 - share) / 4))
        step = math.tau / count
        push = math.sqrt(step / math.sin(step))
        t = step * np.arange(count)
        x, y = push * self.greater_mm * np.cos(t), push * self.lesser_mm * np.sin(t)
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        return np.stack((self.x_mm + c * x - s * y, self.y_mm + s * x + c * y), axis=1)

    def off(self, points: Points) -> Offsets:
        """Distances of points from the curve, outside positive; to second order in the distance.

        Measured along the gradient of the ellipse's equation, which is exact for a circle.
        """
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        x, y = points[:, 0] - self.x_mm, points[:, 1] - self.y_mm
        u, v = (c * x + s * y) / self.greater_mm, (c * y - s * x) / self.lesser_mm
        size = np.hypot(u, v)
        slope = np.hypot(u / self.greater_mm, v / self.lesser_mm)
        found: Offsets = (size - 1.0) * size / np.maximum(slope, 1e-12)
        return found


def fit_circle(points: Points) -> Ellipse | None:
    """The circle nearest to the points (n, 2), n of 3 or more; None when they lie on a line.

    Taubin's fit (G. Taubin, "Estimation of planar curves, surfaces and nonplanar space curves
    defined by implicit equations", IEEE PAMI 13, 1991), solved by singular values as in N.
    Chernov, "Circular and Linear Regression", 2010; then the sum of squared distances itself
    is made least by Gauss-Newton steps from there.
    """
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    square = x * x + y * y
    mean = float(square.mean())
    if mean <= 0.0:
        return None
    scaled = (square - mean) / (2.0 * math.sqrt(mean))
    _, values, axes = np.linalg.svd(np.stack((scaled, x, y), axis=1), full_matrices=False)
    if values[1] <= 1e-9 * values[0]:
        return None
    first, second, third = axes[2]
    lead = first / (2.0 * math.sqrt(mean))
    if abs(lead) * math.sqrt(mean) < 1e-9:
        return None
    a, b = -second / (2.0 * lead), -third / (2.0 * lead)
    radius = math.sqrt(max(0.0, a * a + b * b + mean))
    for _ in range(20):
        dx, dy = x - a, y - b
        reach = np.maximum(np.hypot(dx, dy), 1e-12)
        system = np.stack((dx / reach, dy / reach, np.ones_like(x)), axis=1)
        change, *_ = np.linalg.lstsq(system, reach - radius, rcond=None)
        a, b, radius = a + float(change[0]), b + float(change[1]), radius + float(change[2])
        if float(np.abs(change).max()) < 1e-10 * max(1.0, radius):
            break
    if not (math.isfinite(radius) and 0.0 < radius < 1e6):
        return None
    return Ellipse(float(middle[0]) + a, float(middle[1]) + b, radius, radius, 0.0)


def fit_ellipse(points: Points) -> Ellipse | None:
    """The ellipse nearest to the points (n, 2), n of 6 or more; None where there is none.

    The direct least squares fit that can only be an ellipse (A. Fitzgibbon, M. Pilu, R. Fisher,
    IEEE PAMI 21, 1999) in the form that is stable for exact points (R. Halíř, J. Flusser,
    "Numerically stable direct least squares fitting of ellipses", WSCG 1998).
    """
    if len(points) < 6:
        return None
    middle = points.mean(axis=0)
    size = float(np.hypot(*(points - middle).T).max())
    if size <= 0.0:
        return None
    x, y = ((points - middle) / size).T
    curved = np.stack((x * x, x * y, y * y), axis=1)
    plain = np.stack((x, y, np.ones_like(x)), axis=1)
    s1, s2, s3 = curved.T @ curved, curved.T @ plain, plain.T @ plain
    if np.linalg.cond(s3) > 1e12:
        return None
    across = -np.linalg.solve(s3, s2.T)
    reduced = s1 + s2 @ across
    constrained = np.stack((reduced[2] / 2.0, -reduced[1], reduced[0] / 2.0))
    _, vectors = np.linalg.eig(constrained)
    vectors = np.real(vectors)
    right = 4.0 * vectors[0] * vectors[2] - vectors[1] ** 2
    if not (right > 0.0).any():
        return None
    lead = vectors[:, int(np.argmax(right))]
    return _from_conic(np.concatenate((lead, across @ lead)), middle, size)


def _from_conic(
    conic: NDArray[np.float64], middle: NDArray[np.float64], size: float
) -> Ellipse | None:
    """The ellipse A x2 + B xy + C y2 + D x + E y + F = 0, scaled by `size` about `middle`."""
    a, b, c, d, e, f = conic.tolist()
    matrix = np.array([[a, b / 2], [b / 2, c]])
    if abs(float(np.linalg.det(matrix))) < 1e-14:
        return None
    centre = np.linalg.solve(matrix, np.array([-d / 2, -e / 2]))
    at_centre = f + (d * centre[0] + e * centre[1]) / 2
    values, axes = np.linalg.eigh(matrix)
    with np.errstate(divide="ignore", invalid="ignore"):
        squares = -at_centre / values
    if not (np.isfinite(squares).all() and (squares > 0.0).all()):
        return None
    halves = np.sqrt(squares) * size
    long = int(np.argmax(halves))
    greater, lesser = float(halves[long]), float(halves[1 - long])
    turn = math.atan2(float(axes[1, long]), float(axes[0, long])) % math.pi
    if greater - lesser < _LIKE_A_CIRCLE * greater:
        turn = 0.0
    x, y = middle + size * centre
    return Ellipse(float(x), float(y), greater, lesser, turn)
