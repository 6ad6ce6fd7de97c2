"""What would a layout cost as it lies? By the rules of quotes, from the judge's own figures.

An estimate: sawing is shared out by the pieces' rims, holes are counted and not ordered.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import shapely

from classroom.models import Course
from inventory.models import Consumable, StockPiece
from studio.core.cutting import Job, Placement
from studio.core.drawing import DrillKind
from studio.core.pricing import shares as pricing
from studio.core.verifying import Judgement, measurable
from studio.models import Layout, Pattern
from studio.steps.plans.quote import Use, consumable_line, policy_of, split_cost

DRILLED = "drilled"
"""In `Layout.figures`: how many holes are drilled into each piece."""

BEYOND_LEAST_MM2 = 0.5  # of a stock piece, outside the rectangle that is laid out on


def estimate(layout: Layout, placements: Sequence[Placement], judged: Judgement) -> Decimal:
    """The price of what lies now, in whole cents; the course's own share is not in it."""
    job = layout.asked
    placed = measurable(job, placements)
    if not placed:
        return pricing.NOTHING
    course = layout.course
    uses = _uses(layout, job, placed, judged.measures.saw_line_mm)
    metals = _metals(job, placed, judged, course)
    priced = pricing.quote(
        metals,
        {group: pricing.BenchUse() for group in uses},
        pricing.Rates(),
        pricing.CostPolicy(waste=policy_of(course), consumables=False),
    )
    rates = Consumable.objects.filter(school=course.school_id, retired_at=None)
    supplies = (consumable_line(rate, use).amount for rate in rates for use in uses.values())
    return sum(supplies, sum((one.total for one in priced.projects), pricing.NOTHING))


def _metals(
    job: Job, placed: Sequence[Placement], judged: Judgement, course: Course
) -> list[pricing.MetalUse]:
    own: dict[str, dict[str, Decimal]] = {}
    for p in placed:
        wanted = job.wanted_by_id[p.piece]
        on_metal = own.setdefault(p.metal, {})
        group = wanted.group or wanted.id
        on_metal[group] = on_metal.get(group, Decimal(0)) + pricing.to_the_mm(wanted.outline.area)
    rows = StockPiece.objects.filter(school=course.school_id, code__in=own)
    blanks = pricing.blank_areas(job, placed)
    found = []
    for piece in rows:
        metal = job.stock_by_id[piece.code]
        left = [one.outline.area for one in judged.offcuts if one.metal == piece.code]
        beyond = float(piece.area_mm2) - metal.outline.area
        if beyond > BEYOND_LEAST_MM2:  # nobody touches it, so nobody pays it
            left.append(beyond)
        split = split_cost(piece, left)
        consumed = max(split.consumed_mm2, sum(own[piece.code].values(), Decimal(0)))
        price = split.consumed_cost / consumed
        found.append(
            pricing.MetalUse(piece.code, price, consumed, own[piece.code], blanks[piece.code])
        )
    return found


def _uses(
    layout: Layout, job: Job, placed: Sequence[Placement], saw_line_mm: float
) -> dict[str, Use]:
    """What each group takes at the bench."""
    drilled = drilled_in(layout)
    uses: dict[str, Use] = {}
    rims: dict[str, float] = {}
    for p in placed:
        wanted = job.wanted_by_id[p.piece]
        group = wanted.group or wanted.id
        use = uses.setdefault(group, Use())
        use.prepared_mm2 += shapely.Polygon(wanted.outline.exterior).area
        use.holes += len(wanted.outline.interiors) + drilled.get(p.piece, 0)
        rims[group] = rims.get(group, 0.0) + wanted.outline.length
    whole = sum(rims.values())
    for group, use in uses.items():
        use.saw_line_mm = saw_line_mm * rims[group] / whole
    return uses


def drilled_in(layout: Layout) -> dict[str, int]:
    """Drilled holes of each piece, by the job's ids; those that windows begin with come besides.

    Kept with the figures: the drawings that they are read from are large.
    """
    if (kept := layout.figures.get(DRILLED)) is not None:
        return dict(kept)
    if layout.plan is not None:
        pks = list(layout.plan.shares.values_list("pattern", flat=True))
    else:
        pks = [layout.pattern_id] if layout.pattern_id else []
    rows = Pattern.objects.filter(pk__in=pks).values_list("pk", "drawing_json")
    return {
        f"{pk}/{piece['id']}": sum(mark["kind"] != DrillKind.PILOT for mark in piece["drill_marks"])
        for pk, drawing in rows
        for piece in drawing
    }
