"""Offcuts as they go back to the rack: with the corners that the metal really has.

The judge measures what a plan keeps by rolling a disc through the leftover, so its offcuts have
round corners where the sheet's are square. Cut from the leftover itself, an offcut keeps its
corners; what hangs on it as a finger too narrow to use stays scrap as before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import common, joined, united, without
from studio.core.cutting.job import Job, Measures, Offcut, Placement, Plan
from studio.core.verifying import largest_rectangle
from studio.core.verifying.measures import grown_by_kerf, offcut_radius_mm, on_grid, polygons_of

_SHARPEST = 2.0
"""Mitre limit: corners down to 60 degrees come back whole, sharper ones are cut off."""
_SIMPLIFY_MM = 0.01
_LEAST_GAIN_MM2 = 1e-3


def with_rack_offcuts(job: Job, plan: Plan) -> Plan:
    """The plan with the offcuts that the rack gets, and its areas told accordingly.

    Placements, saw lines and the cost by which plans are compared stay as the judge found them.
    """
    offcuts = rack_offcuts(job, plan.placements, plan.offcuts)
    gained = sum(o.outline.area for o in offcuts) - sum(o.outline.area for o in plan.offcuts)
    return replace(plan, offcuts=offcuts, measures=_with_more_kept(plan.measures, gained, offcuts))


def rack_offcuts(
    job: Job, placements: Sequence[Placement], offcuts: Sequence[Offcut]
) -> tuple[Offcut, ...]:
    """The same offcuts, each grown into the corners that the disc could not reach."""
    taken: dict[str, list[Polygon]] = {}
    for placement in placements:
        outline = placement.lay(job.wanted_by_id[placement.piece].outline)
        taken.setdefault(placement.metal, []).append(grown_by_kerf(outline, job.kerf_mm))
    leftover = {
        code: without(job.stock_by_id[code].outline, united(gone)) for code, gone in taken.items()
    }
    grown: list[Offcut] = []
    for number, offcut in enumerate(offcuts):
        others = [o.outline for o in offcuts[number + 1 :] if o.metal == offcut.metal]
        others += [o.outline for o in grown if o.metal == offcut.metal]
        left = polygons_of(without(leftover[offcut.metal], united(others)))
        free = MultiPolygon(left)
        grown.append(replace(offcut, outline=_squared(offcut.outline, free, job)))
    return tuple(grown)


def _squared(outline: Polygon, free: MultiPolygon, job: Job) -> Polygon:
    """`outline` with its corners, within `free`; never less than `outline`."""
    radius = offcut_radius_mm(job)
    cornered = free.buffer(-radius).buffer(radius, join_style="mitre", mitre_limit=_SHARPEST)
    parts = polygons_of(joined(common(cornered, free), outline).simplify(_SIMPLIFY_MM))
    inside = [p for part in parts for p in polygons_of(common(part, free))]
    best = max(inside, key=lambda part: part.intersection(outline).area, default=outline)
    # Grown once it is grown for good: asked again, the very same outline comes back.
    return on_grid(best) if best.area > outline.area + _LEAST_GAIN_MM2 else outline


def _with_more_kept(measures: Measures, gained: float, offcuts: Sequence[Offcut]) -> Measures:
    widest = max(
        (largest_rectangle(offcut.outline) for offcut in offcuts),
        key=lambda rectangle: rectangle.area_mm2,
        default=None,
    )
    return replace(
        measures,
        largest_rectangle_mm=(widest.longer_mm, widest.shorter_mm) if widest else (0.0, 0.0),
        kept_mm2=measures.kept_mm2 + gained,
        consumed_mm2=measures.consumed_mm2 - gained,
        scrap_mm2=measures.scrap_mm2 - gained,
        largest_offcut_mm2=max((o.outline.area for o in offcuts), default=0.0),
    )
