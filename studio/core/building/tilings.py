"""Tiles that share their edges exactly: each edge is made once and used by both its tiles.

Tiles are walked over a lattice of corners named by whole numbers, so that neighbours have the
very same points, and no sliver or gap lies between them however they are moved or turned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from .curves import CRUMB_MM2, Point, bent, polygons
from .errors import RecipeError

MOST_TILES: Final = 400
LEAST_SHARE: Final = 0.02  # of a tile: what a rim cuts off smaller cannot be sawn

_SCALE_BEND: Final = math.radians(18.0)
_TWIST_BEND: Final = math.radians(32.0)

Key = tuple[int, int]
Corners = tuple[Key, ...]


class Lattice:
    """Corners at `a` times the first number plus `b` times the second; edges may be bent."""

    def __init__(self, tile: str, side: float) -> None:
        self.tile, self.side = tile, side
        half, high = side / 2, side * math.sqrt(3) / 2
        self.a, self.b = {
            "triangles": ((half, 0.0), (0.0, high)),
            "squares": ((side, 0.0), (0.0, side)),
            "hexagons": ((half, 0.0), (0.0, high)),
            "scales": ((side / math.sqrt(2), 0.0), (0.0, side / math.sqrt(2))),
            "twists": ((side, 0.0), (0.0, side)),
        }[tile]
        self._edges: dict[tuple[Key, Key], list[Point]] = {}

    def point(self, key: Key) -> Point:
        return self.a[0] * key[0] + self.b[0] * key[1], self.a[1] * key[0] + self.b[1] * key[1]

    def corners(self, column: int, row: int) -> Corners:
        """The corners of one tile, anticlockwise."""
        match self.tile:
            case "triangles":
                if (column + row) % 2 == 0:
                    return (column, row), (column + 2, row), (column + 1, row + 1)
                return (column, row + 1), (column + 1, row), (column + 2, row + 1)
            case "hexagons":
                x, y = 3 * column, 2 * row + column % 2
                around = ((2, 0), (1, 1), (-1, 1), (-2, 0), (-1, -1), (1, -1))
                return tuple((x + i, y + j) for i, j in around)
            case "scales":
                x, y = 2 * column + row % 2, row
                return (x - 1, y), (x, y - 1), (x + 1, y), (x, y + 1)
            case _:
                return (
                    (column, row),
                    (column + 1, row),
                    (column + 1, row + 1),
                    (column, row + 1),
                )

    def edge(self, one: Key, other: Key) -> list[Point]:
        """The points from one corner to the other; the same ones for both tiles."""
        ends = (min(one, other), max(one, other))
        if ends not in self._edges:
            self._edges[ends] = self._made(*ends)
        points = self._edges[ends]
        return points if one == ends[0] else points[::-1]

    def _made(self, low: Key, high: Key) -> list[Point]:
        start, end = self.point(low), self.point(high)
        if self.tile == "scales":  # every edge bulges downwards
            return bent(start, end, _SCALE_BEND)
        if self.tile == "twists":  # an S through the middle of the edge
            middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
            bend = _TWIST_BEND if (low[0] + low[1]) % 2 == 0 else -_TWIST_BEND
            return [*bent(start, middle, bend)[:-1], *bent(middle, end, -bend)]
        return [start, end]

    def area(self, corners: Corners) -> Polygon:
        points: list[Point] = []
        for one, other in zip(corners, (*corners[1:], corners[0]), strict=True):
            points += self.edge(one, other)[:-1]
        return Polygon(points)

    @property
    def reach(self) -> tuple[float, float]:
        """How far tile (1, 0) and tile (0, 1) lie from tile (0, 0)."""
        one = self.corners(2, 0)[0], self.corners(0, 2)[0], self.corners(0, 0)[0]
        x = (self.point(one[0])[0] - self.point(one[2])[0]) / 2
        y = (self.point(one[1])[1] - self.point(one[2])[1]) / 2
        return abs(x), abs(y)


def block(tile: str, side: float, columns: int, rows: int) -> list[Polygon]:
    """So many tiles in each row, the middle of them all near (0, 0)."""
    if columns * rows > MOST_TILES:
        raise _too_many()
    lattice = Lattice(tile, side)
    low_c, low_r = -(columns // 2), -(rows // 2)
    tiles = [
        lattice.area(lattice.corners(column, row))
        for row in range(low_r, low_r + rows)
        for column in range(low_c, low_c + columns)
    ]
    return _centred(tiles)


def within(tile: str, side: float, outline: BaseGeometry, *, cut: bool) -> list[Polygon]:
    """The tiles in an outline: cut along its rim, or only those that lie wholly in it.

    All lines are noded together before the tiles are made, so cut tiles share their edges as
    exactly as whole ones do.
    """
    if outline.is_empty:
        return []
    lattice = Lattice(tile, side)
    tiles = list(_tiles_over(lattice, outline))
    shapely.prepare(outline)
    inside = [each for each in tiles if outline.covers(each)]
    if not cut:
        return inside
    # Whole tiles stay as they are; only the rest is cut.
    kept = {id(each) for each in inside}
    touched = [each for each in tiles if id(each) not in kept and outline.intersects(each)]
    lines: list[BaseGeometry] = [LineString(each.exterior.coords) for each in (*tiles,)]
    lines.append(outline.boundary)
    faces = shapely.polygonize([shapely.union_all(lines)])
    least = max(LEAST_SHARE * tiles[0].area, CRUMB_MM2) if tiles else CRUMB_MM2
    tree = shapely.STRtree(touched) if touched else None
    found = []
    for face in polygons(faces):
        point = face.representative_point()
        if face.area < least or not outline.contains(point):
            continue
        if tree is None or not len(tree.query(point, "within")):
            continue  # one of the whole tiles
        found.append(face)
    return [*inside, *found]


def _tiles_over(lattice: Lattice, outline: BaseGeometry) -> Iterator[Polygon]:
    """All tiles that may meet the outline's box."""
    x0, y0, x1, y1 = outline.bounds
    dx, dy = lattice.reach
    columns = range(math.floor(x0 / dx) - 2, math.ceil(x1 / dx) + 3)
    rows = range(math.floor(y0 / dy) - 2, math.ceil(y1 / dy) + 3)
    if len(columns) * len(rows) > 4 * MOST_TILES:
        raise _too_many()
    room = box(x0, y0, x1, y1)
    count = 0
    for row in rows:
        for column in columns:
            area = lattice.area(lattice.corners(column, row))
            if area.intersects(room):
                count += 1
                if count > MOST_TILES:
                    raise _too_many()
                yield area


def _centred(tiles: list[Polygon]) -> list[Polygon]:
    x0, y0, x1, y1 = shapely.total_bounds(tiles)
    shift = (x0 + x1) / 2, (y0 + y1) / 2
    return [shapely.transform(each, lambda points: points - shift) for each in tiles]


def _too_many() -> RecipeError:
    return RecipeError(
        f"These are more than {MOST_TILES} tiles.", "Take larger tiles, or fewer of them."
    )
