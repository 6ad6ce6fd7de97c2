"""Which closed lines are circles, though the file may not call them so."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from studio.core.reading.tracing import Round

ROUND_SLACK_MM = 0.05  # a drill makes a true circle of anything this near to one
ROUND_SLACK_SHARE = 0.03
MOST_UNEVEN_SHARE = 0.2  # of the radius: more is no circle, however small
_LEAST_CORNERS = 8  # a hexagon is a shape somebody wanted


def round_of(points: NDArray[np.float64]) -> Round | None:
    """The circle that a closed line of shape (n, 2) is, within the slack; else None.

    The diameter is that of the circle with the same area.
    """
    if len(points) < _LEAST_CORNERS:
        return None
    after = np.roll(points, -1, axis=0)
    cross = points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1]
    doubled = float(cross.sum())
    if abs(doubled) < 1e-9:
        return None
    centre = ((points + after) * cross[:, None]).sum(axis=0) / (3.0 * doubled)
    radius = math.sqrt(abs(doubled) / math.tau)
    slack = max(ROUND_SLACK_MM, 2 * ROUND_SLACK_SHARE * radius)
    # Both corners and middles of sides, so that a polygon with long sides is no circle.
    reach = np.hypot(*(np.concatenate((points, (points + after) / 2)) - centre).T)
    if reach.max() - reach.min() > slack:
        return None
    if reach.max() - reach.min() > MOST_UNEVEN_SHARE * radius:
        return None
    return Round(round(float(centre[0]), 6), round(float(centre[1]), 6), round(2.0 * radius, 6))
