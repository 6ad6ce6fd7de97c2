"""One group on one part of a stock piece: the job that lays it there, and what can be cut off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiLineString, MultiPolygon, Polygon

from studio.core.cutting.job import Job, Parting, Placement, Stock
from studio.core.placing.shapes import polygonal

from .groups import Group
from .metal import main_turn
from .parts import Part, Parts, one_polygon

WORTH_A_CUT_MM2 = 60.0  # less is not cut off, where nothing says what goes back to the rack


def job_on_part(
    job: Job,
    parting: Parting,
    stock: Stock,
    part: Part,
    group: Group,
    *,
    start: Sequence[Placement] = (),
    fixed: Sequence[Placement] = (),
) -> Job | None:
    """The job of laying a group on a part of a stock piece, in the judge's own rules.

    Cut edges are rough ones there. Where the margin along cuts is not that of rough edges, they
    are moved by the difference. `start` and `fixed` are placements of that very job.
    """
    keeps = job.edge_gap_mm
    out = keeps - parting.margin_mm
    sides = tuple(side.moved(-out) for side in part.sides)
    region = polygonal(stock.outline)
    for side in sides:
        region = side.cuts(region)
    if region.is_empty or part.region.is_empty:
        return None
    own = max(shapely.get_parts(part.region), key=lambda p: float(p.area))
    near = max(shapely.get_parts(region), key=lambda p: float(p.intersection(own).area))
    if not isinstance(near, Polygon) or near.is_empty:
        return None
    moved = Part(part.number, near, sides)
    clean = stock.clean_edges and (job.hands is not None or not sides)
    rough = None
    if clean and sides:
        lines = list(moved.cut_edges().geoms)
        if stock.rough_edges is not None:
            lines.extend(stock.rough_edges.geoms)
        rough = MultiLineString(lines)
    elif clean:
        rough = stock.rough_edges
    return replace(
        job,
        metal=(replace(stock, outline=near, clean_edges=clean, rough_edges=rough),),
        pieces=group.orders(),
        goal="plan",
        fixed=tuple(fixed),
        start=tuple(start),
        parting=None,
    )


def trimmed(
    job: Job, parts: Parts, number: int, outlines: Sequence[Polygon], most: int = 4
) -> int | None:
    """Cut off what a group does not need of a part, as much as is worth a cut each time; the
    number of the part that it lies on then. None where that is no single polygon."""
    margin = parts.parting.margin_mm + 0.5 * parts.kerf
    for _ in range(most):
        part = parts.leaves[number]
        best = None
        for turn in dict.fromkeys((main_turn(part.region), 0.0)):
            for through, along in _beside(outlines, turn, margin):
                made = parts.tried(part, through, along)
                if made is None:
                    continue
                _, left, right = made
                own, rest = (left, right) if _holds(left, outlines) else (right, left)
                worth = _worth(job, rest.region)
                if worth <= 0.0 or one_polygon(own.region) is None or not _holds(own, outlines):
                    continue
                if best is None or worth > best[0]:
                    best = (worth, through, along)
        if best is None:
            break
        made_now = parts.cut(number, best[1], best[2])
        assert made_now is not None
        one, other = made_now
        number = one.number if _holds(one, outlines) else other.number
    return None if one_polygon(parts.leaves[number].region) is None else number


def _beside(
    outlines: Sequence[Polygon], turn: float, margin: float
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Lines on the four sides of the pieces, upright or level in a turned frame."""
    flat = [affinity.rotate(o, -turn, origin=(0.0, 0.0)).bounds for o in outlines]
    bounds = np.array(flat)
    x0, y0 = (float(v) - margin for v in bounds[:, :2].min(axis=0))
    x1, y1 = (float(v) + margin for v in bounds[:, 2:].max(axis=0))
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    upright, level = (-s, c), (c, s)
    found = []
    for x, y, along in (
        (x1, y0, upright),
        (x0, y0, upright),
        (x0, y1, level),
        (x0, y0, level),
    ):
        found.append(((x * c - y * s, x * s + y * c), along))
    return found


def _holds(part: Part, outlines: Sequence[Polygon]) -> bool:
    """Whether all pieces lie on a part; they do on one side of any line beside them."""
    shapely.prepare(part.region)
    return all(part.region.intersects(o.representative_point()) for o in outlines)


def _worth(job: Job, region: Polygon | MultiPolygon) -> float:
    """What of a leftover may go back to the rack, roughly, in mm²."""
    least = max(job.offcut_min_area_mm2, WORTH_A_CUT_MM2)
    found = 0.0
    for part in shapely.get_parts(region):
        if part.area < least:
            continue
        opened = part.buffer(-0.5 * job.offcut_min_width_mm)
        if not opened.is_empty:
            found += float(part.area)
    return found
