"""What does each project of a plan cost? Frozen rows, in whole cents that add up.

The metal: each stock piece's cost is split to the cent between what the plan consumes and the
offcuts it leaves, by area. What is consumed is shared by `studio.core.pricing`: everybody pays
the metal in own pieces, and the waste in proportion to it. Consumables go by the school's own
rates, a line for each.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import shapely
from django.db import transaction

from classroom.figures.rounding import plain
from classroom.models import Course
from inventory.models import Consumable, StockPiece
from inventory.queries import budget_of
from studio.core.cutting import Job, Placement, Plan
from studio.core.cutting.groups import group_of
from studio.core.drawing import Piece
from studio.core.picturing.sawing_order import sawing_orders, sawn_by_group
from studio.core.pricing import shares as pricing
from studio.core.pricing.line_words import line_words
from studio.models import CutPlan, PlanProject, Quote, QuoteLine
from studio.queries.plans import stock_touched_by

from .asking import piece_id

SHARING_RULE = (
    "You pay for the metal in your pieces. The waste is shared by all projects on the plan in "
    "proportion to the area of their pieces, whichever stock piece they lie on: nobody chose "
    "that. Waste is kerf (the width of the saw cut) and scrap (too small to use again). What goes "
    "back to the rack costs nobody. Blades, drills, abrasive and adhesive are paid by how much "
    "you saw, drill and prepare. Cents are handed out so that all quotes together are exactly "
    "what the plan costs."
)
SHARING_RULES = {
    pricing.WasteRule.SHARED: SHARING_RULE,
    pricing.WasteRule.SCHOOL: (
        "You pay for the metal in your pieces only. The waste is borne by the course: kerf (the "
        "width of the saw cut) and scrap (too small to use again). Blades, drills, abrasive and "
        "adhesive are paid by how much you saw, drill and prepare."
    ),
    pricing.WasteRule.RECTANGLE: (
        "You pay for the upright rectangle around each of your pieces as drawn, "
        f"{pricing.RECTANGLE_ALLOWANCE_MM:.0f} mm longer on both sides. What the metal costs "
        "beyond that, or less, is the course's. Blades, drills, abrasive and adhesive are paid by "
        "how much you saw, drill and prepare."
    ),
}
HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class StockSplit:
    """What a plan does to one stock piece: areas in mm², money in whole cents."""

    code: str
    consumed_mm2: Decimal
    consumed_cost: Decimal
    offcut_costs: tuple[Decimal, ...]  # in the order of the offcuts given


@dataclass(slots=True)
class Use:
    """What one project takes from a plan."""

    pieces_mm2: Decimal = Decimal(0)  # net: outlines less windows
    waste_mm2: Decimal = Decimal(0)
    saw_line_mm: float = 0.0
    prepared_mm2: float = 0.0  # outlines with their windows: the pattern's paper covers it
    holes: int = 0


def split_cost(stock_piece: StockPiece, offcuts_mm2: Sequence[float]) -> StockSplit:
    """Divide the stock piece's cost between its offcuts and the rest, to the cent, by area.

    The shares add up to the cost; `give_back` prices the true offcuts with it when it closes
    the plan.
    """
    areas = [_area(area) for area in offcuts_mm2]
    consumed = max(Decimal(0), stock_piece.area_mm2 - sum(areas, Decimal(0)))
    weights = {"consumed": consumed}
    weights |= {f"offcut-{n:04d}": area for n, area in enumerate(areas)}
    shares = pricing.share_to_the_cent(stock_piece.cost, weights)
    return StockSplit(
        stock_piece.code,
        consumed,
        shares["consumed"],
        tuple(shares[f"offcut-{n:04d}"] for n in range(len(areas))),
    )


@transaction.atomic
def make_quotes(plan: CutPlan) -> list[Quote]:
    """The frozen quotes of a plan that is placed whole, one for each project.

    A partial plan cannot be approved and gets none. Quotes that are there already stand.
    """
    job, answer = plan.asked, plan.laid
    if answer is None or answer.unplaced:
        return []
    made = list(plan.quotes.filter(kind=Quote.Kind.PLANNED).order_by("project_id"))
    if made:
        return made
    shares = list(plan.shares.select_related("project__brief", "pattern").order_by("project_id"))
    stock = stock_touched_by(plan)
    splits = {piece.code: split_cost(piece, _offcuts_on(answer, piece.code)) for piece in stock}
    rule = policy_of(plan.course)
    uses, metals = _uses(job, answer, shares, splits)
    priced = priced_metal(metals, uses, rule)
    terms = {"waste_rule": str(rule), "course_share": str(priced.school)}
    rates = list(Consumable.objects.filter(school=plan.course.school_id, retired_at=None))
    by_group = {group_of(share.project_id): share for share in shares}
    return [
        _store(plan, by_group[one.project], uses[one.project], one, rates, splits, terms)
        for one in priced.projects
    ]


def priced_metal(
    metals: Sequence[pricing.MetalUse], groups: Iterable[str], rule: pricing.WasteRule
) -> pricing.Quote:
    """What each of the groups pays for metal; supplies have lines of their own."""
    return pricing.quote(
        metals,
        {group: pricing.BenchUse() for group in groups},
        pricing.Rates(),
        pricing.CostPolicy(waste=rule, consumables=False),
    )


def metal_uses(
    job: Job, placements: Sequence[Placement], splits: Mapping[str, StockSplit]
) -> list[pricing.MetalUse]:
    """What happens to each of the stock pieces (by the job's id) that are split."""
    own: dict[str, dict[str, Decimal]] = {code: {} for code in splits}
    for placed in placements:
        wanted = job.wanted_by_id[placed.piece]
        group = wanted.group or wanted.id
        before = own[placed.metal].get(group, Decimal(0))
        own[placed.metal][group] = before + _area(wanted.outline.area)
    rectangles = pricing.rectangle_areas(job, placements)
    metals = []
    for code, split in splits.items():
        # A price at which the consumed area costs exactly its whole cents.
        consumed = max(split.consumed_mm2, sum(own[code].values(), Decimal(0)))
        price = split.consumed_cost / consumed
        metals.append(pricing.MetalUse(code, price, consumed, own[code], rectangles[code]))
    return metals


def planned_total(plan: CutPlan) -> Decimal:
    """What the plan costs as planned: its projects together, and the course's own share."""
    quotes = list(plan.quotes.filter(kind=Quote.Kind.PLANNED).order_by("project_id"))
    return sum((quote.total for quote in quotes), course_share(quotes))


def course_share(quotes: Sequence[Quote]) -> Decimal:
    """What the course bears of the plan that these quotes (of one kind) are of."""
    return Decimal(quotes[0].rates.get("course_share", "0.00")) if quotes else Decimal(0)


def policy_of(course: Course) -> pricing.WasteRule:
    """What projects of the course pay for metal, as it stands now."""
    return pricing.WasteRule(budget_of(course).cost_policy)


def rule_of(plan: CutPlan) -> pricing.WasteRule:
    """The rule by which the plan was priced; before that, the course's present one."""
    quote = plan.quotes.first()
    if quote is None:
        return policy_of(plan.course)
    return pricing.WasteRule(quote.rates.get("waste_rule", pricing.WasteRule.SHARED))


def costs_as_priced(plan: CutPlan) -> dict[str, Decimal]:
    """What each touched stock piece (by code) cost when the plan's quotes were made."""
    quote = plan.quotes.filter(kind=Quote.Kind.PLANNED).first()
    stock = quote.rates["stock"] if quote else {}
    return {
        code: sum(map(Decimal, split["offcut_costs"]), Decimal(split["consumed_cost"]))
        for code, split in stock.items()
    }


def pieces_of(shares: Sequence[PlanProject]) -> dict[str, Piece]:
    """The drawings' pieces by the ids that the job gives them."""
    return {
        piece_id(share.pattern, piece): piece
        for share in shares
        for piece in share.pattern.drawing.pieces
    }


def _uses(
    job: Job,
    answer: Plan,
    shares: Sequence[PlanProject],
    splits: dict[str, StockSplit],
) -> tuple[dict[str, Use], list[pricing.MetalUse]]:
    """What each project (by group) takes, and what happens to each stock piece."""
    uses = {group_of(share.project_id): Use() for share in shares}
    pieces = pieces_of(shares)
    for placed in answer.placements:
        wanted = job.wanted_by_id[placed.piece]
        use = uses[wanted.group or ""]
        use.pieces_mm2 += _area(wanted.outline.area)
        use.prepared_mm2 += float(shapely.Polygon(wanted.outline.exterior).area)
    orders = sawing_orders(job, answer.placements, pieces)
    for hole in (hole for order in orders for hole in order.holes):
        uses[job.wanted_by_id[hole.piece].group or ""].holes += 1
    for group, sawn_mm in sawn_by_group(job, orders).items():
        uses[group].saw_line_mm = sawn_mm
    metals = metal_uses(job, answer.placements, splits)
    for group, area in pricing.waste_areas(metals, uses).items():
        uses[group].waste_mm2 = area
    return uses, metals


def _store(
    plan: CutPlan,
    share: PlanProject,
    use: Use,
    priced: pricing.ProjectQuote,
    rates: Sequence[Consumable],
    splits: dict[str, StockSplit],
    terms: dict[str, str],
) -> Quote:
    lines = [QuoteLine(kind=one.code, text=one.text, amount=one.amount) for one in priced.lines]
    lines += [line for rate in rates if (line := consumable_line(rate, use)).amount]
    total = sum((line.amount for line in lines), Decimal(0))
    quote = Quote.objects.create(
        plan=plan,
        project=share.project,
        kind=Quote.Kind.PLANNED,
        metal_total=priced.metal,
        total=total,
        allowance=share.project.brief.allowance,
        piece_area_mm2=use.pieces_mm2.quantize(HUNDREDTH),
        waste_area_mm2=use.waste_mm2.quantize(HUNDREDTH),
        rates=_frozen(rates, use, splits) | terms,
    )
    write_lines(quote, lines)
    return quote


def write_lines(quote: Quote, lines: Sequence[QuoteLine]) -> None:
    """Store the lines of a quote that is new, in order."""
    for position, line in enumerate(lines, start=1):
        line.quote, line.position = quote, position
    QuoteLine.objects.bulk_create(lines)


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


def _frozen(rates: Sequence[Consumable], use: Use, splits: dict[str, StockSplit]) -> dict[str, Any]:
    """Everything that the price was made from, as it stood."""
    return {
        "stock": {
            code: {
                "consumed_mm2": str(split.consumed_mm2),
                "consumed_cost": str(split.consumed_cost),
                "offcut_costs": [str(cost) for cost in split.offcut_costs],
            }
            for code, split in splits.items()
        },
        "consumables": [
            {"name": rate.name, "per": rate.per, "cost_per_use": str(rate.cost_per_use)}
            for rate in rates
        ],
        "saw_line_mm": round(use.saw_line_mm, 2),
        "prepared_mm2": round(use.prepared_mm2, 2),
        "holes": use.holes,
    }


def _offcuts_on(answer: Plan, code: str) -> list[float]:
    return [offcut.outline.area for offcut in answer.offcuts if offcut.metal == code]


def _area(value: float) -> Decimal:
    """An area in mm² to the ten-thousandth: finer than any saw."""
    return Decimal(f"{value:.4f}")


def translated_texts() -> set[str]:
    """The rules of sharing, for the catalogues of other languages."""
    return set(SHARING_RULES.values())
