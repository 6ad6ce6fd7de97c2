"""Offcuts as they go back to the rack: with the corners that the metal really has.

The judge measures what a plan keeps by rolling a disc through the leftover, so its offcuts have
round corners where the sheet's are square. Cut from the leftover itself, an offcut keeps its
corners; what hangs on it as a finger too narrow to use stays scrap as before.

Whatever tells a price or what is left (plans, first cut plans, the layout table) tells it of these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, joined, united, without
from studio.core.cutting.job import Job, Measures, Offcut, Placement, Plan, Stock
from studio.core.verifying.kept import Kept
from studio.core.verifying.measures import (
    Leftover,
    leftover_of,
    offcut_radius_mm,
    on_grid,
    polygons_of,
    rectangle_in,
)

_SHARPEST = 2.0
"""Mitre limit: corners down to 60 degrees come back whole, sharper ones are cut off."""
_SIMPLIFY_MM = 0.01
_LEAST_GAIN_MM2 = 1e-3
_BESIDE_MM = 5.0 * _SIMPLIFY_MM
"""What is further from an area is not met by it, however its outline is made simpler."""


def with_rack_offcuts(job: Job, plan: Plan) -> Plan:
    """The plan with the offcuts that the rack gets, and its areas told accordingly.

    Placements, saw lines and the cost by which plans are compared stay as the judge found them.
    """
    measures, offcuts = on_the_rack(job, plan.placements, plan.measures, plan.offcuts)
    return replace(plan, offcuts=offcuts, measures=measures)


def on_the_rack(
    job: Job,
    placements: Sequence[Placement],
    measures: Measures,
    judged: Sequence[Offcut],
    kept: Kept | None = None,
) -> tuple[Measures, tuple[Offcut, ...]]:
    """What the judge has measured of these placements, told of the offcuts that the rack gets.

    `kept` is what the judge keeps in mind, where it has just judged them.
    """
    known = kept or Kept()
    offcuts = rack_offcuts(job, placements, judged, known)
    gained = sum(o.outline.area for o in offcuts) - sum(o.outline.area for o in judged)
    widest = max(
        (rectangle_in(offcut.outline, known) for offcut in offcuts),
        key=lambda rectangle: rectangle.area_mm2,
        default=None,
    )
    told = replace(
        measures,
        largest_rectangle_mm=(widest.longer_mm, widest.shorter_mm) if widest else (0.0, 0.0),
        kept_mm2=measures.kept_mm2 + gained,
        consumed_mm2=measures.consumed_mm2 - gained,
        scrap_mm2=measures.scrap_mm2 - gained,
        largest_offcut_mm2=max((o.outline.area for o in offcuts), default=0.0),
    )
    return told, offcuts


def rack_offcuts(
    job: Job,
    placements: Sequence[Placement],
    offcuts: Sequence[Offcut],
    kept: Kept | None = None,
) -> tuple[Offcut, ...]:
    """The same offcuts, each grown into the corners that the disc could not reach."""
    known = kept or Kept()
    laid: dict[str, list[Placement]] = {}
    for placement in placements:
        laid.setdefault(placement.metal, []).append(placement)
    grown: dict[str, list[Polygon]] = {}
    for code, own in laid.items():
        outlines = tuple(o.outline for o in offcuts if o.metal == code)
        key = ("on the rack", code, *own, *(outline.wkb for outline in outlines))
        make = partial(_all_grown, job, job.stock_by_id[code], own, outlines, known)
        grown[code] = list(known.get(key, make))
    return tuple(replace(o, outline=grown[o.metal].pop(0)) for o in offcuts)


def _all_grown(
    job: Job,
    metal: Stock,
    own: Sequence[Placement],
    outlines: Sequence[Polygon],
    kept: Kept,
) -> tuple[Polygon, ...]:
    """The offcuts of one stock piece, none over another: what one has got the next cannot have."""
    if not outlines:
        return ()
    left = leftover_of(job, metal, own, kept)
    grown: list[Polygon] = []
    for number, outline in enumerate(outlines):
        others = [*outlines[number + 1 :], *grown]
        grown.append(_squared(outline, _beside(left, others), job))
    return tuple(grown)


def _beside(left: Leftover, others: Sequence[Polygon]) -> Leftover:
    """The leftover without other offcuts. A disc that passes through one meets no other."""
    if not others:
        return left
    rest = [
        one
        for one in polygons_of(left.middles)
        if not shapely.intersects(one.representative_point(), others).any()
    ]
    return Leftover(without(left.metal, united(others)), MultiPolygon(rest))


def _squared(outline: Polygon, left: Leftover, job: Job) -> Polygon:
    """`outline` with its corners, within what is left; never less than `outline`."""
    cornered = left.middles.buffer(offcut_radius_mm(job), join_style="mitre", mitre_limit=_SHARPEST)
    reached = _that_meet(outline, polygons_of(cornered))
    free = _near([*reached, outline], left.metal)
    found = joined(common(MultiPolygon(reached), free), outline).simplify(_SIMPLIFY_MM)
    inside = [
        p
        for part in _that_meet(outline, polygons_of(found))
        for p in polygons_of(common(part, free))
    ]
    best = inside[0] if len(inside) == 1 else _most_of(outline, inside)
    # Grown once it is grown for good: asked again, the very same outline comes back.
    return on_grid(best) if best.area > outline.area + _LEAST_GAIN_MM2 else outline


def _most_of(outline: Polygon, parts: Sequence[Polygon]) -> Polygon:
    return max(parts, key=lambda part: part.intersection(outline).area, default=outline)


def _that_meet(outline: Polygon, parts: Sequence[Polygon]) -> list[Polygon]:
    shapely.prepare(outline)
    met = shapely.intersects(outline, parts).tolist()
    return [part for part, meets in zip(parts, met, strict=True) if meets]


def _near(areas: Sequence[Polygon], metal: BaseGeometry) -> MultiPolygon:
    """Metal as it is wherever these areas are: holes that come near none of them are filled.

    Most pieces lie among others, far from any offcut, and every corner costs time.
    """
    shapely.prepare(areas)
    found = []
    for part in polygons_of(metal):
        rings = list(part.interiors)
        holes = [Polygon(ring) for ring in rings]
        near = np.any([shapely.dwithin(area, holes, _BESIDE_MM) for area in areas], axis=0)
        kept = [ring for ring, is_near in zip(rings, near.tolist(), strict=True) if is_near]
        found.append(Polygon(part.exterior, kept))
    return MultiPolygon(found)
