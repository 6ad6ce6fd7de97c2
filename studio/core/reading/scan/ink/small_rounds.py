"""Small rounds: the circle that somebody meant when drawing it by hand."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from studio.core.reading.tracing import Round

Points = NDArray[np.float64]


ANY_HAND = 0.2
"""A circle drawn by hand, as a share of its radius; a square is off by more."""
TRUE_HAND = 0.08
"""A filled or shaded round; a hexagon is off by about as much, a pentagon by more."""


def fitted_circle(points: Points, slack: float) -> tuple[float, float, float] | None:
    """Centre and radius of the circle nearest to the points (least squares).

    None when some point is further off than `slack` of the radius, or when the points do not
    go round.
    """
    if len(points) < 8:
        return None
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    system = np.stack((x, y, np.ones_like(x)), axis=1)
    (a, b, c), *_ = np.linalg.lstsq(system, x**2 + y**2, rcond=None)
    square = c + (a**2 + b**2) / 4
    if not square > 0:
        return None
    radius = math.sqrt(square)
    centre = middle + np.array([a / 2, b / 2])
    reach = np.hypot(*(points - centre).T)
    if np.abs(reach - radius).max() > slack * radius:
        return None
    angles = np.sort(np.arctan2(*(points - centre).T[::-1]))
    gaps = np.diff(np.append(angles, angles[0] + math.tau))
    if gaps.max() > math.pi / 2:
        return None
    return float(centre[0]), float(centre[1]), radius


def circle_through(points: Points) -> tuple[float, float, float] | None:
    """The circle through three or more points (least squares), None when they are on a line."""
    if len(points) < 3:
        return None
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    system = np.stack((x, y, np.ones_like(x)), axis=1)
    (a, b, c), _, rank, _ = np.linalg.lstsq(system, x**2 + y**2, rcond=None)
    square = c + (a**2 + b**2) / 4
    if rank < 3 or not square > 0:
        return None
    return float(middle[0] + a / 2), float(middle[1] + b / 2), float(square**0.5)


def circle_points(circle: Round) -> Points:
    """48 points on the circle: within 0.01 mm of it at 3.5 mm across."""
    turn = np.linspace(0.0, math.tau, 48, endpoint=False)
    radius = circle.diameter_mm / 2
    return np.stack(
        (circle.x_mm + radius * np.cos(turn), circle.y_mm + radius * np.sin(turn)), axis=1
    )
