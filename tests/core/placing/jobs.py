"""Named shapes and jobs for the tests of placing and judging."""

from __future__ import annotations

import math

from shapely import affinity
from shapely.geometry import Point, Polygon, box

from studio.core.cutting import Job, Placement, Stock, Wanted

SHEET = box(0, 0, 305, 150)


def square(side: float) -> Polygon:
    return box(0, 0, side, side)


def disc(radius: float) -> Polygon:
    return Point(0, 0).buffer(radius, quad_segs=12)


def ring(outer: float, inner: float) -> Polygon:
    return Polygon(disc(outer).exterior, [disc(inner).exterior])


def frame(width: float, height: float, web: float) -> Polygon:
    window = box(web, web, width - web, height - web)
    return Polygon(box(0, 0, width, height).exterior, [window.exterior])


def star(outer: float, inner: float) -> Polygon:
    return Polygon(
        [
            (
                math.cos(math.pi * i / 5) * (inner if i % 2 else outer),
                math.sin(math.pi * i / 5) * (inner if i % 2 else outer),
            )
            for i in range(10)
        ]
    )


def triangle(width: float, height: float) -> Polygon:
    return Polygon([(0, 0), (width, 0), (0, height)])


def spoon(vertices: int, size: float = 20.0) -> Polygon:
    """A lobed outline of as many vertices as a scan gives."""
    steps = [2 * math.pi * k / vertices for k in range(vertices)]
    return Polygon(
        [
            (
                size * (1 + 0.3 * math.cos(3 * t)) * math.cos(t),
                size * (1 + 0.3 * math.cos(3 * t)) * math.sin(t),
            )
            for t in steps
        ]
    )


def sheet(
    outline: Polygon = SHEET,
    name: str = "S1",
    price: float = 0.0003,
    *,
    clean: bool = True,
) -> Stock:
    return Stock(name, outline, price, clean_edges=clean)


def class_job() -> Job:
    """Forty pieces of a class on a sheet and an L-shaped offcut with an earlier cut-out."""
    offcut = Polygon(
        [(0, 0), (120, 0), (120, 80), (60, 80), (60, 40), (0, 40)],
        [[(80, 20), (100, 20), (100, 35), (80, 35)]],
    )
    return Job(
        metal=(sheet(), sheet(offcut, "O1")),
        pieces=(
            Wanted("ring", ring(20, 14), 6, group="ada"),
            Wanted("star", star(15, 7), 8, group="ben"),
            Wanted("tag", box(0, 0, 30, 15), 10, group="cleo"),
            Wanted("wedge", triangle(30, 20), 8, group="dan"),
            Wanted("dot", disc(6), 8, group="ada"),
        ),
    )


def at(
    piece: str, copy: int, x: float, y: float, turn: float = 0.0, metal: str = "S1"
) -> Placement:
    return Placement(piece, copy, metal, mirror=False, turn_deg=turn, x_mm=x, y_mm=y)


def turned(polygon: Polygon, degrees: float) -> Polygon:
    return affinity.rotate(polygon, degrees, origin=(0, 0))
