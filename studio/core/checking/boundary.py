"""The edges of one piece as flat arrays, metal always on the left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SLACK_MM = 0.02  # the flattening's tolerance: a value this near its limit passes


@dataclass(frozen=True, slots=True)
class Boundary:
    """Vertex i starts edge i, which ends at vertex `after[i]`; ring 0 is the outside.

    `points` (n, 2); `ring`, `after`, `before` (n,); `along` is each vertex's distance from
    its ring's first one and `around` its ring's whole length, both (n,).
    """

    polygon: Polygon
    points: Floats
    ring: Ints
    after: Ints
    before: Ints
    along: Floats
    around: Floats

    @property
    def edge(self) -> Floats:
        """Unit direction of each edge, shape (n, 2)."""
        step = self.points[self.after] - self.points
        unit: Floats = step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]
        return unit

    @property
    def inward(self) -> Floats:
        """Unit normal of each edge towards the metal, shape (n, 2)."""
        edge = self.edge
        return np.stack((-edge[:, 1], edge[:, 0]), axis=1)

    def between(self, one: Ints, other: Ints, share: Floats) -> Floats:
        """The shorter way along one ring from vertex `one` to `share` mm along edge `other`."""
        way = np.abs(self.along[one] - self.along[other] - share)
        shorter: Floats = np.minimum(way, self.around[one] - way)
        return shorter


def boundary_of(polygon: Polygon) -> Boundary:
    polygon = shapely.orient_polygons(polygon)  # shell anticlockwise, windows clockwise
    points, ring, after, before, along, around = [], [], [], [], [], []
    first = 0
    for number, line in enumerate((polygon.exterior, *polygon.interiors)):
        corners = shapely.get_coordinates(line)[:-1]
        count = len(corners)
        order = np.arange(count)
        steps = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
        points.append(corners)
        ring.append(np.full(count, number))
        after.append(first + (order + 1) % count)
        before.append(first + (order - 1) % count)
        along.append(np.concatenate(([0.0], np.cumsum(steps)[:-1])))
        around.append(np.full(count, steps.sum()))
        first += count
    return Boundary(
        polygon,
        np.concatenate(points),
        np.concatenate(ring),
        np.concatenate(after),
        np.concatenate(before),
        np.concatenate(along),
        np.concatenate(around),
    )
