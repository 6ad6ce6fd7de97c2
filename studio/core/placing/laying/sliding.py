"""How far a piece can slide until it touches, and how long it then lies flush.

Edges are rows (x0, y0, x1, y1) with the inside on their left, for the moving piece and for the
free region alike; a piece inside the region and flush with its rim runs in the same sense.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SIDE_MM = 1e-4  # overlaps in the other direction shorter than this do not block
BACK_MM = 1e-3  # contact already made to this depth still blocks
FLUSH_MM = 0.01
FLUSH_LEAST_MM = 3.0


def slide(moving: Array, rim: Array, direction: tuple[float, float]) -> float:
    """How far `moving` can go in a unit direction before an edge meets the rim; inf if never."""
    dx, dy = direction
    # u along the direction, v to its left; only edges that face forward can meet
    ahead = (moving[:, 3] - moving[:, 1]) * dx - (moving[:, 2] - moving[:, 0]) * dy > 0.0
    front = (rim[:, 3] - rim[:, 1]) * dx - (rim[:, 2] - rim[:, 0]) * dy > 0.0
    m, r = moving[ahead], rim[front]
    if not len(m) or not len(r):
        return np.inf
    mu0, mv0 = m[:, 0] * dx + m[:, 1] * dy, m[:, 1] * dx - m[:, 0] * dy
    mu1, mv1 = m[:, 2] * dx + m[:, 3] * dy, m[:, 3] * dx - m[:, 2] * dy
    ru0, rv0 = r[:, 0] * dx + r[:, 1] * dy, r[:, 1] * dx - r[:, 0] * dy
    ru1, rv1 = r[:, 2] * dx + r[:, 3] * dy, r[:, 3] * dx - r[:, 2] * dy
    near = (
        (rv0 < mv1.max()) & (rv1 > mv0.min()) & (np.maximum(ru0, ru1) > np.minimum(mu0, mu1).min())
    )
    ru0, rv0, ru1, rv1 = ru0[near], rv0[near], ru1[near], rv1[near]
    if not len(ru0):
        return np.inf
    low = np.maximum(mv0[:, None], rv0[None, :])
    high = np.minimum(mv1[:, None], rv1[None, :])
    i, j = np.nonzero(high - low > SIDE_MM)
    if not len(i):
        return np.inf
    lo, hi = low[i, j], high[i, j]
    m_slope = (mu1 - mu0) / (mv1 - mv0)
    r_slope = (ru1 - ru0) / (rv1 - rv0)
    gap_low = ru0[j] + (lo - rv0[j]) * r_slope[j] - mu0[i] - (lo - mv0[i]) * m_slope[i]
    gap_high = ru0[j] + (hi - rv0[j]) * r_slope[j] - mu0[i] - (hi - mv0[i]) * m_slope[i]
    gap = np.minimum(gap_low, gap_high)
    gap = gap[gap >= -BACK_MM]
    return max(0.0, float(gap.min())) if len(gap) else np.inf


def flush_length(moving: Array, rim: Array) -> float:
    """Length over which edges of the piece lie flush on the rim, in stretches of 3 mm or more."""
    length = np.hypot(moving[:, 2] - moving[:, 0], moving[:, 3] - moving[:, 1])
    own = length >= FLUSH_LEAST_MM
    m, size = moving[own], length[own][:, None]
    if not len(m):
        return 0.0
    x0, y0 = m[:, 0:1], m[:, 1:2]
    ux, uy = (m[:, 2:3] - x0) / size, (m[:, 3:4] - y0) / size
    along0 = (rim[:, 0] - x0) * ux + (rim[:, 1] - y0) * uy
    along1 = (rim[:, 2] - x0) * ux + (rim[:, 3] - y0) * uy
    across0 = (rim[:, 0] - x0) * uy - (rim[:, 1] - y0) * ux
    across1 = (rim[:, 2] - x0) * uy - (rim[:, 3] - y0) * ux
    common = np.minimum(size, along1) - np.maximum(0.0, along0)
    flush = (np.abs(across0) < FLUSH_MM) & (np.abs(across1) < FLUSH_MM) & (common >= FLUSH_LEAST_MM)
    return float(common[flush].sum())
