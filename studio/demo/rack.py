"""The demo's metals, prices, purchases, offcuts, supplies and budget.

Every price is invented for the demo; the app itself ships none.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from shapely.geometry import Polygon, box

from inventory.buying import receiving, supplying
from inventory.buying.sheet_line import SheetLine
from inventory.models import Consumable, Metal, MetalPrice
from inventory.rack import stock
from inventory.spending import ledger

from .clock import on_day
from .people import People

SHEET = (Decimal("152.4"), Decimal("304.8"))  # 6 by 12 inches, as sheet is often sold


def fill_rack(people: People) -> dict[str, Metal]:
    """Three metals, two purchases, four old offcuts, supplies and the course's budget."""
    with on_day(80):
        metals = {
            "copper": _metal(people, "C11000", "0.812", "31.40"),
            "brass": _metal(people, "C26000", "0.812", "27.90"),
            "nickel": _metal(people, "C75200", "0.644", "38.20"),
        }
        _supplies(people)
        budget = ledger.open_budget(people.course)
        ledger.allot(
            budget, Decimal("75.00"), acting=people.teacher, reason="Metal money for the term"
        )
    with on_day(76):
        _buy(people, [(metals["copper"], 5, "31.40"), (metals["brass"], 3, "27.90")], "R-1041")
    with on_day(40):
        _buy(people, [(metals["nickel"], 2, "38.20"), (metals["brass"], 2, "28.60")], "R-1107")
        ledger.allot(
            ledger.open_budget(people.course),
            Decimal("15.00"),
            acting=people.teacher,
            reason="Gift of the boat club for the autumn fair",
        )
    with on_day(75, hour=15):
        _old_offcuts(people, metals)
    return metals


def _metal(people: People, alloy: str, thickness: str, price: str) -> Metal:
    metal = Metal.objects.create(
        school=people.school, alloy_code=alloy, thickness_mm=Decimal(thickness)
    )
    MetalPrice.objects.create(
        metal=metal,
        amount=Decimal(price),
        width_mm=SHEET[0],
        height_mm=SHEET[1],
        dated=dt.date.today(),
        recorded_by=people.teacher,
        remark="invented for the demo",
    )
    return metal


def _buy(people: People, lines: list[tuple[Metal, int, str]], reference: str) -> None:
    receiving.receive_purchase(
        people.school,
        [
            SheetLine(metal, count, *SHEET, total=count * Decimal(cost))
            for metal, count, cost in lines
        ],
        acting=people.teacher,
        bought_on=dt.date.today(),
        seller="Quayside Metal Stores",
        reference=reference,
    )


def _old_offcuts(people: People, metals: dict[str, Metal]) -> None:
    """Leftovers of last year: an L, a strip, and one with an earlier cut-out in the middle."""
    ell = Polygon([(0, 0), (118, 0), (118, 42), (51, 42), (51, 96), (0, 96)])
    strip = box(0, 0, 152.4, 61)
    pierced = Polygon(box(0, 0, 96, 88).exterior, [box(30, 28, 66, 58).exterior])
    slope = Polygon([(0, 0), (104, 0), (84, 71), (0, 64)])
    for metal, outline, cost, place in (
        (metals["copper"], ell, "4.90", "rack, top drawer"),
        (metals["copper"], pierced, "4.10", "rack, top drawer"),
        (metals["brass"], strip, "5.60", "rack, second drawer"),
        (metals["nickel"], slope, "4.80", "rack, second drawer"),
    ):
        stock.receive_offcut(
            people.school,
            metal,
            outline,
            acting=people.teacher,
            cost=Decimal(cost),
            reason="Left over from last year, measured and labelled",
            place=place,
        )


def _supplies(people: People) -> None:
    today = dt.date.today()
    rows = (
        ("Saw blades 2/0", "blade", "blade", "0.42", "18", "cm_sawn", "136"),
        ("Abrasive paper, 320 grit", "abrasive", "sheet", "1.10", "300", "cm2", "24"),
        ("White craft glue", "adhesive", "bottle", "4.50", "900", "cm2", "6"),
        ("Drill #60 (1.02 mm)", "drill", "drill", "1.25", "40", "hole", "18"),
    )
    for name, kind, unit, price, uses, per, on_hand in rows:
        supply = Consumable.objects.create(
            school=people.school,
            name=name,
            kind=kind,
            unit=unit,
            price=Decimal(price),
            priced_on=today,
            uses_per_unit=Decimal(uses),
            per=per,
        )
        supplying.count(
            supply, Decimal(on_hand), acting=people.teacher, reason="Counted at the start of term"
        )
