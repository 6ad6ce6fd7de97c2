"""What the tests of the inventory's pages share: signed-in people and pieces of metal."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

from shapely.geometry import Polygon, box

from classroom.models import School
from inventory.buying import receiving
from inventory.buying.sheet_line import SheetLine
from inventory.models import Metal, StockPiece
from inventory.rack import stock
from tests.people import Cast

ELL = Polygon([(0, 0), (118, 0), (118, 42), (51, 42), (51, 96), (0, 96)])


def metal_of(school: School, alloy: str = "C11000", mm: str = "0.812") -> Metal:
    return Metal.objects.get_or_create(
        school=school, alloy_code=alloy, thickness_mm=Decimal(mm), temper="soft"
    )[0]


def sheets_for(cast: Cast, count: int = 1, total: str = "30.00") -> list[StockPiece]:
    line = SheetLine(
        metal_of(cast.school), count, Decimal("152.4"), Decimal("304.8"), Decimal(total)
    )
    purchase = receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 2)
    )
    return list(StockPiece.objects.filter(purchase_line__purchase=purchase).order_by("code"))


def offcut_for(cast: Cast, outline: Polygon | None = None) -> StockPiece:
    return stock.receive_offcut(
        cast.school,
        metal_of(cast.school),
        box(0, 0, 60, 40) if outline is None else outline,
        acting=cast.teacher,
        cost=Decimal("1.50"),
        reason="found",
    )


def tick(page: str, name: str = "sure") -> str:
    """The value with which the page's question is answered: it is right as typed."""
    ticks = re.findall(rf'<input type="checkbox"[^>]*name="{name}"[^>]*>', page)
    (value,) = [re.search(r'value="([0-9a-f]{16})"', one) for one in ticks]
    assert value is not None, ticks
    return value.group(1)
