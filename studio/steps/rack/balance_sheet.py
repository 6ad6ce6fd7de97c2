"""How is the balance of a closed plan written down? `Return.balance`, for pages and reviews.

area_mm2   out, pieces, offcuts, kerf, scrap, unexplained: of all stock pieces together
mass_g     out, pieces, offcuts, kerf, scrap_expected, scrap_weighed, unexplained (= weighed
           less expected)
stock      for each stock piece: code, area_mm2 as above, cost, used_cost, not_kept, and
           offcuts with code, area_mm2, cost, whole (came back uncut under its own code)
money      planned, settled, metal, course_share (of settled, paid by no project), difference
           (settled less planned), as text in whole cents
given_up   primary keys of projects that were not made, and given_up_reason
left_out   those that were left out of the plan at the bench: no metal, no price
added      primary keys of the plans whose pieces were added to this metal and are settled with it
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inventory.models import StockPiece
from studio.core.offcuts.returning import Balance, Leaf, StockOut, total
from studio.models import CutPlan, Project

from .settle import Settled


@dataclass(frozen=True, slots=True)
class OutAtBench:
    """What a plan has out at the bench: stock pieces with what each leaves, and who is not done."""

    outs: tuple[StockOut, ...]
    stock: Mapping[str, StockPiece]
    unmade: Sequence[Project]
    made: Sequence[Project]
    left_out: Sequence[int] = ()

    @property
    def leaves(self) -> tuple[Leaf, ...]:
        return tuple(leaf for out in self.outs for leaf in out.leaves)


def written(
    plan: CutPlan,
    bench: OutAtBench,
    balances: Mapping[str, Balance],
    returned: Sequence[tuple[Leaf, StockPiece]],
    settled: Settled,
    scrap_g: Decimal,
    why_given_up: str,
) -> dict[str, Any]:
    """The balance in the form that is stored."""
    whole = total(list(balances.values()))

    def grams(area_mm2: float) -> float:
        # Of the area as it is written down, so that the review reckons the same weight.
        return round(plan.metal.mass_g(max(round(area_mm2, 2), 0.0)), 3)

    expected = grams(whole.scrap)
    return {
        "version": 1,
        "area_mm2": _areas(whole),
        "mass_g": {
            "out": grams(whole.out),
            "pieces": grams(whole.pieces),
            "offcuts": grams(whole.offcuts),
            "kerf": grams(whole.kerf),
            "scrap_expected": expected,
            "scrap_weighed": float(scrap_g),
            "unexplained": round(float(scrap_g) - expected, 3),
        },
        "stock": [
            {
                "code": out.code,
                "area_mm2": _areas(balances[out.code]),
                "cost": str(bench.stock[out.code].cost),
                "used_cost": str(settled.used_costs[out.code]),
                "offcuts": [
                    {
                        "code": piece.code,
                        "area_mm2": float(piece.area_mm2),
                        "cost": str(piece.cost),
                        "whole": piece.code == out.code,
                    }
                    for leaf, piece in returned
                    if leaf.stock == out.code
                ],
                "not_kept": len(out.leaves) - sum(leaf.stock == out.code for leaf, _ in returned),
            }
            for out in bench.outs
        ],
        "money": {
            "planned": str(settled.planned),
            "settled": str(settled.total),
            "metal": str(settled.metal),
            "course_share": str(settled.course_share),
            "difference": str(settled.difference),
        },
        "given_up": [one.pk for one in bench.unmade],
        "given_up_reason": why_given_up,
        "left_out": list(bench.left_out),
        "added": [pk for pk in settled.differences if pk != plan.pk],
    }


def _areas(one: Balance) -> dict[str, float]:
    return {
        "out": round(one.out, 2),
        "pieces": round(one.pieces, 2),
        "offcuts": round(one.offcuts, 2),
        "kerf": round(one.kerf, 2),
        "scrap": round(one.scrap, 2),
        "unexplained": round(one.unexplained, 2) + 0.0,  # never "-0.0"
    }
