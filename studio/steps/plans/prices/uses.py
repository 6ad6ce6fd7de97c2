"""What does each project of a plan take: metal, sawing, drilled holes, surface to prepare?"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import shapely
from shapely.geometry import LineString

from classroom.figures.rounding import plain
from inventory.models import Consumable
from studio.core.cutting import Blank, Cut, Job, Placement
from studio.core.drawing import Piece
from studio.core.picturing.sawing_order import sawing_orders, sawn_by_group
from studio.core.pricing import shares as pricing
from studio.core.pricing.line_words import line_words
from studio.core.verifying import parts_of
from studio.models import QuoteLine

from .splits import to_area


@dataclass(slots=True)
class Use:
    """What one project takes from a plan."""

    pieces_mm2: Decimal = Decimal(0)  # net: outlines less windows
    waste_mm2: Decimal = Decimal(0)
    saw_line_mm: float = 0.0
    prepared_mm2: float = 0.0  # outlines with their windows: the pattern's paper covers it
    holes: int = 0


def bench_uses(
    job: Job,
    placements: Sequence[Placement],
    pieces: Mapping[str, Piece],
    groups: Collection[str],
) -> dict[str, Use]:
    """What each of these groups takes at the bench; the waste is left at nothing.

    `pieces` are the drawings' pieces by the job's ids. Pieces of other groups lie there too, and
    a cut beside one of them counts as half of it.
    """
    uses = {group: Use() for group in groups}
    for placed in placements:
        wanted = job.wanted_by_id[placed.piece]
        use = uses.get(wanted.group or "")
        if use is not None:
            use.pieces_mm2 += to_area(wanted.outline.area)
            use.prepared_mm2 += float(shapely.Polygon(wanted.outline.exterior).area)
    orders = sawing_orders(job, placements, pieces)
    for hole in (hole for order in orders for hole in order.holes):
        use = uses.get(job.wanted_by_id[hole.piece].group or "")
        if use is not None:
            use.holes += 1
    for group, sawn_mm in sawn_by_group(job, orders).items():
        if group in uses:
            uses[group].saw_line_mm = sawn_mm
    return uses


def parting_saw_lines(job: Job, cuts: Sequence[Cut], blanks: Sequence[Blank]) -> dict[str, float]:
    """Millimetres of saw line that part the metal, by group: shared by the area of the blanks on
    each stock piece. Nothing where a shear parts it, which uses up no blade."""
    if job.parting is None or job.parting.way != "saw":
        return {}
    found: dict[str, float] = {}
    for code in {cut.metal for cut in cuts}:
        own = [blank for blank in blanks if blank.metal == code]
        whole = sum(blank.outline.area for blank in own)
        sawn = _sawn_mm(job, code, cuts)
        for blank in own:
            group = blank.group or ""
            found[group] = found.get(group, 0.0) + sawn * blank.outline.area / whole
    return found


def _sawn_mm(job: Job, code: str, cuts: Sequence[Cut]) -> float:
    """Length of all cuts of one stock piece, each from edge to edge of the part it goes through."""
    own = [cut for cut in cuts if cut.metal == code]
    total = 0.0
    for number, cut in enumerate(own):
        part = parts_of(job, code, own[:number])[cut.part]
        (x0, y0), (x1, y1) = cut.start, cut.end
        dx, dy = x1 - x0, y1 - y0
        # The ends are written to a hundredth; a line that goes beyond them meets the edges.
        line = LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])
        total += float(line.intersection(part).length)
    return total


def consumable_line(rate: Consumable, use: Use) -> QuoteLine:
    """One consumable for one project, in whole cents; unsaved, and of no quote yet.

    It keeps the name and how much was reckoned, to be worded in any language.
    """
    match rate.per:
        case Consumable.Per.CM_SAWN:
            count = Decimal(use.saw_line_mm) / 10
        case Consumable.Per.CM2_COVERED:
            count = Decimal(use.prepared_mm2) / 100
        case Consumable.Per.HOLE:
            count = Decimal(use.holes)
        case _:
            count = Decimal(1)
    facts = {"name": rate.name, "per": str(rate.per), "count": plain(count, 0)}
    return QuoteLine(
        kind=rate.kind,
        text=line_words("", facts)[:160],
        facts=facts,
        amount=pricing.to_the_cent(count * rate.cost_per_use),
    )
