"""What does a plan do to the cost of each stock piece? Split to the cent, by area.

An undivided stock piece is split between what is used up and its offcuts. A parted one first goes
to its leftovers and blanks (`part_costs`), then each blank's cost to its own offcuts and the rest,
just as the blank's own record will say once it is parted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import StockPiece
from inventory.rack.outlines import area_of
from studio.core.cutting import Blank, Cut, Job
from studio.core.cutting.job import Offcut
from studio.core.offcuts.leftovers import leftovers_on
from studio.core.pricing import shares as pricing
from studio.core.pricing.part_costs import part_costs

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class StockSplit:
    """What a plan does to one stock piece or blank: areas in mm², money in whole cents."""

    code: str
    consumed_mm2: Decimal
    consumed_cost: Decimal
    offcut_costs: tuple[Decimal, ...]  # in the order of the offcuts given


@dataclass(frozen=True, slots=True)
class BlankSplit:
    """One group's blank: what it will cost, and how that is split."""

    metal: str
    part: int
    group: str
    area_mm2: Decimal
    cost: Decimal
    split: StockSplit


@dataclass(frozen=True, slots=True)
class PartedSplit:
    """One stock piece that is parted: the costs of its leftovers and of its blanks."""

    code: str
    leftover_costs: tuple[Decimal, ...]
    blanks: tuple[BlankSplit, ...]

    @property
    def as_one(self) -> StockSplit:
        """The whole stock piece in one split: what is used up, and all that comes back."""
        back = [cost for one in self.blanks for cost in one.split.offcut_costs]
        return StockSplit(
            self.code,
            sum((one.split.consumed_mm2 for one in self.blanks), Decimal(0)),
            sum((one.split.consumed_cost for one in self.blanks), Decimal(0)),
            (*self.leftover_costs, *back),
        )


def split_cost(stock_piece: StockPiece, offcuts_mm2: Sequence[float]) -> StockSplit:
    """Divide the stock piece's cost between its offcuts and the rest, to the cent, by area.

    The shares add up to the cost; `give_back` prices the true offcuts with it when it closes
    the plan.
    """
    return split_of(stock_piece.code, stock_piece.area_mm2, stock_piece.cost, offcuts_mm2)


def split_of(
    code: str, area_mm2: Decimal, cost: Decimal, offcuts_mm2: Sequence[float]
) -> StockSplit:
    """The same for metal that has no record yet."""
    areas = [to_area(area) for area in offcuts_mm2]
    consumed = max(Decimal(0), area_mm2 - sum(areas, Decimal(0)))
    weights = {"consumed": consumed}
    weights |= {f"offcut-{n:04d}": area for n, area in enumerate(areas)}
    shares = pricing.share_to_the_cent(cost, weights)
    return StockSplit(
        code,
        consumed,
        shares["consumed"],
        tuple(shares[f"offcut-{n:04d}"] for n in range(len(areas))),
    )


def split_parted(
    job: Job,
    piece: StockPiece,
    cuts: Sequence[Cut],
    blanks: Sequence[Blank],
    offcuts: Sequence[Offcut],
) -> PartedSplit:
    """What parting does to the cost of one stock piece that the plan touches.

    `offcuts` are the plan's: those that lie in a blank come back of it, what lies in none is in
    the leftovers. A stock piece without a cut is one blank.
    """
    own = [one for one in blanks if one.metal == piece.code]
    whole = not any(cut.metal == piece.code for cut in cuts)
    areas = [piece.area_mm2] if whole else [area_of(one.outline) for one in own]
    left = [area_of(one) for one in leftovers_on(job, piece.code, cuts, blanks)]
    left_costs, costs = part_costs(piece.cost, piece.area_mm2, left, areas)
    found = []
    for blank, area, cost in zip(own, areas, costs, strict=True):
        back = [
            one.outline.area
            for one in offcuts
            if one.metal == piece.code
            and blank.outline.intersects(one.outline.representative_point())
        ]
        split = split_of(f"{piece.code}/{blank.part}", area, cost, back)
        found.append(BlankSplit(piece.code, blank.part, blank.group or "", area, cost, split))
    return PartedSplit(piece.code, tuple(left_costs), tuple(found))


def to_area(value: float) -> Decimal:
    """An area in mm² to the ten-thousandth: finer than any saw."""
    return Decimal(f"{value:.4f}")
