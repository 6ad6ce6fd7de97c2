"""Finds every place where two stretches of a piece's boundary come near each other.

A narrow is a pair of boundary points, each of which is the nearest to the other as far as
its own neighbourhood goes: at an edge the joining line is square to it, at a vertex it lies
between the normals of the two edges. That is exact, and a sharp convex corner, whose sides
come ever nearer until they meet, has no such pair. With the joining line inside the metal
the pair is a neck, bridge or web; outside it is a slot.

At least one end of a narrow is a vertex (or the edges are parallel, and then one can be
chosen so), so every vertex is compared with every edge within reach.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from .boundary import Boundary, Floats, Ints

_SQUARE = 1e-7  # cosine up to which a direction counts as square
_TOUCH_MM = 1e-6
_CHUNK = 100
MOST_PAIRS = 3_000_000  # a few seconds; an ordinary drawing needs some ten thousand


class TooManyPairs(Exception):
    """The boundary lies so densely within the reach that comparing would take minutes."""


@dataclass(slots=True)
class PairBudget:
    """Vertex and edge pairs that may still be compared in one drawing."""

    left: int = MOST_PAIRS

    def spend(self, count: int) -> None:
        self.left -= count
        if self.left < 0:
            raise TooManyPairs


@dataclass(frozen=True, slots=True)
class Narrows:
    """`start` and `end` (m, 2) are the pair's points, `width` (m,) their distance.

    `one` and `other` (m,) are the vertex and the edge, `share` (m,) how far along the edge the
    pair's end lies; `metal` (m,) is true where the
    joining line leaves both sides into the metal, false where into the open.
    """

    start: Floats
    end: Floats
    width: Floats
    one: Ints
    other: Ints
    share: Floats
    metal: NDArray[np.bool_]

    def only(self, keep: NDArray[np.bool_]) -> Narrows:
        return Narrows(
            self.start[keep],
            self.end[keep],
            self.width[keep],
            self.one[keep],
            self.other[keep],
            self.share[keep],
            self.metal[keep],
        )

    @property
    def middle(self) -> Floats:
        return (self.start + self.end) / 2


def narrows(boundary: Boundary, reach: float, budget: PairBudget) -> Narrows:
    """All narrows up to `reach` wide; raises `TooManyPairs`."""
    points, after = boundary.points, boundary.after
    edges = shapely.linestrings(np.stack((points, points[after]), axis=1))
    tree = shapely.STRtree(np.asarray(edges))
    found: list[Narrows] = []
    for first in range(0, len(points), _CHUNK):
        corners = np.asarray(shapely.points(points[first : first + _CHUNK]))
        one, other = tree.query(corners, "dwithin", reach)
        budget.spend(len(one))
        one = one + first
        apart = (other != one) & (after[other] != one)
        found.append(_facing(boundary, one[apart], other[apart]))
    return Narrows(
        np.concatenate([each.start for each in found]),
        np.concatenate([each.end for each in found]),
        np.concatenate([each.width for each in found]),
        np.concatenate([each.one for each in found]),
        np.concatenate([each.other for each in found]),
        np.concatenate([each.share for each in found]),
        np.concatenate([each.metal for each in found]),
    )


def _facing(boundary: Boundary, one: Ints, other: Ints) -> Narrows:
    points, after, before = boundary.points, boundary.after, boundary.before
    edge, inward = boundary.edge, boundary.inward
    start = points[one]
    base = points[other]
    length = np.hypot(*(points[after[other]] - base).T)
    share = np.clip(_dot(start - base, edge[other]), 0.0, length)
    end = base + edge[other] * share[:, None]
    way = end - start
    width = np.hypot(*way.T)
    unit = way / np.maximum(width, 1e-12)[:, None]
    touching = width < _TOUCH_MM

    at_start = _in_cone(unit, edge[one], -edge[before[one]])
    far_vertex = np.where(share <= 0.0, other, after[other])
    on_vertex = (share <= 0.0) | (share >= length)
    at_end = ~on_vertex | _in_cone(-unit, edge[far_vertex], -edge[before[far_vertex]])

    into_start = _dot(unit, inward[one] + inward[before[one]])
    far_inward = np.where(
        on_vertex[:, None], inward[far_vertex] + inward[before[far_vertex]], inward[other]
    )
    into_end = _dot(-unit, far_inward)
    metal = (into_start > _SQUARE) & (into_end > _SQUARE)
    open_ = (into_start < -_SQUARE) & (into_end < -_SQUARE)
    # Two rings that touch leave no metal; a ring never touches itself in a valid polygon.
    rings_touch = touching & (boundary.ring[one] != boundary.ring[other])
    keep = (at_start & at_end & (metal | open_) & ~touching) | rings_touch
    return Narrows(start, end, width, one, other, share, metal | rings_touch).only(keep)


def _in_cone(unit: Floats, ahead: Floats, behind: Floats) -> NDArray[np.bool_]:
    """Whether moving along either edge does not come nearer."""
    good: NDArray[np.bool_] = (_dot(unit, ahead) <= _SQUARE) & (_dot(unit, behind) <= _SQUARE)
    return good


def _dot(a: Floats, b: Floats) -> Floats:
    product: Floats = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
    return product
