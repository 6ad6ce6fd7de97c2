"""Jobs whose pieces are moved about in the browser, and their state as a layout table has it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from itertools import pairwise
from typing import Any

import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Stock, Wanted
from studio.core.verifying.cuts import metal_edges
from studio.core.verifying.kept import Kept
from studio.core.verifying.sides import sides_of
from tests.core.placing.jobs import disc, frame, ring, spoon, square

SHEET = Stock(
    "S1", box(0, 0, 120, 80), rough_edges=MultiLineString([[(120, 0), (120, 80)]]), grain_deg=0.0
)
OFFCUT = Stock(
    "O1",
    MultiPolygon(
        [
            Polygon(
                [(0, 0), (70, 3), (74, 40), (50, 62), (44, 40), (20, 44), (4, 70)],
                [[(30, 15), (30, 24), (42, 24), (42, 15)]],
            ),
            box(80, 0, 115, 45),
        ]
    ),
    rough_edges=MultiLineString([[(74, 40), (50, 62), (44, 40)], [(0, 0), (10, 0.428571)]]),
)
BARE = Stock("B1", box(0, 0, 90, 50), clean_edges=False)


def petal(count: int = 140) -> Polygon:
    """Two bows that meet in points."""
    steps = [math.pi * k / count for k in range(count)]
    bow = [(14 * math.cos(t), 6 * math.sin(t)) for t in steps]
    return Polygon([*bow, *((-x, -y) for x, y in bow)])


def shield() -> Polygon:
    """Straight on top and at the sides, round below."""
    bow = [
        (9 - 9 * math.cos(math.pi * k / 40), -9 * math.sin(math.pi * k / 40)) for k in range(1, 40)
    ]
    return Polygon([(18, 0), (18, 12), (0, 12), (0, 0), *bow])


def mixed(hands: Hands, kerf: float = 0.3) -> Job:
    pieces = (
        Wanted("tag", box(0, 0, 26, 10), 3),
        Wanted("plate", square(16), 2, turns_deg=(0.0, 90.0, 180.0, 270.0)),
        Wanted("shield", shield(), 2, may_mirror=True),
        Wanted("petal", petal(), 2),
        Wanted("spoon", spoon(280, 9.0), 2, may_mirror=True),
        Wanted("ring", ring(15, 11), 1),
        Wanted("frame", frame(34, 26, 3), 1, grain_deg=0.0),
        Wanted("dot", disc(4), 2),
    )
    return Job((SHEET, OFFCUT, BARE), pieces, kerf, edge_margin_mm=1.5, hands=hands)


def straight(hands: Hands, kerf: float = 0.3) -> Job:
    """Pieces that lie along each other, some with slanting sides that meet in points."""
    wedge = Polygon([(0, 0), (20, 0), (16, 9), (4, 9)])
    pieces = (
        Wanted("tag", box(0, 0, 26, 10), 4),
        Wanted("wedge", wedge, 5, may_mirror=True),
        Wanted("plate", square(16), 2, turns_deg=(0.0, 90.0, 180.0, 270.0)),
        Wanted("shield", shield(), 2, may_mirror=True),
        Wanted("frame", frame(34, 26, 3), 1, grain_deg=0.0),
    )
    return Job((SHEET, OFFCUT, BARE), pieces, kerf, edge_margin_mm=1.5, hands=hands)


JOBS = {
    "getting surer": mixed(Hands(1.0, 0.5)),
    "sure hand": mixed(Hands(0.3, 0.3)),
    "first pieces": straight(Hands(2.0, 0.7)),
}


def _at(piece: str, copy: int, x: float, y: float, turn: float = 0.0) -> Placement:
    return Placement(piece, copy, "S1", False, turn, x, y)


LAID = {
    # wedges point to point along a tag each, their bases on it; without it they are too near
    "first pieces": [
        _at("tag", 0, 9.0, 0.0),
        _at("wedge", 0, 2.0, 10.7),
        _at("wedge", 1, 22.5, 10.7),
        _at("tag", 1, 60.0, 15.0),
        _at("wedge", 2, 73.5, 14.3, 180.0),
        _at("wedge", 3, 94.0, 14.3, 180.0),
        _at("plate", 0, 0.0, 40.0),
        _at("plate", 1, 16.7, 40.0),
    ]
}
"""What lies there before the first drag, without a fault."""


def state_of(job: Job) -> dict[str, Any]:
    """The rules, metal and pieces of a layout table."""
    assert job.hands is not None
    kept = Kept()
    metal = []
    for stock in job.metal:
        edges = metal_edges(job, job.hands, stock, kept)
        metal.append(
            {
                "id": stock.id,
                "rings": [rings_of(part) for part in stock.parts],
                "clean": segments_of(edges.clean),
                "clean_runs": edges.runs.tolist(),
                "rough": segments_of(edges.rough),
                "grain_deg": stock.grain_deg,
            }
        )
    return {
        "rules": {**asdict(job.hands), "kerf_mm": job.kerf_mm, "edge_gap_mm": job.edge_gap_mm},
        "metal": metal,
        "pieces": [piece_of(wanted, job.hands) for wanted in job.pieces],
    }


def piece_of(wanted: Wanted, hands: Hands) -> dict[str, Any]:
    least = hands.straight_min_mm
    return {
        "id": wanted.id,
        "count": wanted.count,
        "rings": rings_of(wanted.outline),
        "runs": sides_of(wanted.outline, least).runs.tolist(),
        "mirrored_runs": sides_of(wanted.outline, least, mirror=True).runs.tolist(),
        "may_mirror": wanted.may_mirror,
        "turns_deg": wanted.turns_deg,
        "grain_deg": wanted.grain_deg,
    }


def rings_of(polygon: Polygon) -> list[list[list[float]]]:
    return [
        shapely.get_coordinates(ring)[:-1].tolist()
        for ring in (polygon.exterior, *polygon.interiors)
    ]


def segments_of(lines: MultiLineString) -> list[list[float]]:
    found: list[list[float]] = []
    for line in lines.geoms:
        points = list(line.coords)
        found.extend([*a, *b] for a, b in pairwise(points))
    return found


def sent(laid: Iterable[Placement]) -> list[dict[str, Any]]:
    return [asdict(p) for p in laid]


def placement(told: dict[str, Any]) -> Placement:
    return Placement(**{name: told[name] for name in Placement.__slots__})


def copies(job: Job) -> Sequence[tuple[str, int]]:
    return [(wanted.id, copy) for wanted in job.pieces for copy in range(wanted.count)]
