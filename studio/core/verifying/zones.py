"""Which parts of an outline lie outside every zone, where the gap holds without exception."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
ALONG_MM = 0.1  # what runs along a line lies on it as true as what is straight, both together
LEAST_MM = 1e-6  # a shorter rest is no stretch of an outline


def outside(edges: Array, lines: Array, reach_mm: float) -> Array:
    """The parts of straight edges that neither run along a line nor are near its ends.

    Both as rows of x0, y0, x1, y1; near is within `reach_mm`. What is near an end is a disc and
    what runs along a line a narrow band, each of them convex, so that an edge meets it in one
    span; this is exact.
    """
    if not len(lines) or not len(edges):
        return edges
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    low, high = _within(edges, length, lines, reach_mm)
    rest: list[Array] = []
    for k, (x0, y0, x1, y1) in enumerate(edges.tolist()):
        at, size = 0.0, float(length[k])
        meets = np.flatnonzero(high[k] > low[k])
        spans = sorted(zip(low[k][meets].tolist(), high[k][meets].tolist(), strict=True))
        gaps = []
        for begin, end in spans:
            if begin > at + LEAST_MM:
                gaps.append((at, begin))
            at = max(at, end)
        if size > at + LEAST_MM:
            gaps.append((at, size))
        for begin, end in gaps:
            one, other = begin / size, min(end / size, 1.0)
            rest.append(
                np.array(
                    [
                        x0 + (x1 - x0) * one,
                        y0 + (y1 - y0) * one,
                        x0 + (x1 - x0) * other,
                        y0 + (y1 - y0) * other,
                    ]
                )
            )
    return np.array(rest).reshape(-1, 4)


def _within(edges: Array, length: Array, lines: Array, reach: float) -> tuple[Array, Array]:
    """From where to where each edge (rows) is near the first end of each line, near the second,
    or runs along it (columns, three for a line)."""
    x, y = edges[:, 0:1], edges[:, 1:2]
    size = np.maximum(length, 1e-12)[:, None]
    ux, uy = (edges[:, 2:3] - x) / size, (edges[:, 3:4] - y) / size
    wide = np.maximum(np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1]), 1e-12)
    vx, vy = (lines[:, 2] - lines[:, 0]) / wide, (lines[:, 3] - lines[:, 1]) / wide
    lows, highs = [], []
    for column in (0, 2):  # round the ends of the line
        dx, dy = lines[:, column] - x, lines[:, column + 1] - y
        middle = dx * ux + dy * uy
        rest = reach * reach - (dx * dx + dy * dy - middle * middle)
        half = np.sqrt(np.maximum(rest, 0.0))
        lows.append(np.where(rest > 0.0, middle - half, np.inf))
        highs.append(np.where(rest > 0.0, middle + half, -np.inf))
    # along the line itself
    along, along_step = (x - lines[:, 0]) * vx + (y - lines[:, 1]) * vy, ux * vx + uy * vy
    across, across_step = (x - lines[:, 0]) * vy - (y - lines[:, 1]) * vx, ux * vy - uy * vx
    from_along, to_along = between_bounds(along, along_step, np.zeros_like(wide), wide)
    from_across, to_across = between_bounds(
        across, across_step, np.full_like(wide, -ALONG_MM), np.full_like(wide, ALONG_MM)
    )
    lows.append(np.maximum(from_along, from_across))
    highs.append(np.minimum(to_along, to_across))
    return np.maximum(np.hstack(lows), 0.0), np.minimum(np.hstack(highs), size)


def between_bounds(start: Array, step: Array, least: Array, most: Array) -> tuple[Array, Array]:
    """For which t the sum start + step · t lies between two bounds; backwards for none."""
    still = np.abs(step) < 1e-12
    by = np.where(still, 1.0, step)
    one, other = (least - start) / by, (most - start) / by
    inside = (start >= least) & (start <= most)
    low = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, other))
    high = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(one, other))
    return low, high
