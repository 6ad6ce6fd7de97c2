"""One line of a purchase, as somebody reads it off the bill."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from inventory.models import Metal, MetalOrderLine
from inventory.spending.money import even_shares, whole_cents

MOST_LINES: Final = 20
"""On one order, and on one bill."""
MOST_SHEETS: Final = 200
"""On one line of either."""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of a purchase: `count` full sheets alike, for `total` together (before freight
    and tax). `rough_sides` names those of each sheet that were cut by hand, such as "top edge".
    `weight_g` is what all of them weigh; `order_line` what they were ordered with."""

    metal: Metal
    count: int
    width_mm: Decimal
    height_mm: Decimal
    total: Decimal
    measured_mm: Decimal | None = None
    place: str = ""
    rough_sides: frozenset[str] = frozenset()
    weight_g: Decimal | None = None
    order_line: MetalOrderLine | None = None


def price_of_one(line: SheetLine) -> Decimal:
    """What one sheet of the line cost; where it does not divide, the dearer cent."""
    return even_shares(whole_cents(line.total), line.count)[0]
