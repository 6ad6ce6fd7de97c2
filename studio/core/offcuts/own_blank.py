"""One student's part of a parted plan: what was asked and what lies where, on own blanks alone.

Millimetres; a blank's record begins at its own origin, so everything on it is shifted there.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import MultiLineString, MultiPolygon, Polygon

from studio.core.cutting import Job, Placement, Plan, Stock
from studio.core.verifying import Fault, faults, measure

from .rack_offcuts import with_rack_offcuts


@dataclass(frozen=True, slots=True)
class OwnBlank:
    """A blank as it came out of the stock piece `metal` as its part number `part`.

    `code` is its own label, `outline` what its record says, `shift_mm` what takes a point of the
    stock piece to the blank's own origin. `rough_edges` are the stretches of its outline that no
    piece may lie on: every cut edge, whatever tool made it, so that the margin of parting holds.
    """

    metal: str
    group: str | None
    code: str
    outline: Polygon | MultiPolygon
    shift_mm: tuple[float, float]
    clean_edges: bool
    rough_edges: MultiLineString | None


def own_job(job: Job, groups: Collection[str | None], blanks: Sequence[OwnBlank]) -> Job:
    """What is asked of these groups' blanks: the plan's own rules, less those of parting."""
    margin = job.edge_margin_mm
    if job.parting is not None:
        margin = min(margin, job.parting.margin_mm)
    metal = []
    for blank in blanks:
        stock = job.stock_by_id[blank.metal]
        metal.append(
            Stock(
                blank.code,
                blank.outline,
                stock.price_per_mm2,
                blank.clean_edges,
                stock.grain_deg,
                blank.rough_edges,
            )
        )
    return replace(
        job,
        metal=tuple(metal),
        pieces=tuple(wanted for wanted in job.pieces if wanted.group in groups),
        edge_margin_mm=margin,
        parting=None,
        fixed=(),
        start=(),
    )


def own_placements(
    job: Job, plan: Plan, groups: Collection[str | None], blanks: Sequence[OwnBlank]
) -> tuple[Placement, ...]:
    """The groups' pieces as they lie on their blanks. Raises KeyError where a blank is missing."""
    by_place = {(blank.metal, blank.group): blank for blank in blanks}
    found = []
    for placed in plan.placements:
        group = job.wanted_by_id[placed.piece].group
        if group in groups:
            blank = by_place[placed.metal, group]
            dx, dy = blank.shift_mm
            found.append(
                replace(placed, metal=blank.code, x_mm=placed.x_mm + dx, y_mm=placed.y_mm + dy)
            )
    return tuple(found)


def as_laid(own: Job, placements: Sequence[Placement], like: Plan) -> Plan:
    """The plan that these placements are on own blanks, with the offcuts that the rack gets."""
    measures, offcuts = measure(own, placements)
    laid = Plan(
        tuple(placements),
        (),
        measures,
        offcuts,
        like.seed,
        0.0,
        0,
        by_hand=own.hands is not None,
    )
    told = with_rack_offcuts(own, laid)
    # Of a layout that lies over the blank's edge more is in pieces than there is metal.
    scrap = max(0.0, told.measures.scrap_mm2)
    return replace(told, measures=replace(told.measures, scrap_mm2=scrap))


def no_longer_holds(own: Job, placements: Sequence[Placement]) -> tuple[Fault, ...]:
    """What the judge finds wrong with the layout on the blanks as they came out."""
    return tuple(faults(own, placements))
