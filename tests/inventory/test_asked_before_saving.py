"""A figure that is unlikely beside what is known is asked about before anything is saved."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.urls import reverse
from shapely.geometry import box

from classroom.models import Course, History
from inventory.buying.prices import record_price
from inventory.models import BudgetEntry, Consumable, MetalPrice, Purchase, ScrapSale, StockPiece
from inventory.rack import scrap, stock
from inventory.spending import ledger
from tests.people import Cast, signed_in

from .pages import metal_of, sheets_for, tick

DAY = dt.date(2026, 11, 2)
KEPT = "kept-as-typed"


def with_price(cast: Cast, amount: str = "10.00") -> None:
    """Copper has a price: of 152.4 × 304.8 mm, which weigh some 337 g."""
    record_price(
        metal_of(cast.school), Decimal(amount),
        width_mm=Decimal("152.4"), height_mm=Decimal("304.8"), dated=DAY, acting=cast.teacher,
    )  # fmt: skip


def cut_in_two(cast: Cast) -> list[StockPiece]:
    """A sheet of 152.4 × 304.8 mm, cut up into two offcuts."""
    (sheet,) = sheets_for(cast)
    stock.reserve([sheet], acting=cast.teacher, reason="kept", cause="cutplan:1")
    stock.issue([sheet], acting=cast.teacher, reason="out", cause="cutplan:1")
    outlines = [(box(0, 0, 100, 100), Decimal(5)), (box(0, 0, 150, 200), Decimal(9))]
    return stock.cut_up(
        sheet, outlines, acting=cast.teacher, reason="back", cause="cutplan:1", place=""
    )


def correction(piece: StockPiece, **changes: str) -> dict[str, str]:
    return {"cost": str(piece.cost), "reason": "measured again"} | changes


def test_an_offcut_cannot_be_larger_than_what_its_sheet_had_left(cast: Cast) -> None:
    small, _ = cut_in_two(cast)
    client, url = signed_in(cast.teacher), reverse("stock_correct", args=[small.pk])
    # 464.52 cm² of sheet, of which the other offcut has 300.
    sent = correction(small, width="130", height="130", clean_edges="on")
    said = client.post(url, sent).content.decode()
    assert "169.00 cm² cannot be" in said
    assert "164.52 cm² besides" in said
    answer = {"sure": tick(said), "sure_why": "a strip came back later"}
    assert client.post(url, sent | answer).status_code == 302
    assert "a strip came back later" in small.movements.latest("pk").reason
    assert History.objects.about(small).filter(verb=KEPT).exists()
    fits = correction(small, width="110", height="110", clean_edges="on")
    assert client.post(url, fits).status_code == 302


def test_a_sheet_cannot_be_larger_than_it_was_bought(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    url = reverse("stock_correct", args=[sheet.pk])
    sent = correction(sheet, points="0,0\n200,0\n200,304.8\n0,304.8")
    said = signed_in(cast.teacher).post(url, sent).content.decode()
    assert "609.60 cm² cannot be: the sheet was bought with 464.52 cm²" in said


def test_a_tenth_of_the_size_and_a_cost_beyond_the_price_are_asked_about(cast: Cast) -> None:
    with_price(cast, "30.00")
    (sheet,) = sheets_for(cast)
    client, url = signed_in(cast.teacher), reverse("stock_correct", args=[sheet.pk])
    said = client.post(url, correction(sheet, width="15.24", height="304.8")).content.decode()
    assert "46.45 cm²; so far it was 464.52 cm²" in said
    said = client.post(url, correction(sheet, cost="300.00")).content.decode()
    assert "more than double the metal&#x27;s last price" in said
    sheet.refresh_from_db()
    assert (sheet.width_mm, sheet.cost) == (Decimal("152.40"), Decimal("30.00"))


def bought(**head: str) -> dict[str, str]:
    return {"bought_on": "2026-11-02", "seller": "", "reference": "", "freight": "0", "tax": "0",
            "line-TOTAL_FORMS": "1", "line-INITIAL_FORMS": "0", "line-0-count": "1",
            "line-0-width": "152.4", "line-0-height": "304.8", "line-0-price": "10.00",
            "line-0-price_of": "each", "line-0-weight": "", "line-0-measured": "",
            "line-0-place": "", "once": "8d8ac610-566d-4ef0-9c22-186b2a5ed793"} | head  # fmt: skip


def test_freight_and_tax_above_the_price_of_the_metal_are_asked_about(cast: Cast) -> None:
    client, sent = signed_in(cast.teacher), bought(freight="95.00", tax="5.00")
    sent["line-0-metal"] = str(metal_of(cast.school).pk)
    url = reverse("receive")
    said = client.post(url, sent).content.decode()
    assert "Freight and tax are 100.00 USD together" in said
    assert not Purchase.objects.exists()
    assert client.post(url, sent | {"sure": tick(said)}).status_code == 302
    purchase = Purchase.objects.get()
    assert History.objects.about(purchase).filter(verb=KEPT).exists()

    line = purchase.lines.get()
    url = reverse("purchase_correct", args=[purchase.pk])
    page = client.get(url).content.decode()
    seen = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', page))
    right = sent | seen | {"reason": "misread", "freight": "9.50", "tax": "0"} | {
        f"line-{line.pk}-{name}": value
        for name, value in {"count": "1", "width": "152.4 mm", "height": "304.8 mm",
                            "price": "9.00", "weight": ""}.items()
    }  # fmt: skip
    said = client.post(url, right).content.decode()
    assert "Freight and tax are 9.50 USD together, more than the metal itself: 9.00 USD" in said
    assert client.post(url, right | {"freight": "8.00"}).status_code == 302
    purchase.refresh_from_db()
    assert purchase.freight == Decimal("8.00")


def sale(**changes: str) -> dict[str, str]:
    return {"alloy_code": "C11000", "weight": "300 g", "amount": "2.40", "budget": "",
            "buyer": "", "sold_on": "2026-11-02",
            "once": "8d8ac610-566d-4ef0-9c22-186b2a5ed794"} | changes  # fmt: skip


@pytest.fixture
def box_of_copper(cast: Cast) -> Cast:
    scrap.weigh_scrap(
        cast.school, "C11000", Decimal(2000), acting=cast.teacher, reason="bench trays emptied"
    )
    return cast


def test_a_sale_is_asked_about_beside_new_metal_and_the_last_sale(box_of_copper: Cast) -> None:
    cast = box_of_copper
    with_price(cast)
    client, url, budget = signed_in(cast.teacher), reverse("scrap_sell"), str(cast.course.pk)
    said = client.post(url, sale(amount="240", budget=budget)).content.decode()
    assert "240.00 USD is more than new metal of that weight costs" in said
    assert not ScrapSale.objects.exists()
    assert client.post(url, sale(budget=budget)).status_code == 302
    again = sale(budget=budget, amount="0.24", once="8d8ac610-566d-4ef0-9c22-186b2a5ed795")
    said = client.post(url, again).content.decode()
    assert "by the last sale about 2.40 USD is expected" in said
    assert client.post(url, again | {"sure": tick(said)}).status_code == 302
    low = ScrapSale.objects.get(amount=Decimal("0.24"))
    assert History.objects.about(low).filter(verb=KEPT).exists()
    right = sale(amount="24.00", budget=budget, reason="misread")
    said = client.post(reverse("scrap_sale_correct", args=[low.pk]), right).content.decode()
    assert "more than new metal" in said


def test_a_sale_of_an_alloy_of_which_nothing_is_known_is_not_asked_about(
    box_of_copper: Cast,
) -> None:
    sent = sale(amount="240", budget=str(box_of_copper.course.pk))
    client = signed_in(box_of_copper.teacher)
    assert client.post(reverse("scrap_sell"), sent).status_code == 302
    assert not MetalPrice.objects.exists()


def test_ten_times_what_was_ever_allotted_or_moved_is_asked_about(cast: Cast) -> None:
    budget = ledger.open_budget(cast.course)
    ledger.allot(budget, Decimal(200), acting=cast.teacher, reason="term")
    client, url = signed_in(cast.teacher), reverse("budget_allot", args=[cast.course.pk])
    sent = {"direction": "in", "amount": "2000", "reason": "term",
            "once": "8d8ac610-566d-4ef0-9c22-186b2a5ed796"}  # fmt: skip
    said = client.post(url, sent).content.decode()
    assert "at least 10 times the largest amount that was ever put in: 200.00 USD" in said
    assert BudgetEntry.objects.count() == 1
    assert client.post(url, sent | {"sure": tick(said)}).status_code == 302
    other = Course.objects.create(
        school=cast.school, title="Metals 2", section="C", term="Autumn 2026",
        starts_on=cast.course.starts_on, ends_on=cast.course.ends_on,
    )  # fmt: skip
    other.teachers.add(cast.teacher)
    ledger.transfer(
        budget, ledger.open_budget(other), Decimal(10), acting=cast.teacher, reason="more"
    )
    url = reverse("budget_transfer", args=[cast.course.pk])
    sent = {"target": str(other.pk), "transfer_amount": "100", "transfer_reason": "more",
            "once": "8d8ac610-566d-4ef0-9c22-186b2a5ed797"}  # fmt: skip
    said = client.post(url, sent).content.decode()
    assert "at least 10 times the largest amount ever moved: 10.00 USD" in said
    assert client.post(url, sent | {"transfer_amount": "90"}).status_code == 302


def test_a_supply_that_lasts_ten_times_as_long_is_asked_about(cast: Cast) -> None:
    blades = Consumable.objects.create(
        school=cast.school, name="Saw blades 2/0", kind="blade", unit="blade",
        price=Decimal("0.20"), priced_on=DAY, uses_per_unit=Decimal(15), per="cm_sawn",
    )  # fmt: skip
    url = reverse("supply_edit", args=[blades.pk])
    sent = {"name": blades.name, "kind": "blade", "unit": "blade", "price": "0.20",
            "priced_on": "2026-11-02", "per": "cm_sawn", "why": "learned"}  # fmt: skip
    client = signed_in(cast.teacher)
    said = client.post(url, sent | {"uses_per_unit": "150"}).content.decode()
    assert "One lasts for 150; so far it was 15." in said
    assert client.post(url, sent | {"uses_per_unit": "18"}).status_code == 302
