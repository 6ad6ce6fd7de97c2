"""Where on metal a piece may lie: off rough edges, a gap from clean ones, round what stands.

The engine's own reading of the rules for hands (`Hands`); the judge has another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Polygon

from studio.core.areas import united, without
from studio.core.cutting.job import Job, Stock

from .shapes import LINE_MM, edges_left, polygonal, straight_lines

ROUND_MM = 0.0005  # how far a rounded corner may fall short of its radius
ON_EDGE_MM = 0.05

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Room:
    """What of a stock piece may be used.

    `hard` is where every outline must lie; in `soft` (part of it) an outline keeps its gap from
    every clean edge as well. Where the rules are not those for hands, the two are the same.
    `rim` has the clean edges, `lines` those of them that are straight for long enough to be a
    free edge: rows (x0, y0, x1, y1) with the metal on the left.
    """

    hard: Polygon | MultiPolygon
    soft: Polygon | MultiPolygon
    rim: Array
    lines: Array


def room_of(job: Job, metal: Stock) -> Room:
    """The room that a job's rules leave on a stock piece before anything is laid."""
    hard: Polygon | MultiPolygon = metal.outline
    margin = job.edge_gap_mm
    none = np.zeros((0, 4))
    if job.hands is None:
        if not metal.clean_edges and margin > 0.0:
            hard = polygonal(hard.buffer(-margin, join_style="mitre"))
        return Room(hard, hard, none, none)
    gap = job.gap_mm
    rim, lines = none, none
    if not metal.clean_edges:
        if margin > 0.0:
            hard = polygonal(hard.buffer(-margin, quad_segs=arc_steps(margin)))
    else:
        rim = edges_left(metal.outline)
        if metal.rough_edges is not None:
            rough = metal.rough_edges
            if margin > 0.0:
                hard = polygonal(without(hard, rough.buffer(margin, quad_segs=arc_steps(margin))))
            rim = _outside(rim, rough.buffer(ON_EDGE_MM))
        lines = straight_lines(rim, job.hands.straight_min_mm)
    standing = [p.lay(job.wanted_by_id[p.piece].outline) for p in job.fixed if p.metal == metal.id]
    if standing:
        grown = [outline.buffer(gap, quad_segs=arc_steps(gap)) for outline in standing]
        hard = polygonal(without(hard, united(grown)))
    soft = hard
    if len(rim) and gap > 0.0:
        edges = MultiLineString(list(rim.reshape(-1, 2, 2)))
        soft = polygonal(without(hard, edges.buffer(gap, quad_segs=arc_steps(gap))))
    return Room(hard, soft, rim, lines)


def arc_steps(radius: float) -> int:
    """Steps in a quarter circle, enough for it to fall short of its radius by next to nothing."""
    if radius <= ROUND_MM:
        return 2
    return max(4, math.ceil(math.pi / (4.0 * math.acos(1.0 - ROUND_MM / radius))))


def _outside(edges: Array, region: shapely.Geometry) -> Array:
    """What of the edges lies outside a region, each in its own direction."""
    cut = shapely.difference(shapely.linestrings(edges.reshape(-1, 2, 2)), region)
    parts, owner = shapely.get_parts(cut, return_index=True)
    found = []
    for part, k in zip(parts, owner.tolist(), strict=True):
        coords = shapely.get_coordinates(part)
        if len(coords) < 2:
            continue
        x0, y0, x1, y1 = edges[k].tolist()
        (ax, ay), (bx, by) = coords[0].tolist(), coords[-1].tolist()
        if (bx - ax) * (x1 - x0) + (by - ay) * (y1 - y0) < 0.0:
            ax, ay, bx, by = bx, by, ax, ay
        if math.hypot(bx - ax, by - ay) > LINE_MM:
            found.append((ax, ay, bx, by))
    return np.array(found).reshape(-1, 4)
