"""Prices, sales of scrap, weighings and entries of supplies, corrected by entries of their own."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import Course
from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.buying import supplying
from inventory.buying.prices import correct_price, last_per_mm2, record_price
from inventory.models import (
    Budget,
    Consumable,
    MetalPrice,
    ScrapEntry,
    ScrapSale,
    StockPiece,
    SupplyMovement,
)
from inventory.rack import scrap
from inventory.spending import ledger
from tests.people import Cast, signed_in

from .pages import metal_of, sheets_for, tick

DAY = dt.date(2026, 11, 20)


@pytest.fixture
def price(cast: Cast) -> MetalPrice:
    return record_price(
        metal_of(cast.school),
        Decimal("31.40"),
        width_mm=Decimal(150),
        height_mm=Decimal(300),
        dated=DAY,
        acting=cast.teacher,
    )


def test_a_price_is_corrected_by_a_row_that_names_it(
    cast: Cast, client: Client, price: MetalPrice
) -> None:
    address = reverse("metal_price_correct", args=[price.pk])
    assert 'value="31.40"' in client.get(address).content.decode()
    data = {
        "amount": "34.10",
        "width": "150",
        "height": "300",
        "dated": "2026-11-20",
        "reason": "two figures in the wrong order",
    }
    assert client.post(address, data).status_code == 302
    made = MetalPrice.objects.in_force().get()
    assert (made.corrects, made.amount) == (price, Decimal("34.10"))
    page = client.get(reverse("metal", args=[price.metal_id])).content.decode()
    assert "two figures in the wrong order" in page
    assert "Does not count" in page
    listed = client.get(reverse("metals")).content.decode()
    assert "34.10 USD" in listed
    assert "31.40 USD" not in listed
    assert client.post(address, data).status_code == 409
    with pytest.raises(Refused, match="corrected already"):
        correct_price(price, acting=cast.teacher, reason="again", amount=Decimal(1))


def test_a_price_that_never_was_is_taken_off(cast: Cast, price: MetalPrice) -> None:
    correct_price(price, acting=cast.teacher, reason="another metal", withdrawn=True)
    assert last_per_mm2(price.metal) is None
    assert MetalPrice.objects.count() == 2


def test_a_price_far_from_the_last_is_asked_about_with_the_last_beside_it(
    cast: Cast, client: Client, price: MetalPrice
) -> None:
    address = reverse("metal_price_new", args=[price.metal_id])
    assert "The last one: 31.40 USD for 150.0 mm × 300.0 mm" in client.get(address).content.decode()
    data = {"amount": "314", "width": "150", "height": "300", "dated": "2026-11-20"}
    text = client.post(address, data).content.decode()
    assert "about 31.40 USD is expected" in text
    assert client.post(address, data | {"sure": tick(text)}).status_code == 302
    assert MetalPrice.objects.count() == 2


@pytest.fixture
def sale(cast: Cast) -> ScrapSale:
    scrap.weigh_scrap(
        cast.school, "C11000", Decimal(340), acting=cast.teacher, reason="trays emptied"
    )
    return scrap.sell_scrap(
        cast.school,
        "C11000",
        Decimal(300),
        Decimal("2.10"),
        acting=cast.teacher,
        budget=ledger.open_budget(cast.course),
        sold_on=DAY,
        buyer="the harbour yard",
    )


def test_a_sale_is_corrected_by_a_sale_that_takes_its_place(
    cast: Cast, client: Client, sale: ScrapSale
) -> None:
    address = reverse("scrap_sale_correct", args=[sale.pk])
    assert 'value="300 g"' in client.get(address).content.decode()
    data = {
        "weight": "320 g",
        "amount": "2.40",
        "budget": cast.course.pk,
        "buyer": "the harbour yard",
        "sold_on": "2026-11-19",
        "reason": "read the buyer's slip again",
    }
    answer = client.post(address, data)
    made = ScrapSale.objects.in_force().get()
    assert answer.url == reverse("scrap_sale", args=[made.pk])
    assert (made.corrects, made.sold_on) == (sale, dt.date(2026, 11, 19))
    assert scrap.box_mass(cast.school, "C11000") == Decimal("20.00")
    assert Budget.objects.get().allotted == Decimal("2.40")
    assert list(audit(cast.school)) == []
    old = client.get(reverse("scrap_sale", args=[sale.pk])).content.decode()
    assert "It does not count any more" in old
    assert "read the buyer&#x27;s slip again" in old
    assert "corrected, does not count" in client.get(reverse("scrap_sales")).content.decode()
    assert client.get(address).url == reverse("scrap_sale", args=[made.pk])
    # The weighings of a sale are corrected with the sale.
    row = ScrapEntry.objects.filter(cause=f"scrapsale:{made.pk}").get()
    asked = client.get(reverse("scrap_correct", args=[row.pk]))
    assert asked.url == reverse("scrap_sale_correct", args=[made.pk])


def test_a_sale_that_never_was_gives_box_and_budget_back(cast: Cast, sale: ScrapSale) -> None:
    (entry,) = ScrapEntry.objects.filter(cause=f"scrapsale:{sale.pk}")
    scrap.correct_weighing(entry, Decimal(290), acting=cast.teacher, reason="as it was done before")
    scrap.correct_sale(
        sale, Decimal(0), Decimal(0), acting=cast.teacher, reason="not sold", budget=None,
        sold_on=DAY,
    )  # fmt: skip
    assert scrap.box_mass(cast.school, "C11000") == Decimal("340.00")
    assert Budget.objects.get().allotted == 0
    assert list(audit(cast.school)) == []


def test_money_that_is_spent_cannot_be_taken_out_again(cast: Cast, sale: ScrapSale) -> None:
    budget = Budget.objects.get()
    ledger.commit(budget, Decimal("2.00"), acting=cast.teacher, reason="plan", cause="cutplan:1")
    with pytest.raises(Refused, match=r"Only 0\.10 USD is left"):
        scrap.correct_sale(
            sale, Decimal(300), Decimal("0"), acting=cast.teacher, reason="a gift", budget=None,
            sold_on=DAY,
        )  # fmt: skip
    assert ScrapSale.objects.count() == 1


def test_only_a_teacher_of_the_budgets_course_corrects_its_sale(
    cast: Cast, client: Client, sale: ScrapSale
) -> None:
    address = reverse("scrap_sale_correct", args=[sale.pk])
    assert Course.objects.get(pk=cast.course.pk)
    people = (cast.teacher, cast.owner, cast.classmate, cast.other_teacher, cast.outsider)
    for method in ("get", "post"):
        answers = [getattr(signed_in(one), method)(address).status_code for one in people]
        assert answers == [200, 403, 403, 409, 404]


@pytest.fixture
def blades(cast: Cast) -> Consumable:
    return Consumable.objects.create(
        school=cast.school,
        name="Saw blades 2/0",
        kind="blade",
        unit="blade",
        price="0.42",
        priced_on=DAY,
        uses_per_unit=18,
        per="cm_sawn",
    )


def on_hand(supply: Consumable) -> Decimal:
    supply.refresh_from_db()
    return supply.on_hand or Decimal(0)


def test_what_came_is_corrected_and_a_later_count_stands(cast: Cast, blades: Consumable) -> None:
    came = supplying.receive(blades, Decimal(1440), acting=cast.teacher, reason="ten gross")
    supplying.correct_entry(came, Decimal(144), acting=cast.teacher, reason="one gross")
    assert on_hand(blades) == 144
    counted = supplying.count(blades, Decimal(140), acting=cast.teacher, reason="counted")
    supplying.use_up(blades, Decimal(360), acting=cast.teacher, reason="sawn", cause="cutplan:1")
    last = supplying.count(blades, Decimal(120), acting=cast.teacher, reason="counted")
    supplying.correct_entry(counted, Decimal(144), acting=cast.teacher, reason="a packet behind")
    assert on_hand(blades) == 120
    found = supplying.learned(blades)
    assert found is not None
    assert (found.units, found.lasts) == (Decimal(24), Decimal("15.00"))
    supplying.correct_entry(last, Decimal(126), acting=cast.teacher, reason="six in a drawer")
    assert on_hand(blades) == 126
    assert supplying.learned(blades).lasts == Decimal("20.00")  # type: ignore[union-attr]
    assert list(audit(cast.school)) == []


def test_what_work_used_up_is_nobodys_to_correct(cast: Cast, blades: Consumable) -> None:
    supplying.count(blades, Decimal(20), acting=cast.teacher, reason="counted")
    used = supplying.use_up(blades, Decimal(36), acting=cast.teacher, reason="x", cause="cutplan:1")
    assert used is not None
    with pytest.raises(Refused, match="what came and what was counted"):
        supplying.correct_entry(used, Decimal(1), acting=cast.teacher, reason="why not")


def test_an_entry_of_supplies_is_corrected_on_its_page(
    cast: Cast, client: Client, blades: Consumable
) -> None:
    stock = reverse("supply_stock", args=[blades.pk])
    client.post(stock, {"what": "receive", "number": "144", "reason": "one gross"})
    came = SupplyMovement.objects.get()
    address = reverse("supply_entry_correct", args=[came.pk])
    assert address in client.get(reverse("supply_edit", args=[blades.pk])).content.decode()
    assert client.post(address, {"number": "72", "reason": "half a gross"}).status_code == 302
    assert on_hand(blades) == 72
    page = client.get(reverse("supply_edit", args=[blades.pk])).content.decode()
    assert "half a gross" in page
    assert "By the records 72 are there." in page
    answers = [
        signed_in(one).get(address).status_code
        for one in (cast.other_teacher, cast.owner, cast.classmate, cast.outsider)
    ]
    assert answers == [200, 403, 403, 404]


def test_an_unlikely_number_of_supplies_is_asked_about(
    cast: Cast, client: Client, blades: Consumable
) -> None:
    stock = reverse("supply_stock", args=[blades.pk])
    client.post(stock, {"what": "receive", "number": "144", "reason": "one gross"})
    for what, says in (("receive", "ever came: 144"), ("count", "by the records: 144")):
        data = {"what": what, "number": "14400", "reason": "typed"}
        text = client.post(stock, data).content.decode()
        assert says in text
        assert on_hand(blades) == 144
    client.post(stock, data | {"sure": tick(text)})
    assert on_hand(blades) == 14400


def test_a_price_of_a_supply_ten_times_the_last_is_asked_about(
    client: Client, blades: Consumable
) -> None:
    address = reverse("supply_edit", args=[blades.pk])
    data = {
        "name": "Saw blades 2/0", "kind": "blade", "unit": "blade", "price": "42",
        "priced_on": "2026-11-20", "uses_per_unit": "18", "per": "cm_sawn",
        "why": "the receipt",
    }  # fmt: skip
    text = client.post(address, data).content.decode()
    assert "so far it was 0.42 USD" in text
    blades.refresh_from_db()
    assert blades.price == Decimal("0.4200")
    assert client.post(address, data | {"sure": tick(text)}).status_code == 302


def test_more_scrap_than_metal_ever_came_is_asked_about(cast: Cast, client: Client) -> None:
    sheets_for(cast)  # one sheet of 335 g
    data = {"direction": "in", "alloy_code": "C11000", "weight": "750 g", "reason": "trays"}
    text = client.post(reverse("scrap_boxes"), data).content.decode()
    assert "by the records 335.3 g of this alloy ever came" in text
    assert not ScrapEntry.objects.exists()
    client.post(reverse("scrap_boxes"), data | {"sure": tick(text)})
    assert ScrapEntry.objects.get().mass_g == 750
    assert StockPiece.objects.count() == 1
