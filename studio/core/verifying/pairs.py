"""Which edges come near which, without looking at every pair of two outlines of many corners.

All are rows of x0, y0, x1, y1. What is found holds every pair that matters and some that do not,
by rows and then by columns, a bounded number at a time.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import shapely

Array = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Pairs = tuple[Numbers, Numbers]

FEW_PAIRS = 20_000
"""So many are all looked at: to find the near ones would take longer."""

AT_A_TIME = 500_000
IN_BLOCK = 16
SLACK_MM = 1e-3  # more than rounding takes from any distance


def near_pairs_of(edges: Array, others: Array, reach_mm: float) -> Iterator[Pairs]:
    """The pairs of edges whose boxes come within reach of each other."""
    if len(edges) * len(others) <= FEW_PAIRS:
        yield _all(len(edges), len(others))
        return
    tree = shapely.STRtree(_boxes(others, 0.0))
    boxes = _boxes(edges, reach_mm + SLACK_MM)
    for first in range(0, len(edges), _rows(len(others))):
        rows, columns = tree.query(boxes[first : first + _rows(len(others))])
        order = np.lexsort((columns, rows))
        yield rows[order] + first, columns[order]


def pairs_across(
    edges: Array, others: Array, before: Array, after: Array, mm: float
) -> Iterator[Pairs]:
    """The pairs where an edge may lie right of another, at most so many millimetres from it.

    Right of an edge is what lies across from it, `before` and `after` times its distance from the
    edge's line beyond the two ends. Edges that follow each other are looked at in blocks.
    """
    if len(edges) * len(others) <= FEW_PAIRS:
        yield _all(len(edges), len(others))
        return
    length = np.hypot(others[:, 2] - others[:, 0], others[:, 3] - others[:, 1])[:, None]
    way = (others[:, 2:] - others[:, :2]) / length
    right = np.column_stack([way[:, 1], -way[:, 0]])
    corners = np.stack(
        [
            others[:, :2],
            others[:, 2:],
            others[:, 2:] + mm * (right + after[:, None] * way),
            others[:, :2] + mm * (right - before[:, None] * way),
        ],
        axis=1,
    )
    fields, hulls = _hulls(corners, 4), _hulls(edges, 2)
    tree = shapely.STRtree(fields)
    step = _rows(len(others)) // IN_BLOCK + 1
    within = np.arange(IN_BLOCK)
    for first in range(0, len(hulls), step):
        rows, columns = tree.query(
            hulls[first : first + step], predicate="dwithin", distance=SLACK_MM
        )
        one = ((rows + first)[:, None] * IN_BLOCK + within)[:, :, None]
        other = (columns[:, None] * IN_BLOCK + within)[:, None, :]
        both = np.broadcast_arrays(one, other)
        mine, theirs = both[0].ravel(), both[1].ravel()
        inside = (mine < len(edges)) & (theirs < len(others))
        yield mine[inside], theirs[inside]


def _hulls(corners: Array, of_each: int) -> npt.NDArray[np.object_]:
    """The convex hulls of so many corners of each edge, a block of edges at a time."""
    points = corners.reshape(-1, 2)
    block = np.arange(len(points)) // (IN_BLOCK * of_each)
    hulls: npt.NDArray[np.object_] = np.asarray(
        shapely.convex_hull(np.asarray(shapely.multipoints(points, indices=block)))
    )
    return hulls


def _rows(columns: int) -> int:
    """How many rows at a time, if each met every column."""
    return max(1, AT_A_TIME // columns)


def _all(rows: int, columns: int) -> Pairs:
    return np.repeat(np.arange(rows), columns), np.tile(np.arange(columns), rows)


def _boxes(edges: Array, reach: float) -> npt.NDArray[np.object_]:
    low = np.minimum(edges[:, :2], edges[:, 2:]) - reach
    high = np.maximum(edges[:, :2], edges[:, 2:]) + reach
    boxes: npt.NDArray[np.object_] = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    return boxes
