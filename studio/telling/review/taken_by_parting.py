"""How much metal did parting take, and whose is it? Kerf and scrap, by area of the blanks.

From the rows of what came out: a stock piece that was parted, less all its parts. What was spoilt
is a part, too, and nobody's. Areas in mm².
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from decimal import Decimal

from inventory.models import StockMovement
from studio.core.pricing.shares import share_to_the_cent
from studio.models import PlanStock

Kind = StockMovement.Kind


def taken_by_parting(parents: Collection[int]) -> dict[int, Decimal]:
    """By students' own plan (by key), its share of what was taken when the sheets of these shared
    plans were parted. Two queries; none where there is no shared plan."""
    if not parents:
        return {}
    taken: dict[int, Decimal] = defaultdict(Decimal)
    moves = StockMovement.objects.filter(
        cause__in=[f"cutplan:{pk}" for pk in parents], kind__in=[Kind.CUT, Kind.RECEIVE]
    )
    for kind, piece, parent, area in moves.values_list(
        "kind", "stock_piece_id", "stock_piece__parent_id", "area_mm2"
    ):
        if kind == Kind.CUT:
            taken[piece] -= area
        elif parent is not None:
            taken[parent] -= area
    blanks = PlanStock.objects.filter(plan__parent__in=parents, addition=False)
    by_sheet: dict[int, dict[str, Decimal]] = defaultdict(dict)
    for plan, piece, parent, area in blanks.values_list(
        "plan_id", "stock_piece_id", "stock_piece__parent_id", "stock_piece__area_mm2"
    ):
        if parent in taken:
            by_sheet[parent][f"{plan}/{piece}"] = area
    found: dict[int, Decimal] = defaultdict(Decimal)
    for sheet, areas in by_sheet.items():
        # to a hundredth of a mm², so that the shares add up
        for key, share in share_to_the_cent(max(taken[sheet], Decimal(0)), areas).items():
            found[int(key.partition("/")[0])] += share
    return dict(found)
