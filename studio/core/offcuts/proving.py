"""Do the areas of a stored plan add up, by its outlines alone?

What the judge said when the plan was made is not believed here: the outline of each stock piece,
or of each part where it is parted, has to hold all that lies on it, nothing may lie over anything
else, and what is left beside pieces, saw cuts and offcuts has to be too small or too narrow to have
been kept.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

import shapely
from shapely.geometry import Polygon

from studio.core.areas import AreaLost, common, united, without
from studio.core.cutting.job import Job, Plan, Stock
from studio.core.verifying import Ground, grounds
from studio.core.verifying.measures import grown_by_kerf, offcut_radius_mm, polygons_of

AREA_MM2: Final = 1.0
"""Areas agree when they differ by no more than this, for each stock piece."""
_HAIR_MM: Final = 0.001
"""Outlines are written to fewer places than they are reckoned with."""
_MORE_MM: Final = 0.05
_WIDER: Final = 1.02
"""What only just fails to be kept is not called lost: its disc has to be so much larger."""


def area_faults(job: Job, plan: Plan) -> Iterator[str]:
    """What of a plan's areas does not add up, in words; nothing when all does."""
    places = grounds(job, plan.placements, plan.cuts)
    kept: dict[str, list[Polygon]] = defaultdict(list)
    for offcut in plan.offcuts:
        kept[offcut.metal].append(offcut.outline)
    codes = {place.code for place in places}
    touched = [metal for metal in job.metal if metal.id in codes]
    if unknown := sorted(kept.keys() - codes):
        yield f"it keeps offcuts of {', '.join(unknown)}, where nothing is laid"
    yield from _figures(job, plan, touched)
    for code in [metal.id for metal in touched]:
        own = [place for place in places if place.code == code]
        shares = _by_part(own, kept[code])
        for place, offcuts in zip(own, shares, strict=True):
            try:
                yield from _on_one(job, place, offcuts)
            except AreaLost as error:
                yield f"on {code} {error}"


def _by_part(own: Sequence[Ground], offcuts: Sequence[Polygon]) -> list[list[Polygon]]:
    """The offcuts of a stock piece by the part that holds their middle, else with the first."""
    found: list[list[Polygon]] = [[] for _ in own]
    for offcut in offcuts:
        inside = offcut.representative_point()
        holds = [place.metal.outline.intersects(inside) for place in own]
        found[holds.index(True) if any(holds) else 0].append(offcut)
    return found


def _figures(job: Job, plan: Plan, touched: list[Stock]) -> Iterator[str]:
    said = plan.measures
    whole = sum(metal.outline.area for metal in touched)
    pieces = sum(job.wanted_by_id[placed.piece].outline.area for placed in plan.placements)
    kept = sum(offcut.outline.area for offcut in plan.offcuts)
    for name, told, drawn in (
        ("pieces", said.piece_area_mm2, pieces),
        ("offcuts", said.kept_mm2, kept),
        ("metal used up", said.consumed_mm2, whole - kept),
        ("scrap and saw cuts", said.scrap_mm2, whole - kept - pieces),
    ):
        if abs(told - drawn) > AREA_MM2 * max(len(touched), 1):
            yield f"its {name} are {told:,.2f} mm², its outlines say {drawn:,.2f} mm²"


def _on_one(job: Job, place: Ground, offcuts: list[Polygon]) -> Iterator[str]:
    metal, code = place.metal, place.code
    pieces = [placed.lay(job.wanted_by_id[placed.piece].outline) for placed in place.pieces]
    both = sum(one.area for one in (*pieces, *offcuts))
    if abs(united([*pieces, *offcuts]).area - both) > AREA_MM2:
        yield from _overlaps(code, pieces, offcuts)
    room = metal.outline.buffer(_HAIR_MM, join_style="mitre")
    shapely.prepare(room)
    for name, outlines in (("a piece", pieces), ("an offcut", offcuts)):
        beside = [one for one in outlines if not room.covers(one)]
        if beside and (over := without(united(beside), metal.outline).area) > AREA_MM2:
            yield f"on {code} {name} lies beside the metal: {over:,.2f} mm²"
    # A little more than the saw takes, so that the rims of offcuts are crossed and not grazed.
    gap = job.kerf_mm + _MORE_MM
    grown = [grown_by_kerf(one, gap) for one in pieces]
    lost = without(metal.outline, united([*offcuts, *grown]))
    radius = _WIDER * offcut_radius_mm(job)
    for part in polygons_of(lost.buffer(-radius).buffer(radius)):
        if part.area > _WIDER * job.offcut_min_area_mm2:
            yield f"on {code} {part.area:,.2f} mm² are scrap that could have been kept"


def _overlaps(code: str, pieces: list[Polygon], offcuts: list[Polygon]) -> Iterator[str]:
    own, left = united(pieces), united(offcuts)
    for name, over in (
        ("its pieces lie over each other", sum(one.area for one in pieces) - own.area),
        ("its offcuts lie over each other", sum(one.area for one in offcuts) - left.area),
        ("pieces and offcuts lie over each other", common(own, left).area),
    ):
        if over > AREA_MM2:
            yield f"on {code} {name}: {over:,.2f} mm²"
