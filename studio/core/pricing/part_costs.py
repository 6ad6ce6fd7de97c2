"""What do the parts of a parted stock piece cost? Whole cents that add up to what it cost.

Leftovers take their share of the cost by area, as offcuts do; all the rest of the metal (blanks,
kerf and scrap of parting) is the blanks', shared by their area. Areas in mm².
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from .shares import share_to_the_cent


def part_costs(
    cost: Decimal,
    area_mm2: Decimal,
    leftovers_mm2: Sequence[Decimal],
    blanks_mm2: Sequence[Decimal],
) -> tuple[list[Decimal], list[Decimal]]:
    """The cost of each leftover and of each blank, in the order given.

    Raises ValueError where there is no blank, so that nobody would bear what parting takes.
    """
    if not blanks_mm2:
        raise ValueError("a stock piece is parted for somebody's blank")
    rest = max(Decimal(0), area_mm2 - sum(leftovers_mm2, Decimal(0)))
    weights = {"rest": rest} | {f"left-{n:04d}": one for n, one in enumerate(leftovers_mm2)}
    shares = share_to_the_cent(cost, weights)
    own = share_to_the_cent(
        shares["rest"], {f"blank-{n:04d}": one for n, one in enumerate(blanks_mm2)}
    )
    return (
        [shares[f"left-{n:04d}"] for n in range(len(leftovers_mm2))],
        [own[f"blank-{n:04d}"] for n in range(len(blanks_mm2))],
    )
