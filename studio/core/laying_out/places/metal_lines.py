"""Straight edges and corners of a stock piece, and sums with lines (x0, y0, x1, y1)."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from studio.core.cutting.job import Job, Stock
from studio.core.verifying.cuts import metal_edges
from studio.core.verifying.kept import Kept
from studio.core.verifying.sides import sides_of

Array = npt.NDArray[np.float64]
Spot = tuple[float, float]

CORNER_LEAST_MM: Final = 5.0
MOST_LISTED: Final = 12


def edges_of(job: Job, metal: Stock) -> Array:
    """The clean straight edges (x0, y0, x1, y1; metal on their left), longest first; bounded."""
    if job.hands is not None:
        runs = metal_edges(job, job.hands, metal, Kept()).runs
    elif metal.clean_edges:
        runs = np.vstack([sides_of(part, CORNER_LEAST_MM).runs for part in metal.parts])
    else:
        runs = np.empty((0, 4))
    order = np.argsort(-np.hypot(runs[:, 2] - runs[:, 0], runs[:, 3] - runs[:, 1]), kind="stable")
    found: Array = runs[order[:MOST_LISTED]]
    return found


def corners_of(metal: Stock) -> list[tuple[Array, Array]]:
    """The corners between two straight edges, clean or rough: the edge that leads into each and
    the one that leads out of it, metal on their left; the lowest first, bounded."""
    found = []
    for part in metal.parts:
        runs = sides_of(part, CORNER_LEAST_MM).runs
        for one in runs:
            for other in runs:
                if math.dist(one[2:], other[:2]) > 0.2 or one is other:
                    continue
                angle = angle_of(other) - angle_of(one)
                if 20.0 <= angle % 360.0 <= 160.0:
                    found.append((one, other))
    found.sort(key=lambda pair: (round(pair[1][1], 1), round(pair[1][0], 1)))
    return found[:MOST_LISTED]


def angle_of(line: Array) -> float:
    return math.degrees(math.atan2(line[3] - line[1], line[2] - line[0]))


def way_of(line: Array) -> Spot:
    length = math.dist(line[:2], line[2:])
    return float(line[2] - line[0]) / length, float(line[3] - line[1]) / length


def is_clean(job: Job, stock: Stock, line: Array) -> bool:
    """Whether an edge of the metal is clean where it is longest."""
    for run in edges_of(job, stock):
        if abs((angle_of(run) - angle_of(line) + 180.0) % 360.0 - 180.0) > 0.5:
            continue
        ux, uy = way_of(line)
        off = [abs(-uy * (run[i] - line[0]) + ux * (run[i + 1] - line[1])) for i in (0, 2)]
        if max(off) < 0.2:
            return True
    return False


def middle_of(outline: Polygon) -> Spot:
    x0, y0, x1, y1 = outline.bounds
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0
