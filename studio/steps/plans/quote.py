"""What does each project of a plan cost? Frozen rows, in whole cents that add up.

The metal: each stock piece's cost is split to the cent between what the plan consumes and the
offcuts it leaves, by area. What is consumed is shared by `studio.core.pricing`: everybody pays
the metal in own pieces, and the waste in proportion to it. Where the metal is parted, everybody
pays for the own blank (`prices.metal`). Consumables go by the school's own rates, a line for each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from classroom.models import Course
from inventory.models import Consumable, StockPiece
from inventory.queries import budget_of, stock_labelled
from studio.core.cutting import Job, Plan
from studio.core.cutting.groups import group_of
from studio.core.drawing import Piece
from studio.core.pricing import shares as pricing
from studio.models import CutPlan, PlanProject, Quote, QuoteLine
from studio.queries.additions import whole_layout
from studio.queries.plans import stock_touched_by

from .asking import piece_id
from .prices.metal import Before, MetalPrices, blank_prices, metal_prices, metal_uses, priced_metal
from .prices.rules_in_words import SHARING_RULE, SHARING_RULES, rule_in_words, translated_texts
from .prices.splits import HUNDREDTH, StockSplit, split_cost
from .prices.uses import Use, bench_uses, consumable_line, parting_saw_lines

__all__ = [
    "SHARING_RULE",
    "SHARING_RULES",
    "StockSplit",
    "Use",
    "consumable_line",
    "costs_as_priced",
    "course_share",
    "make_quotes",
    "metal_uses",
    "pieces_of",
    "planned_total",
    "policy_of",
    "priced_metal",
    "rule_of",
    "split_cost",
    "total_of",
    "translated_texts",
    "words_of_rule",
    "write_lines",
]


@dataclass(frozen=True, slots=True)
class Priced:
    """What a plan costs: each project's use and lines (by group), and the metal's prices."""

    uses: dict[str, Use]
    lines: dict[str, list[QuoteLine]]
    metal: MetalPrices
    rates: Sequence[Consumable]

    @property
    def total(self) -> Decimal:
        """All projects together, and the course's own share."""
        lines = (line.amount for own in self.lines.values() for line in own)
        return sum(lines, self.metal.course_share)


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
    priced = _priced(
        plan.course,
        job,
        answer,
        shares,
        stock,
        _before(plan, stock),
        own_blanks=bool(answer.blanks),
    )
    rule = policy_of(plan.course)
    return [_store(plan, share, priced, rule) for share in shares]


def total_of(
    course: Course, job: Job, answer: Plan, shares: Sequence[PlanProject], way: str
) -> Decimal:
    """What all projects of these shares (with brief and pattern, saved or not) and the course
    would pay together, were this answer a plan of that way. Nothing is stored."""
    codes = sorted({placed.metal for placed in answer.placements})
    stock = list(stock_labelled(course.school_id, codes).select_related("metal"))
    own_blanks = way in (CutPlan.Way.PARTED, CutPlan.Way.SAWN)
    return _priced(course, job, answer, shares, stock, own_blanks=own_blanks).total


def _priced(
    course: Course,
    job: Job,
    answer: Plan,
    shares: Sequence[PlanProject],
    stock: Sequence[StockPiece],
    before: Before | None = None,
    *,
    own_blanks: bool,
) -> Priced:
    groups = sorted(group_of(share.project_id) for share in shares)
    uses = bench_uses(job, answer.placements, pieces_of(shares), groups)
    for group, sawn_mm in parting_saw_lines(job, answer.cuts, answer.blanks).items():
        uses[group].saw_line_mm += sawn_mm
    rule = policy_of(course)
    metal = (
        blank_prices(job, answer, stock, groups, rule)
        if own_blanks
        else metal_prices(job, answer, stock, groups, rule, before)
    )
    for group, area in metal.wastes_mm2.items():
        uses[group].waste_mm2 = area
    rates = list(Consumable.objects.filter(school=course.school_id, retired_at=None))
    lines = {}
    for group, quote in metal.quotes.items():
        own = [QuoteLine(kind=one.code, text=one.text, amount=one.amount) for one in quote.lines]
        own += [line for rate in rates if (line := consumable_line(rate, uses[group])).amount]
        lines[group] = own
    return Priced(uses, lines, metal, rates)


def _before(plan: CutPlan, stock: Sequence[StockPiece]) -> Before:
    """What was used up of the metal before this plan's pieces are added to it."""
    lies = None if plan.adds_to is None else whole_layout(plan.adds_to).laid
    if lies is None:
        return {}
    return {
        piece.code: split_cost(
            piece, [one.outline.area for one in lies.offcuts if one.metal == piece.code]
        )
        for piece in stock
    }


def planned_total(plan: CutPlan) -> Decimal:
    """What the plan costs as planned: its projects together, and the course's own share."""
    quotes = list(plan.quotes.filter(kind=Quote.Kind.PLANNED).order_by("project_id"))
    return sum((quote.total for quote in quotes), course_share(quotes))


def course_share(quotes: Sequence[Quote]) -> Decimal:
    """What the course bears of the plan that these quotes (all of one kind) are of.

    With own blanks each quote has its own share; else each carries that of the whole plan.
    """
    if quotes and quotes[0].rates.get("own_blank"):
        return sum((Decimal(quote.rates["course_share"]) for quote in quotes), Decimal(0))
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


def words_of_rule(plan: CutPlan) -> str:
    """The English sentences of the rule by which the plan was priced, or would be now."""
    quote = plan.quotes.first()
    own_blank = plan.is_parted if quote is None else bool(quote.rates.get("own_blank"))
    return rule_in_words(rule_of(plan), own_blank=own_blank)


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


def _store(plan: CutPlan, share: PlanProject, priced: Priced, rule: pricing.WasteRule) -> Quote:
    group = group_of(share.project_id)
    use, lines = priced.uses[group], priced.lines[group]
    quote = Quote.objects.create(
        plan=plan,
        project=share.project,
        kind=Quote.Kind.PLANNED,
        metal_total=priced.metal.quotes[group].metal,
        total=sum((line.amount for line in lines), Decimal(0)),
        allowance=share.project.brief.allowance,
        piece_area_mm2=use.pieces_mm2.quantize(HUNDREDTH),
        waste_area_mm2=use.waste_mm2.quantize(HUNDREDTH),
        rates=priced.metal.terms_of(group) | _rates(priced.rates, use) | {"waste_rule": str(rule)},
    )
    write_lines(quote, lines)
    return quote


def write_lines(quote: Quote, lines: Sequence[QuoteLine]) -> None:
    """Store the lines of a quote that is new, in order."""
    for position, line in enumerate(lines, start=1):
        line.quote, line.position = quote, position
    QuoteLine.objects.bulk_create(lines)


def _rates(rates: Sequence[Consumable], use: Use) -> dict[str, Any]:
    """What the consumables' lines were made from, as it stood."""
    return {
        "consumables": [
            {"name": rate.name, "per": rate.per, "cost_per_use": str(rate.cost_per_use)}
            for rate in rates
        ],
        "saw_line_mm": round(use.saw_line_mm, 2),
        "prepared_mm2": round(use.prepared_mm2, 2),
        "holes": use.holes,
    }
