"""What must hold for every plan, whatever the job: the engine's promises, one by one.

Used by the tests and by `bench_placing --judge`, which runs a thousand hostile jobs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import united, without
from studio.core.cutting.formats import job_from_json, job_to_json, plan_from_json, plan_to_json
from studio.core.cutting.job import Job, Offcut, Placement, Plan
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.verifying import blanks_of, faults, measure, missing, parts_of

NEAR_MM = 0.002
"""Offcuts keep the kerf from pieces to this: their round corners are made of short chords."""


def broken_promises(job: Job, plan: Plan) -> list[str]:
    """Every promise that this plan breaks, in words; empty when it keeps them all."""
    found = [f"{fault.code}: {fault.message}" for fault in faults(job, plan.placements, plan.cuts)]
    if not found:
        if measure(job, plan.placements, plan.cuts) != (plan.measures, plan.offcuts):
            found.append("its figures are not those that the judge computes from its placements")
        found.extend(_bookkeeping(job, plan))
        found.extend(_begun(job, plan))
        found.extend(_blanks(job, plan))
        found.extend(_offcuts(job, plan))
        rack = with_rack_offcuts(job, plan)
        found.extend(f"on the rack: {wrong}" for wrong in _offcuts(job, rack))
        found.extend(f"on the rack: {wrong}" for wrong in _areas(job, rack))
        found.extend(_as_text(job, rack))
    return found


def _bookkeeping(job: Job, plan: Plan) -> list[str]:
    wanted = {(wanted.id, copy) for wanted in job.pieces for copy in range(wanted.count)}
    placed = [(p.piece, p.copy) for p in plan.placements]
    left = [(u.piece, u.copy) for u in plan.unplaced]
    found = []
    if sorted([*placed, *left]) != sorted(wanted):
        found.append("pieces placed and pieces left over are not the pieces wanted")
    if (plan.status == "complete") != (not left):
        found.append(f"{len(left)} pieces are left over, but the plan calls itself {plan.status}")
    if any(not one.why for one in plan.unplaced):
        found.append("a piece is left over without a reason")
    return [*found, *_areas(job, plan)]


def _begun(job: Job, plan: Plan) -> list[str]:
    """What stood still stands, and a sound layout to begin from is not made dearer."""
    found = []
    laid = {(p.piece, p.copy): p for p in plan.placements}
    if any(laid.get((p.piece, p.copy)) != p for p in job.fixed):
        found.append("a fixed piece was moved or left out")
    start = [*job.fixed, *(p for p in job.start if (p.piece, p.copy) not in _named(job.fixed))]
    sound = bool(job.start) and not faults(job, start)
    if sound and len(plan.placements) < len(start):
        found.append("fewer pieces lie than in the layout to begin from")
    if sound and not missing(job, start) and plan.measures.cost > _cost(job, start) + 1e-9:
        found.append("the layout to begin from is cheaper")
    return found


def _blanks(job: Job, plan: Plan) -> list[str]:
    """Each group on blanks of its own, as the judge reads the cuts, one on a stock piece."""
    if job.parting is None:
        return ["cuts or blanks, but nothing asks for them"] if plan.cuts or plan.blanks else []
    told = sorted((b.metal, b.part, str(b.group)) for b in plan.blanks)
    read = sorted(
        (b.metal, b.part, str(b.group)) for b in blanks_of(job, plan.placements, plan.cuts)
    )
    found = []
    if told != read:
        found.append("its blanks are not those that its cuts make")
    pairs = [(metal, group) for metal, _, group in told]
    if len(set(pairs)) < len(pairs) and not job.fixed:
        found.append("a group has two blanks on one stock piece")
    return found


def _named(placements: Sequence[Placement]) -> set[tuple[str, int]]:
    return {(p.piece, p.copy) for p in placements}


def _cost(job: Job, placements: Sequence[Placement]) -> float:
    return measure(job, placements)[0].cost


def _areas(job: Job, plan: Plan) -> list[str]:
    figures = plan.measures
    touched = {p.metal for p in plan.placements}
    area = sum(metal.outline.area for metal in job.metal if metal.id in touched)
    near = 1e-6 * max(area, 1.0)
    found = []
    if abs(figures.piece_area_mm2 + figures.kept_mm2 + figures.scrap_mm2 - area) > near:
        found.append("pieces, offcuts and scrap are not the metal touched")
    if abs(figures.consumed_mm2 + figures.kept_mm2 - area) > near:
        found.append("consumed and kept are not the metal touched")
    if abs(figures.kept_mm2 - sum(o.outline.area for o in plan.offcuts)) > near:
        found.append("what is kept is not the sum of the offcuts")
    numbers = (figures.saw_line_mm, figures.shared_line_mm, figures.free_edge_mm, figures.cost)
    if not all(math.isfinite(number) for number in numbers):
        found.append("a figure is not a number")
    # grown by rounding only: nothing that is measured is less than nothing
    if min(figures.scrap_mm2, figures.consumed_mm2, *numbers[:3], 0.0) < -near:
        found.append("a figure is less than nothing")
    return found


def _offcuts(job: Job, plan: Plan) -> list[str]:
    """Offcuts fit for the rack: whole, wide enough, clear of pieces and of each other."""
    found = []
    laid: dict[str, list[Polygon]] = {}
    for p in plan.placements:
        laid.setdefault(p.metal, []).append(p.lay(job.wanted_by_id[p.piece].outline))
    by_metal: dict[str, list[Polygon]] = {}
    for offcut in plan.offcuts:
        by_metal.setdefault(offcut.metal, []).append(offcut.outline)
        found.extend(_one_offcut(job, offcut))
        beside = _on_its_part(job, plan, offcut, laid.get(offcut.metal, []))
        near = min((o.distance(offcut.outline) for o in beside), default=math.inf)
        if near < job.kerf_mm * math.cos(math.pi / 32) - NEAR_MM:
            found.append(f"an offcut lies {near:.4f} mm from a piece")
        metal = job.stock_by_id[offcut.metal].outline
        if without(offcut.outline, metal).area > 1e-6 * metal.area:
            found.append("an offcut leaves its metal")
    for outlines in by_metal.values():
        together = float(united(outlines).area)
        if together < sum(o.area for o in outlines) - 1e-3:
            found.append("two offcuts overlap")
    return found


def _on_its_part(job: Job, plan: Plan, offcut: Offcut, outlines: list[Polygon]) -> list[Polygon]:
    """The pieces on the part that an offcut comes from: across a cut nothing is kept."""
    spot = offcut.outline.representative_point()
    parts = parts_of(job, offcut.metal, plan.cuts).values()
    own = next((part for part in parts if part.intersects(spot)), None)
    return [o for o in outlines if own is None or own.intersects(o.representative_point())]


def _one_offcut(job: Job, offcut: Offcut) -> list[str]:
    outline = offcut.outline
    if not isinstance(outline, Polygon) or outline.is_empty or not outline.is_valid:
        return ["an offcut is no valid polygon"]
    found = []
    if outline.area < job.offcut_min_area_mm2 - 1e-6:
        found.append("an offcut is smaller than the least area")
    radius = job.offcut_min_width_mm / 2.0
    # the widest circle, as GEOS at times loses what a negative buffer should leave
    if radius > 0.0 and shapely.maximum_inscribed_circle(outline).length < 0.98 * radius:
        found.append("an offcut is narrower than the least width")
    if radius > 0.0 and sliver_of(outline, 0.1 * radius) > 0.02 * outline.area + radius * radius:
        found.append("an offcut has slivers hanging on it")
    if offcut.worth < 0.0 or not math.isfinite(offcut.worth):
        found.append("an offcut is worth less than nothing")
    return found


def sliver_of(outline: Polygon, width_mm: float) -> float:
    """Area of an outline that is narrower than twice `width_mm`, corners apart."""
    thick = outline.buffer(-width_mm).buffer(1.2 * width_mm, join_style="mitre", mitre_limit=4.0)
    return float(without(outline, thick).area)


def _as_text(job: Job, plan: Plan) -> list[str]:
    """Written down and read again, job and plan are still sound."""
    found = []
    again = plan_from_json(plan_to_json(plan))
    read = job_from_json(job_to_json(job))
    if wrong := faults(read, again.placements, again.cuts):
        found.append(f"written down, it is faulty: {wrong[0].message}")
    for offcut in again.offcuts:
        if not offcut.outline.is_valid or isinstance(offcut.outline, MultiPolygon):
            found.append("written down, an offcut is no valid polygon")
    return found
