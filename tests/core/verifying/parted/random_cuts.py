"""Random outlines, cuts and pieces for the properties of parted metal."""

from __future__ import annotations

import numpy as np
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from studio.core.cutting import Cut, Job, Placement
from studio.core.verifying import parts_of


def random_metal(chance: np.random.Generator) -> Polygon | MultiPolygon:
    """A sheet with notches, windows and a turn, often in several parts."""
    metal: BaseGeometry = box(0, 0, 200, 120)
    for _ in range(int(chance.integers(0, 4))):
        x, y = chance.uniform(-10, 190), chance.uniform(-10, 110)
        wide, high = chance.uniform(5, 60, 2)
        metal = metal.difference(
            affinity.rotate(box(x, y, x + wide, y + high), chance.uniform(0, 90))
        )
    if chance.random() < 0.3:
        metal = metal.union(box(215, 0, 260, chance.uniform(40, 120)))
    turned = affinity.rotate(metal, float(chance.choice([0.0, 90.0, chance.uniform(0, 360)])))
    assert isinstance(turned, (Polygon, MultiPolygon))
    return turned


def random_cuts(
    job: Job, chance: np.random.Generator, count: int, metal: str = "S1"
) -> tuple[Cut, ...]:
    """So many cuts from far off on one side to far off on the other, each through a leaf."""
    cuts: list[Cut] = []
    for _ in range(count):
        leaves = parts_of(job, metal, cuts)
        number = int(chance.choice(sorted(leaves)))
        x0, y0, x1, y1 = leaves[number].bounds
        x, y = x0 + (x1 - x0) * chance.uniform(0.1, 0.9), y0 + (y1 - y0) * chance.uniform(0.1, 0.9)
        turn = float(chance.choice([0.0, np.pi / 2, chance.uniform(0, 2 * np.pi)]))
        dx, dy = 500.0 * np.cos(turn), 500.0 * np.sin(turn)
        cuts.append(Cut(metal, number, (x - dx, y - dy), (x + dx, y + dy)))
    return tuple(cuts)


def random_pieces(job: Job, chance: np.random.Generator) -> list[Placement]:
    """Every copy somewhere about the first stock piece."""
    x0, y0, x1, y1 = job.metal[0].outline.bounds
    return [
        Placement(
            wanted.id,
            copy,
            str(chance.choice([metal.id for metal in job.metal])),
            bool(chance.random() < 0.2),
            float(chance.choice([0.0, 90.0, chance.uniform(0, 360)])),
            chance.uniform(x0, x1),
            chance.uniform(y0, y1),
        )
        for wanted in job.pieces
        for copy in range(wanted.count)
    ]
