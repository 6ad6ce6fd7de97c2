"""What would a layout cost if it were a plan? The one place that says it, by the rules of quotes.

For the first cut plan, the layout table and its comparison alike: a plan with the same placements
gives the same sum, as long as metal, rates and rules stay as they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Final

import shapely

from classroom.models import Course
from inventory.models import Consumable, StockPiece
from inventory.queries import stock_labelled
from studio.core.cutting import Job, Placement, Plan
from studio.core.cutting.job import Offcut
from studio.core.drawing import Drawing
from studio.core.pricing import shares as pricing
from studio.core.verifying import Judgement, measurable
from studio.models import Layout, Pattern
from studio.steps.plans.asking import piece_id
from studio.steps.plans.prices.metal import blank_prices
from studio.steps.plans.quote import (
    StockSplit,
    Use,
    consumable_line,
    metal_uses,
    policy_of,
    priced_metal,
    split_cost,
)

from .judged import OF_CUTS

HOLES: Final = "holes"
"""In `Layout.figures`: how many holes are drilled into each kind of piece."""

BEYOND_LEAST_MM2 = 0.5  # of a stock piece, outside the rectangle that is laid out on

Holes = Mapping[str, int]
"""How many holes are drilled into each kind of piece, by the job's ids."""


def estimate(layout: Layout, placements: Sequence[Placement], judged: Judgement) -> Decimal:
    """The price of what lies now, in whole cents; the course's own share is not in it.

    `judged` has the offcuts that the rack would get.
    """
    return price_of(
        layout.asked,
        placements,
        judged.offcuts,
        judged.sawn_mm,
        holes_in(layout),
        layout.course,
        judged,
    )


def price_of(
    job: Job,
    placements: Sequence[Placement],
    offcuts: Sequence[Offcut],
    sawn_mm: Mapping[str, float],
    holes: Holes,
    course: Course,
    judged: Judgement | None = None,
) -> Decimal:
    """What all who have pieces there would pay together, in whole cents; each for an own blank
    where `judged` has one for each of them. As long as cuts are not right, as if undivided.

    `offcuts` are those that the rack would get, `sawn_mm` is the saw line of each group. By the
    course's rules and the school's rates of today. Nothing where no piece lies, or where a stock
    piece is not in the books any more.
    """
    placed = measurable(job, placements)
    codes = {p.metal for p in placed}
    rows = list(stock_labelled(course.school_id, codes))
    if not placed or codes - {row.code for row in rows}:
        return pricing.NOTHING
    uses = _uses(job, placed, sawn_mm, holes)
    metal = _for_own_blanks(job, placed, offcuts, rows, list(uses), course, judged)
    if metal is None:
        splits = {row.code: _split(job, row, offcuts) for row in rows}
        priced = priced_metal(metal_uses(job, placed, splits), uses, policy_of(course))
        metal = sum((one.total for one in priced.projects), pricing.NOTHING)
    rates = Consumable.objects.filter(school=course.school_id, retired_at=None)
    supplies = (consumable_line(rate, use).amount for rate in rates for use in uses.values())
    return sum(supplies, metal)


def _for_own_blanks(
    job: Job,
    placed: Sequence[Placement],
    offcuts: Sequence[Offcut],
    rows: Sequence[StockPiece],
    groups: Sequence[str],
    course: Course,
    judged: Judgement | None,
) -> Decimal | None:
    """What the metal costs where every group has blanks of its own, of whole stock pieces; None
    where that is not so (yet)."""
    if judged is None or not judged.blanks or any(f.code in OF_CUTS for f in judged.faults):
        return None
    if {one.group or "" for one in judged.blanks} != set(groups):
        return None
    if any(_beyond_mm2(job, row) > BEYOND_LEAST_MM2 for row in rows):
        return None
    measures, cuts, blanks = judged.measures, judged.cuts, judged.blanks
    laid = Plan(
        tuple(placed),
        (),
        measures,
        tuple(offcuts),
        0,
        0.0,
        0,
        by_hand=True,
        cuts=cuts,
        blanks=blanks,
    )
    prices = blank_prices(job, laid, rows, groups, policy_of(course))
    return sum((one.total for one in prices.quotes.values()), pricing.NOTHING)


def _beyond_mm2(job: Job, piece: StockPiece) -> float:
    return float(piece.area_mm2) - job.stock_by_id[piece.code].outline.area


def _split(job: Job, piece: StockPiece, offcuts: Sequence[Offcut]) -> StockSplit:
    left = [one.outline.area for one in offcuts if one.metal == piece.code]
    beyond = _beyond_mm2(job, piece)
    if beyond > BEYOND_LEAST_MM2:  # nobody touches it, so nobody pays it
        left.append(beyond)
    return split_cost(piece, left)


def _uses(
    job: Job, placed: Sequence[Placement], sawn_mm: Mapping[str, float], holes: Holes
) -> dict[str, Use]:
    """What each group takes at the bench."""
    uses: dict[str, Use] = {}
    for p in placed:
        wanted = job.wanted_by_id[p.piece]
        use = uses.setdefault(wanted.group or wanted.id, Use())
        use.prepared_mm2 += shapely.Polygon(wanted.outline.exterior).area
        use.holes += holes.get(p.piece, 0)
    for group, use in uses.items():
        use.saw_line_mm = sawn_mm.get(group, 0.0)
    return uses


def holes_in(layout: Layout) -> Holes:
    """Kept with the layout's figures: the drawings that they are read from are large."""
    if (kept := layout.figures.get(HOLES)) is not None:
        return dict(kept)
    if layout.plan is not None:
        pks = list(layout.plan.shares.values_list("pattern", flat=True))
    else:
        pks = [layout.pattern_id] if layout.pattern_id else []
    found: dict[str, int] = {}
    for pattern in Pattern.objects.filter(pk__in=pks).only("drawing_json"):
        found |= holes_of(pattern)
    return found


def holes_of(pattern: Pattern) -> dict[str, int]:
    return {
        piece_id(pattern, piece): Drawing((piece,)).hole_count for piece in pattern.drawing.pieces
    }
