"""What did each project of a plan really use? The settled quotes, in whole cents that add up.

The same rule as for the planned quote, with the offcuts that really came back: each stock
piece's cost is split by area between its offcuts and the rest, and the rest is shared by the
projects. Consumables stay as planned; a project that was given up pays only those of the steps
that it began.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shapely.geometry import MultiPolygon, Polygon

from inventory.models import Consumable, StockPiece
from studio.core.bench.texts import BenchStepKind
from studio.core.cutting.groups import group_of
from studio.core.offcuts.returning import StockOut, used_by
from studio.core.pricing import shares as pricing
from studio.models import BenchStep, CutPlan, Project, Quote, QuoteLine
from studio.queries.additions import all_together, left_out_of, whole_layout
from studio.steps.plans.prices.metal import priced_metal
from studio.steps.plans.prices.splits import split_cost, to_area
from studio.steps.plans.quote import planned_total, rule_of, write_lines

HUNDREDTH = Decimal("0.01")
USED_IN = {
    Consumable.Kind.ABRASIVE: BenchStepKind.PREPARE,
    Consumable.Kind.ADHESIVE: BenchStepKind.ADHERE,
    Consumable.Kind.DRILL: BenchStepKind.DRILL,
    Consumable.Kind.BLADE: BenchStepKind.SAW,
}
"""The step in which a consumable is used up."""


@dataclass(frozen=True, slots=True)
class Settled:
    """Money of a closed plan: `metal` is what was really used, `total` with consumables, and
    `course_share` the part of it that no project pays.

    `used_costs` and `offcut_costs` (in the order of the kept offcuts) are by stock piece;
    `differences` is what each plan's quotes came to beyond what was planned, by its key: that of
    the plan itself and of those that were added to its metal.
    """

    planned: Decimal
    total: Decimal
    metal: Decimal
    course_share: Decimal
    used_costs: Mapping[str, Decimal]
    offcut_costs: Mapping[str, Sequence[Decimal]]
    differences: Mapping[int, Decimal]

    @property
    def difference(self) -> Decimal:
        """What has to be charged beyond the plan, or credited where below zero."""
        return self.total - self.planned


def settle(
    plan: CutPlan,
    outs: Sequence[StockOut],
    stock: Mapping[str, StockPiece],
    kept: Mapping[str, Polygon | MultiPolygon],
) -> Settled:
    """Write the settled quotes of a plan that is being closed, and of what was added to it.

    Metal in the projects' quotes together is exactly what the stock pieces cost less what their
    kept offcuts (`kept`, by key) take back to the rack. Projects that were left out have no
    settled quote: what was planned for them is given back.
    """
    together = all_together(plan)
    planned = _planned_quotes(together, left_out_of(plan))
    rectangles = _rectangles_of(whole_layout(plan))
    uses: list[pricing.MetalUse] = []
    used_costs: dict[str, Decimal] = {}
    offcut_costs: dict[str, Sequence[Decimal]] = {}
    areas: dict[str, Decimal] = {}
    for out in outs:
        own = {leaf.key: kept[leaf.key] for leaf in out.leaves if leaf.key in kept}
        split = split_cost(stock[out.code], [outline.area for outline in own.values()])
        used_costs[out.code] = split.consumed_cost
        offcut_costs[out.code] = split.offcut_costs
        used = {group: to_area(area) for group, area in used_by(out, own).items()}
        pieces = sum(used.values(), Decimal(0))
        consumed = max(split.consumed_mm2, pieces)
        if consumed:
            price = split.consumed_cost / consumed
            around = _rectangles(out, used, rectangles.get(out.code, {}))
            uses.append(pricing.MetalUse(out.code, price, consumed, used, around))
        for group, area in used.items():
            areas[group] = areas.get(group, Decimal(0)) + area
    groups = [group_of(quote.project_id) for quote in planned]
    priced = _priced(uses, groups, rule_of(plan), own_metal=_own_metal(plan, outs))
    totals = dict.fromkeys((one.pk for one in together), Decimal(0))
    for quote in planned:
        group = group_of(quote.project_id)
        terms = {
            "used_costs": {code: str(cost) for code, cost in used_costs.items()},
            "course_share": str(priced.course_shares[group]),
            "own_blank": priced.own_metal,
        }
        if not priced.own_metal and quote.plan_id != plan.pk:
            terms["course_share"] = "0.00"  # the plan's own quotes tell it
        totals[quote.plan_id] += _store(
            quote, priced.quotes[group], areas.get(group, Decimal(0)), priced.wastes[group], terms
        )
    totals[plan.pk] += priced.course_share
    differences = {one.pk: totals[one.pk] - planned_total(one) for one in together}
    settled = sum(totals.values(), Decimal(0))
    return Settled(
        planned=settled - sum(differences.values(), Decimal(0)),
        total=settled,
        metal=sum(used_costs.values(), Decimal(0)),
        course_share=priced.course_share,
        used_costs=used_costs,
        offcut_costs=offcut_costs,
        differences=differences,
    )


@dataclass(frozen=True, slots=True)
class _Priced:
    """Metal of the projects, by group. With own metal each is priced by itself and has a share of
    the course's of its own; else each carries that of the whole plan."""

    quotes: Mapping[str, pricing.ProjectQuote]
    course_shares: Mapping[str, Decimal]
    wastes: Mapping[str, Decimal]
    own_metal: bool
    course_share: Decimal


def _priced(
    uses: Sequence[pricing.MetalUse],
    groups: Sequence[str],
    rule: pricing.WasteRule,
    *,
    own_metal: bool,
) -> _Priced:
    if not own_metal:
        priced = priced_metal(uses, groups, rule)
        return _Priced(
            {one.project: one for one in priced.projects},
            dict.fromkeys(groups, priced.school),
            pricing.waste_areas(uses, groups),
            own_metal,
            priced.school,
        )
    quotes: dict[str, pricing.ProjectQuote] = {}
    shares: dict[str, Decimal] = {}
    wastes: dict[str, Decimal] = {}
    for group in groups:
        own = [use for use in uses if group in use.pieces_mm2]
        one = priced_metal(own, [group], rule)
        (quotes[group],) = one.projects
        shares[group] = one.school
        wastes |= pricing.waste_areas(own, [group])
    return _Priced(quotes, shares, wastes, own_metal, sum(shares.values(), Decimal(0)))


def _own_metal(plan: CutPlan, outs: Sequence[StockOut]) -> bool:
    """Whether each project has metal of its own: on blanks as they were parted, unless pieces of
    two of a student's projects were laid anew on one blank, or added to it."""
    return plan.parent_id is not None and all(len({*out.made, *out.unmade}) == 1 for out in outs)


def _planned_quotes(plans: Sequence[CutPlan], left_out: Sequence[int]) -> list[Quote]:
    quotes = Quote.objects.filter(plan__in=[one.pk for one in plans], kind=Quote.Kind.PLANNED)
    return list(
        quotes.exclude(project__in=left_out)
        .select_related("plan", "project")
        .prefetch_related("lines")
        .order_by("project_id")
    )


def _rectangles_of(plan: CutPlan) -> dict[str, dict[str, Decimal]]:
    """Rectangles around the pieces, by stock piece and group."""
    if plan.laid is None:
        return {}
    return pricing.rectangle_areas(plan.asked, plan.laid.placements)


def _rectangles(
    out: StockOut, used: Mapping[str, Decimal], rectangles: Mapping[str, Decimal]
) -> dict[str, Decimal]:
    """Rectangles of the projects; one that was given up pays as much of its own as of its metal."""
    found = {}
    for group, area in rectangles.items():
        if group not in used:  # left out of the plan at the bench
            continue
        lost = out.unmade.get(group)
        whole = to_area(sum(piece.area for piece in lost)) if lost else Decimal(0)
        share = min(used.get(group, Decimal(0)) / whole, Decimal(1)) if whole else Decimal(1)
        found[group] = area * share
    return found


def _store(
    planned: Quote,
    priced: pricing.ProjectQuote,
    area: Decimal,
    waste: Decimal,
    terms: dict[str, Any],
) -> Decimal:
    lines = [QuoteLine(kind=one.code, text=one.text, amount=one.amount) for one in priced.lines]
    begun = _begun(planned.project)
    lines += [
        QuoteLine(kind=line.kind, text=line.text, facts=line.facts, amount=line.amount)
        for line in planned.lines.all()
        if line.kind not in pricing.METAL_LINES and _was_used(line.kind, begun)
    ]
    total = sum((line.amount for line in lines), Decimal(0))
    quote = Quote.objects.create(
        plan=planned.plan,
        project=planned.project,
        kind=Quote.Kind.SETTLED,
        metal_total=priced.metal,
        total=total,
        allowance=planned.allowance,
        piece_area_mm2=area.quantize(HUNDREDTH),
        waste_area_mm2=waste.quantize(HUNDREDTH),
        rates=planned.rates | terms,
    )
    write_lines(quote, lines)
    return total


def _begun(project: Project) -> set[str] | None:
    """Kinds of the steps that were begun; None for a project that is made, which used all."""
    if project.stage == Project.Stage.MADE:
        return None
    steps = BenchStep.objects.filter(project=project).exclude(started_at=None)
    return set(steps.values_list("kind", flat=True))


def _was_used(kind: str, begun: set[str] | None) -> bool:
    if begun is None:
        return True
    step = USED_IN.get(Consumable.Kind(kind)) if kind in Consumable.Kind.values else None
    return bool(begun) if step is None else step in begun
