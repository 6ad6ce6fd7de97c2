"""Which ink is a small cross that marks a hole to be drilled?"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .strokes import Stroke, Web

Points = NDArray[np.float64]


def cross_at(strokes: Sequence[Stroke], web: Web, px_per_mm: float) -> Points | None:
    """The middle of a small cross: four free arms of like length from one node."""
    if len(strokes) != 4:
        return None
    starts = set.intersection(*({stroke.start, stroke.end} for stroke in strokes))
    if len(starts) != 1:
        return None
    node = web.nodes[next(iter(starts))]
    ends = [stroke.points[-1] if stroke.start in starts else stroke.points[0] for stroke in strokes]
    arms = np.array(ends) - node
    lengths = np.hypot(*arms.T)
    if lengths.min() < 0.3 * px_per_mm or lengths.max() > 2.6 * lengths.min():
        return None
    order = np.argsort(np.arctan2(arms[:, 1], arms[:, 0]))
    ends_in_order = np.array(ends)[order]
    (p, q, r, s) = ends_in_order
    u, v = r - p, s - q
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.6 * math.hypot(*u) * math.hypot(*v):
        return None
    along = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / cross
    spot: Points = p + along * u
    return spot
