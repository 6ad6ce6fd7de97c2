"""What do projects pay for metal? By the way in which they come by it, to the cent.

Undivided, the whole plan's metal is shared by the pricing rule. With own blanks each project pays
for its blanks alone. An addition pays for what is used up beyond what was used before it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from inventory.models import StockPiece
from studio.core.cutting import Job, Placement, Plan
from studio.core.cutting.job import Offcut
from studio.core.pricing import shares as pricing

from .splits import BlankSplit, StockSplit, split_cost, split_parted, to_area

Before = Mapping[str, StockSplit]
"""What was used up of stock pieces (by label) before pieces were added to them."""


@dataclass(frozen=True, slots=True)
class MetalPrices:
    """By group: the quote for metal, what the course bears, the waste in mm², and the blanks.

    Without own blanks every group carries the course's share of the whole plan.
    """

    quotes: Mapping[str, pricing.ProjectQuote]
    course_shares: Mapping[str, Decimal]
    wastes_mm2: Mapping[str, Decimal]
    stock: Mapping[str, StockSplit]
    blanks: Mapping[str, Sequence[BlankSplit]] = field(default_factory=dict)
    before: Before = field(default_factory=dict)

    @property
    def own_blank(self) -> bool:
        return bool(self.blanks)

    @property
    def course_share(self) -> Decimal:
        """What the course bears of the whole plan."""
        shares = list(self.course_shares.values())
        return sum(shares, Decimal(0)) if self.own_blank else (shares or [Decimal(0)])[0]

    def terms_of(self, group: str) -> dict[str, Any]:
        """What one group's quote keeps of all this, as text."""
        terms: dict[str, Any] = {
            "stock": {code: _written(split) for code, split in self.stock.items()},
            "course_share": str(self.course_shares[group]),
        }
        if self.own_blank:
            terms["own_blank"] = True
            terms["blanks"] = [
                {"metal": one.metal, "part": one.part, "area_mm2": str(one.area_mm2)}
                | {"cost": str(one.cost)}
                | _written(one.split)
                for one in self.blanks[group]
            ]
        if self.before:
            terms["before"] = {code: _written(split) for code, split in self.before.items()}
        return terms


def metal_prices(
    job: Job,
    laid: Plan,
    stock: Sequence[StockPiece],
    groups: Collection[str],
    rule: pricing.WasteRule,
    before: Before | None = None,
) -> MetalPrices:
    """What each of the groups pays for metal on these stock pieces, which are all that `laid`
    touches. `before` is what was used up of them before these groups' pieces were added."""
    splits = {piece.code: split_cost(piece, _offcuts_on(laid.offcuts, piece)) for piece in stock}
    own = [p for p in laid.placements if (job.wanted_by_id[p.piece].group or "") in groups]
    earlier = dict(before or {})
    paid = {
        code: _less(split, earlier.get(code))
        for code, split in splits.items()
        if not earlier or any(p.metal == code for p in own)
    }
    uses = metal_uses(job, own, paid)
    priced = priced_metal(uses, groups, rule)
    return MetalPrices(
        {one.project: one for one in priced.projects},
        dict.fromkeys(groups, priced.school),
        pricing.waste_areas(uses, groups),
        splits,
        before=earlier,
    )


def blank_prices(
    job: Job,
    laid: Plan,
    stock: Sequence[StockPiece],
    groups: Collection[str],
    rule: pricing.WasteRule,
) -> MetalPrices:
    """The same where these stock pieces are parted into the blanks of the groups."""
    parted = [split_parted(job, piece, laid.cuts, laid.blanks, laid.offcuts) for piece in stock]
    blanks: dict[str, list[BlankSplit]] = {group: [] for group in groups}
    for blank in (blank for one in parted for blank in one.blanks):
        blanks[blank.group].append(blank)
    quotes: dict[str, pricing.ProjectQuote] = {}
    shares: dict[str, Decimal] = {}
    wastes: dict[str, Decimal] = {}
    for group, own in blanks.items():
        placed = [p for p in laid.placements if (job.wanted_by_id[p.piece].group or "") == group]
        uses = []
        for metal in sorted({blank.metal for blank in own}):
            here = [blank for blank in own if blank.metal == metal]
            one = StockSplit(
                metal,
                sum((blank.split.consumed_mm2 for blank in here), Decimal(0)),
                sum((blank.split.consumed_cost for blank in here), Decimal(0)),
                (),
            )
            there = [p for p in placed if p.metal == metal]
            uses += metal_uses(job, there, {metal: one})
        priced = priced_metal(uses, [group], rule)
        (quotes[group],) = priced.projects
        shares[group] = priced.school
        wastes |= pricing.waste_areas(uses, [group])
    return MetalPrices(quotes, shares, wastes, {one.code: one.as_one for one in parted}, blanks)


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
        own[placed.metal][group] = before + to_area(wanted.outline.area)
    rectangles = pricing.rectangle_areas(job, placements)
    metals = []
    for code, split in splits.items():
        # A price at which the consumed area costs exactly its whole cents.
        consumed = max(split.consumed_mm2, sum(own[code].values(), Decimal(0)))
        price = split.consumed_cost / consumed
        metals.append(pricing.MetalUse(code, price, consumed, own[code], rectangles[code]))
    return metals


def _less(split: StockSplit, before: StockSplit | None) -> StockSplit:
    """What is used up beyond what was used before; never less than nothing."""
    if before is None:
        return split
    return StockSplit(
        split.code,
        max(Decimal(0), split.consumed_mm2 - before.consumed_mm2),
        max(Decimal(0), split.consumed_cost - before.consumed_cost),
        split.offcut_costs,
    )


def _written(split: StockSplit) -> dict[str, Any]:
    return {
        "consumed_mm2": str(split.consumed_mm2),
        "consumed_cost": str(split.consumed_cost),
        "offcut_costs": [str(cost) for cost in split.offcut_costs],
    }


def _offcuts_on(offcuts: Sequence[Offcut], piece: StockPiece) -> list[float]:
    return [one.outline.area for one in offcuts if one.metal == piece.code]
