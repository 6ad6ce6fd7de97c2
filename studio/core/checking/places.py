"""Groups measured points that are one place to the eye, so that each place is told once."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from .boundary import Floats

_Node = tuple[str, int, int]


class Places:
    """Which points share a thin region or lie within about `near` of each other.

    `points` has the shape (n, 2); `regions` are the areas in which metal is too thin.
    """

    def __init__(self, points: Floats, regions: list[BaseGeometry], near: float) -> None:
        self._cell = near / 2
        self._points = points
        self._touched: dict[int, list[int]] = defaultdict(list)
        if regions and len(points):
            tree = shapely.STRtree(regions)
            spots: Any = shapely.points(points)
            for point, region in tree.query(spots, "dwithin", near / 2).T:
                self._touched[int(point)].append(int(region))

    def narrowest(self, members: list[int], width: Floats) -> list[int]:
        """Of the given points the one with the least width in each place, in order."""
        parent: dict[_Node, _Node] = {}

        def top(node: _Node) -> _Node:
            parent.setdefault(node, node)
            while parent[node] != node:
                parent[node] = parent[parent[node]]
                node = parent[node]
            return node

        cells = {member: self._cell_of(member) for member in members}
        occupied = set(cells.values())
        for cell in occupied:
            for x in (-1, 0, 1):
                for y in (-1, 0, 1):
                    beside = ("cell", cell[1] + x, cell[2] + y)
                    if beside in occupied:
                        parent[top(cell)] = top(beside)
        for member, cell in cells.items():
            for region in self._touched.get(member, ()):
                parent[top(cell)] = top(("region", region, 0))
        best: dict[_Node, int] = {}
        for member in members:
            place = top(cells[member])
            if place not in best or width[member] < width[best[place]]:
                best[place] = member
        return sorted(best.values())

    def _cell_of(self, member: int) -> _Node:
        x, y = np.asarray(self._points[member]) / self._cell
        return "cell", math.floor(x), math.floor(y)
