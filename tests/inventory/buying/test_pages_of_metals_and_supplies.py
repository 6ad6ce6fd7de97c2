"""Metals with dated prices, supplies with rates, and the scrap boxes, in the browser."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.models import History, HistoryIsKept
from inventory.buying import receiving
from inventory.buying.prices import record_price
from inventory.buying.sheet_line import SheetLine
from inventory.metals.thicknesses import ThicknessUnreadable, read_thickness
from inventory.models import Consumable, Metal, MetalPrice, ScrapEntry
from inventory.rack import scrap
from tests.inventory.pages import metal_of
from tests.people import Cast, signed_in


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("20 ga", "0.812"),  # B&S: 0.0320 in (table in ASTM B258, from memory)
        ("20ga", "0.812"),
        ("24 gauge", "0.511"),
        ("18 B&S", "1.024"),
        ("0.8", "0.800"),
        ("0.8 mm", "0.800"),
        ("0.032 in", "0.813"),
        ("1/32 in", "0.794"),
        ("24 oz", "0.822"),  # ounce copper, nominal 0.0323 in
        ("16 oz/sq ft", "0.548"),
    ],
)
def test_a_thickness_is_read_as_people_write_it(typed: str, mm: str) -> None:
    assert read_thickness(typed, "C11000").mm == Decimal(mm)


def test_a_gauge_and_an_ounce_come_with_a_caution_and_millimetres_do_not() -> None:
    assert "Gauge systems disagree" in read_thickness("20 ga", "C11000").caution
    assert "thinner" in read_thickness("24 oz", "C11000").caution
    assert read_thickness("0.8 mm", "C11000").caution == ""


@pytest.mark.parametrize(
    "typed", ["", "20", "99 ga", "17 oz", "NaN", "1e400", "-1 mm", "0", "12 mm", "x" * 500]
)
def test_what_is_no_thickness_is_refused_with_an_example(typed: str) -> None:
    with pytest.raises(ThicknessUnreadable):
        read_thickness(typed, "C11000")


def test_only_copper_is_sold_by_the_ounce() -> None:
    with pytest.raises(ThicknessUnreadable, match="Only copper"):
        read_thickness("24 oz", "C26000")


def test_a_metal_is_made_by_gauge_and_the_caution_is_shown(cast: Cast, client: Client) -> None:
    data = {"alloy_code": "C26000", "thickness": "20 ga", "temper": "half"}
    page = client.post(reverse("metal_new"), data, follow=True)
    metal = Metal.objects.get()
    assert metal.thickness_mm == Decimal("0.812")
    text = page.content.decode()
    assert "Gauge systems disagree" in text
    assert "zinc" in text.lower()  # the alloy's own cautions
    assert "8.53 g/cm³" in text
    assert "none are shipped" in text


def test_the_same_metal_is_not_listed_twice(cast: Cast, client: Client) -> None:
    data = {"alloy_code": "C26000", "thickness": "20 ga", "temper": "half"}
    client.post(reverse("metal_new"), data)
    page = client.post(reverse("metal_new"), data)
    assert "on the list already" in page.content.decode()
    assert Metal.objects.count() == 1


@pytest.mark.parametrize(
    "change", [{"alloy_code": "XX"}, {"thickness": "20"}, {"temper": "x"}, {"thickness": "1e400"}]
)
def test_a_metal_that_is_none_is_refused(client: Client, change: dict[str, str]) -> None:
    data = {"alloy_code": "C26000", "thickness": "20 ga", "temper": "half"} | change
    page = client.post(reverse("metal_new"), data)
    assert page.status_code == 200
    assert "is-invalid" in page.content.decode()
    assert Metal.objects.count() == 0


def test_a_metal_not_for_wearing_says_so(cast: Cast, client: Client) -> None:
    leaded = metal_of(cast.school, "C36000", "1.000")
    page = client.get(reverse("metal", args=[leaded.pk])).content.decode()
    assert "Not for anything that is worn" in page


def test_a_metal_is_taken_off_the_list_and_put_back(cast: Cast, client: Client) -> None:
    metal = metal_of(cast.school)
    for off, choices in (("1", 0), ("1", 0), ("0", 1)):
        client.post(reverse("metal_retire", args=[metal.pk]), {"off": off})
        form = client.get(reverse("offcut_new")).context["form"]
        assert form.fields["metal"].queryset.count() == choices


def test_prices_are_dated_and_never_changed(cast: Cast, client: Client) -> None:
    metal = metal_of(cast.school)
    address = reverse("metal_price_new", args=[metal.pk])
    for amount, day in (("31.40", "2026-09-03"), ("33.10", "2026-11-02")):
        data = {"amount": amount, "width": "6 in", "height": "12 in", "dated": day}
        assert client.post(address, data).status_code == 302
    page = client.get(reverse("metal", args=[metal.pk])).content.decode()
    assert page.index("33.10 USD") < page.index("31.40 USD")
    price = MetalPrice.objects.first()
    assert price is not None
    # 33.10 for 6 x 12 in = 46451.52 mm2
    assert price.per_mm2 == Decimal("33.10") / Decimal("46451.52")
    price.amount = Decimal(1)
    with pytest.raises(HistoryIsKept):
        price.save()


@pytest.mark.parametrize(
    "change", [{"amount": "NaN"}, {"amount": "-1"}, {"width": "0"}, {"dated": "2999-01-01"}]
)
def test_a_price_that_makes_no_sense_is_refused(
    cast: Cast, client: Client, change: dict[str, str]
) -> None:
    data = {"amount": "31.40", "width": "6 in", "height": "12 in", "dated": "2026-11-02"}
    address = reverse("metal_price_new", args=[metal_of(cast.school).pk])
    assert client.post(address, data | change).status_code == 200
    assert MetalPrice.objects.count() == 0


def supply(**changes: Any) -> dict[str, Any]:
    return {
        "name": "Saw blades 2/0",
        "kind": "blade",
        "unit": "blade",
        "price": "0.42",
        "priced_on": "2026-11-02",
        "uses_per_unit": "18",
        "per": "cm_sawn",
        "reorder_at": "",
    } | changes


def test_a_supply_has_a_rate_from_price_and_life(client: Client) -> None:
    assert client.post(reverse("supply_new"), supply()).status_code == 302
    assert "0.0233 USD" in client.get(reverse("supplies")).content.decode()  # 0.42 / 18


def test_a_changed_price_of_a_supply_stays_in_its_history(client: Client) -> None:
    client.post(reverse("supply_new"), supply())
    one = Consumable.objects.get()
    address = reverse("supply_edit", args=[one.pk])
    text = client.post(address, supply(price="0.50")).content.decode()
    assert "Say why: a changed figure has a reason." in text
    assert History.objects.about(one).count() == 1
    assert client.post(address, supply(name="Blades 2/0")).status_code == 302  # a name is no figure
    client.post(address, supply(price="0.50", why="the new receipt"))
    text = client.get(reverse("supply_edit", args=[one.pk])).content.decode()
    assert "0.50 a blade, lasting 18, before 0.42 a blade" in text
    assert "the new receipt" in text
    assert History.objects.about(one).count() == 3


@pytest.mark.parametrize(
    "change",
    [
        {"price": "-1"},
        {"price": "NaN"},
        {"price": "1e400"},
        {"uses_per_unit": "0"},
        {"uses_per_unit": "-1"},
        {"reorder_at": "-1"},
        {"kind": "x"},
        {"name": "\u200b"},
    ],
)
def test_a_supply_that_makes_no_sense_is_refused(client: Client, change: dict[str, str]) -> None:
    page = client.post(reverse("supply_new"), supply(**change))
    assert page.status_code == 200
    assert Consumable.objects.count() == 0


def weigh(client: Client, **changes: str) -> Any:
    data = {"direction": "in", "alloy_code": "C11000", "weight": "12.5", "reason": "bench trays"}
    return client.post(reverse("scrap_boxes"), data | changes)


def test_scrap_is_weighed_in_and_out_of_its_alloys_box(cast: Cast, client: Client) -> None:
    weigh(client)
    weigh(client, weight="1 oz")
    weigh(client, alloy_code="C26000", weight="3 g")
    weigh(client, direction="out", weight="2.5", reason="weighed too high")
    # 12.5 + 28.35 - 2.5
    assert scrap.box_mass(cast.school, "C11000") == Decimal("38.35")
    boxes = {box.alloy.code: box.mass_g for box in scrap.scrap_boxes(cast.school)}
    assert boxes == {"C11000": Decimal("38.35"), "C26000": Decimal("3.00")}
    assert "weighed too high" in client.get(reverse("scrap_boxes")).content.decode()
    assert ScrapEntry.objects.count() == 4


def test_no_more_leaves_a_box_than_is_in_it(client: Client) -> None:
    weigh(client)
    page = weigh(client, direction="out", weight="12.51", reason="sold")
    assert "The box holds 12.50 g" in page.content.decode()
    assert ScrapEntry.objects.count() == 1


@pytest.mark.parametrize(
    "change", [{"weight": "NaN"}, {"weight": "-1"}, {"alloy_code": "x"}, {"reason": ""}]
)
def test_a_weighing_that_makes_no_sense_is_refused(client: Client, change: dict[str, str]) -> None:
    assert weigh(client, **change).status_code == 200
    assert ScrapEntry.objects.count() == 0


@pytest.mark.parametrize("name", ["metals", "purchases", "supplies", "scrap_boxes"])
def test_a_list_asks_as_often_for_many_rows_as_for_few(
    cast: Cast, client: Client, name: str, django_assert_num_queries: Any
) -> None:
    def add(thicknesses: list[str]) -> None:
        for mm in thicknesses:
            metal = metal_of(cast.school, "C11000", mm)
            line = SheetLine(metal, 2, Decimal(100), Decimal(100), Decimal(5))
            receiving.receive_purchase(
                cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 2)
            )
            for day in (1, 2):
                record_price(
                    metal,
                    Decimal(5),
                    width_mm=Decimal(100),
                    height_mm=Decimal(100),
                    dated=dt.date(2026, 11, day),
                    acting=cast.teacher,
                )
            client.post(reverse("supply_new"), supply(name=f"Blade for {mm}"))
            weigh(client)

    add(["0.5", "0.6"])
    client.get(reverse(name))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse(name))
    asked = len(few)
    add(["0.7", "0.8", "0.9", "1.0", "1.1"])
    with django_assert_num_queries(asked):
        client.get(reverse(name))


def test_a_misread_weighing_is_put_right_by_a_row_that_names_it(cast: Cast, client: Client) -> None:
    weigh(client)
    entry = ScrapEntry.objects.get()
    address = reverse("scrap_correct", args=[entry.pk])
    for weight, left in (("10", "10.00"), ("10", "10.00"), ("11.25 g", "11.25")):
        assert client.post(address, {"weight": weight, "reason": "misread"}).status_code == 302
        assert scrap.box_mass(cast.school, "C11000") == Decimal(left)
    entry.refresh_from_db()
    assert entry.mass_g == Decimal("12.50")
    rows = ScrapEntry.objects.exclude(pk=entry.pk).order_by("pk")
    assert [row.mass_g for row in rows] == [Decimal("-2.50"), Decimal("1.25")]
    assert {row.cause for row in rows} == {f"scrapentry:{entry.pk}"}
    assert client.get(reverse("scrap_correct", args=[rows[0].pk])).status_code == 409


def test_metal_that_left_a_box_is_corrected_the_same_way(cast: Cast, client: Client) -> None:
    weigh(client)
    weigh(client, direction="out", weight="5", reason="sold")
    gone = ScrapEntry.objects.get(mass_g=-5)
    address = reverse("scrap_correct", args=[gone.pk])
    client.post(address, {"weight": "8", "reason": "the buyer's scales"})
    assert scrap.box_mass(cast.school, "C11000") == Decimal("4.50")
    page = client.post(address, {"weight": "12.51", "reason": "the buyer's scales"})
    assert "no more than that can leave it" in page.content.decode()
    assert scrap.box_mass(cast.school, "C11000") == Decimal("4.50")


def test_a_weighing_of_another_school_is_not_found(cast: Cast, client: Client) -> None:
    weigh(client)
    address = reverse("scrap_correct", args=[ScrapEntry.objects.get().pk])
    assert signed_in(cast.other_teacher).get(address).status_code == 200
    assert signed_in(cast.outsider).get(address).status_code == 404
    assert signed_in(cast.owner).get(address).status_code == 403
