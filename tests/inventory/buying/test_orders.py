"""Orders that come in parts; freight and tax; prices by weight and area; weight as a check."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.buying import ordering, receiving
from inventory.buying.ordering import OrderLine
from inventory.buying.sheet_line import SheetLine
from inventory.models import MetalOrder, MetalPrice, Purchase, StockPiece
from inventory.rack.weighing import check_weight
from inventory.spending.money import shares_by_value
from tests.inventory.pages import metal_of
from tests.people import Cast, signed_in

DAY = dt.date(2026, 11, 2)


@pytest.fixture
def order(cast: Cast) -> MetalOrder:
    copper, brass = metal_of(cast.school), metal_of(cast.school, "C26000", "1.0")
    return ordering.write_order(
        cast.school,
        [
            OrderLine(copper, 4, Decimal("152.4"), Decimal("304.8")),
            OrderLine(brass, 1, Decimal(100), Decimal(200)),
        ],
        acting=cast.teacher,
        ordered_on=DAY,
        seller="Quayside Metals",
    )


def _receive(cast: Cast, order: MetalOrder, count: int, line: int = 0) -> Purchase:
    of = order.lines.all()[line]
    return receiving.receive_purchase(
        cast.school,
        [SheetLine(of.metal, count, of.width_mm, of.height_mm, Decimal(10) * count, order_line=of)],
        acting=cast.teacher,
        bought_on=DAY,
        order=order,
    )


def _to_come(order: MetalOrder) -> list[int]:
    return [one.to_come for one in ordering.standing(order)]


def test_an_order_comes_in_parts_and_closes_with_its_last_sheet(
    cast: Cast, order: MetalOrder
) -> None:
    _receive(cast, order, 3)
    assert _to_come(order) == [1, 1]
    _receive(cast, order, 1, line=1)
    _receive(cast, order, 1)
    order.refresh_from_db()
    assert order.closed_at is not None
    assert order.closed_why == "all has come"
    assert StockPiece.objects.count() == 5


def test_no_more_comes_of_a_line_than_was_ordered(cast: Cast, order: MetalOrder) -> None:
    _receive(cast, order, 3)
    with pytest.raises(Refused, match="1 are still to come"):
        _receive(cast, order, 2)
    assert StockPiece.objects.count() == 3


def test_a_closed_order_receives_nothing(cast: Cast, order: MetalOrder) -> None:
    ordering.close_order(order, acting=cast.teacher, reason="out of stock")
    with pytest.raises(Refused, match="This order is closed"):
        _receive(cast, order, 1)
    with pytest.raises(Refused, match="closed already"):
        ordering.close_order(order, acting=cast.teacher, reason="again")


def test_sheets_of_an_order_are_not_received_beside_it(cast: Cast, order: MetalOrder) -> None:
    of = order.lines.all()[0]
    line = SheetLine(of.metal, 1, of.width_mm, of.height_mm, Decimal(9), order_line=of)
    with pytest.raises(Refused, match="received with that order"):
        receiving.receive_purchase(cast.school, [line], acting=cast.teacher, bought_on=DAY)


def test_freight_and_tax_go_by_value_and_every_sheet_keeps_its_own_cost(cast: Cast) -> None:
    copper = metal_of(cast.school)
    lines = [
        SheetLine(copper, 3, Decimal(100), Decimal(100), Decimal("20.00")),
        SheetLine(copper, 1, Decimal(100), Decimal(100), Decimal("10.00")),
    ]
    purchase = receiving.receive_purchase(
        cast.school,
        lines,
        acting=cast.teacher,
        bought_on=DAY,
        freight=Decimal("5.00"),
        tax=Decimal("1.00"),
    )
    first, second = purchase.lines.all()
    assert (first.extras, first.total, first.price) == (
        Decimal("4.00"),
        Decimal("24.00"),
        Decimal("20.00"),
    )
    assert second.total == Decimal("12.00")
    costs = StockPiece.objects.order_by("code").values_list("cost", flat=True)
    assert list(costs) == [Decimal("8.00")] * 3 + [Decimal("12.00")]
    assert list(audit(cast.school)) == []


@given(
    total=st.decimals(0, 9999, places=2),
    values=st.lists(st.decimals(0, 999, places=2), min_size=1, max_size=20),
)
def test_shares_by_value_add_up_and_are_off_by_less_than_a_cent(
    total: Decimal, values: list[Decimal]
) -> None:
    shares = shares_by_value(total, values)
    assert sum(shares) == total
    worth = sum(values)
    for share, value in zip(shares, values, strict=True):
        exact = total * value / worth if worth else total / len(values)
        assert abs(share - exact) <= Decimal("0.01")


def _form(cast: Cast, **line: object) -> dict[str, Any]:
    data: dict[str, Any] = {
        "bought_on": "2026-11-02",
        "keep_prices": "on",
        "line-TOTAL_FORMS": "1",
        "line-INITIAL_FORMS": "0",
        "line-0-metal": metal_of(cast.school).pk,
        "line-0-count": "2",
        "line-0-width": "100",
        "line-0-height": "200",
        "line-0-price_of": "each",
    }
    return data | {f"line-0-{name}": value for name, value in line.items()}


@pytest.mark.parametrize(
    ("basis", "price", "weight", "total"),
    [
        ("each", "7.00", "", "14.00"),
        ("line", "7.00", "", "7.00"),
        ("kg", "20.00", "291 g", "5.82"),
        ("g", "0.05", "291 g", "14.55"),
        ("lb", "9.00", "0.64 lb", "5.76"),
        ("oz", "0.60", "10 oz", "6.00"),
        ("ozt", "31.00", "311.034768 g", "310.00"),  # troy ounce 31.1034768 g
        ("cm2", "0.02", "", "8.00"),
        ("m2", "150.00", "", "6.00"),
        ("in2", "0.10", "", "6.20"),  # 40,000 mm² are 62.0001 sq in
        ("ft2", "20.00", "", "8.61"),  # and 0.430556 sq ft
    ],
)
def test_a_price_may_be_by_sheet_weight_or_area(
    cast: Cast, client: Client, basis: str, price: str, weight: str, total: str
) -> None:
    answer = client.post(
        reverse("receive"), _form(cast, price=price, price_of=basis, weight=weight)
    )
    assert answer.status_code == 302
    purchase = Purchase.objects.get()
    assert purchase.lines.get().total == Decimal(total)
    costs = StockPiece.objects.values_list("cost", flat=True)
    assert sum(costs) == Decimal(total)
    assert MetalPrice.objects.count() == 1


def test_a_price_by_weight_asks_for_the_weight(cast: Cast, client: Client) -> None:
    answer = client.post(reverse("receive"), _form(cast, price="20.00", price_of="kg"))
    assert "A price by weight needs the weight" in answer.content.decode()
    assert Purchase.objects.count() == 0


def test_weight_by_size_is_area_times_thickness_times_density() -> None:
    # 100 cm² of 1 mm copper at 8.94 g/cm³ (handbook value, from memory) are 89.4 g.
    check = check_weight(
        Decimal("89.4"), area_mm2=Decimal(10_000), thickness_mm=Decimal(1), alloy_code="C11000"
    )
    assert check.expected_g == pytest.approx(89.4, rel=0.01)
    assert check.agrees


@pytest.mark.parametrize(("weight", "warned"), [("290 g", False), ("250 g", True), ("330 g", True)])
def test_sheets_that_weigh_otherwise_than_their_size_are_warned_of(
    cast: Cast, client: Client, weight: str, warned: bool
) -> None:
    data = _form(cast, price="7.00", weight=weight)  # 2 × 100 × 200 × 0.812 mm are 291 g
    text = client.post(reverse("receive"), data, follow=True).content.decode()
    assert ("measure with a caliper" in text) is warned
    assert ("status is-caution" in text) is warned


def test_the_measured_thickness_counts_where_there_is_one(cast: Cast, client: Client) -> None:
    data = _form(cast, price="7.00", weight="250 g", measured="0.74")
    text = client.post(reverse("receive"), data, follow=True).content.decode()
    assert "measure with a caliper, and check" not in text


def test_the_form_of_an_order_is_filled_with_what_is_to_come(
    cast: Cast, client: Client, order: MetalOrder
) -> None:
    _receive(cast, order, 3)
    page = f"{reverse('receive')}?order={order.pk}"
    text = client.get(page).content.decode()
    assert "Quayside Metals" in text
    assert "is expected" in text  # beside the weight of what was ordered
    copper, brass = order.lines.all()
    data = _form(cast, price="9.00", count="1", width="152.4", height="304.8") | {
        "line-TOTAL_FORMS": "2",
        "line-0-order_line": copper.pk,
        "line-1-order_line": brass.pk,
        "line-1-metal": brass.metal_id,
        "line-1-count": "1",
        "line-1-width": "100",
        "line-1-height": "200",
        "line-1-price_of": "each",
        "line-1-price": "",
    }
    assert client.post(page, data).status_code == 302
    assert _to_come(order) == [0, 1]
    text = client.get(reverse("order", args=[order.pk])).content.decode()
    assert "Receive what came" in text


def test_an_order_is_written_down_from_its_page(cast: Cast, client: Client) -> None:
    copper = metal_of(cast.school)
    new = reverse("order_new")
    page = client.get(f"{new}?line={copper.pk}:3:152.4:304.8&line=x&line=1:2:3:NaN")
    assert 'value="152.4 mm"' in page.content.decode()
    data = {
        "ordered_on": "2026-11-02",
        "line-TOTAL_FORMS": "1",
        "line-INITIAL_FORMS": "1",
        "line-0-metal": copper.pk,
        "line-0-count": "3",
        "line-0-width": "152.4",
        "line-0-height": "304.8",
    }
    assert client.post(new, data).status_code == 302
    assert MetalOrder.objects.get().lines.get().count == 3
    page = client.post(new, data | {"more": "1"}).content.decode()
    (begun,) = re.findall(r"<[^>]* autofocus[^>]*>", page)
    assert 'name="line-1-metal"' in begun
    assert MetalOrder.objects.count() == 1


@pytest.mark.parametrize(("name", "method"), [("order", "get"), ("order_close", "post")])
def test_orders_are_for_the_schools_teachers(
    cast: Cast, order: MetalOrder, name: str, method: str
) -> None:
    address = reverse(name, args=[order.pk])
    for person, expected in (
        (cast.teacher, 200),
        (cast.other_teacher, 200),
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.outsider, 404),
    ):
        assert getattr(signed_in(person), method)(address).status_code == expected, person


def test_an_outsider_receives_nothing_of_anothers_order(cast: Cast, order: MetalOrder) -> None:
    page = f"{reverse('receive')}?order={order.pk}"
    assert signed_in(cast.outsider).get(page).status_code == 404
