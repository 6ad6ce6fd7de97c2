"""Lists of the stock pages: narrowed, sorted, paged; a reason names its cause once."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.buying import ordering, receiving
from inventory.buying.ordering import OrderLine
from inventory.buying.sheet_line import SheetLine
from inventory.models import Budget
from inventory.rack import scrap
from inventory.spending import ledger
from inventory.templatetags.causes import why
from tests.people import Cast, signed_in

from .pages import metal_of


def bought(cast: Cast, seller: str, day: int, total: str) -> None:
    line = SheetLine(metal_of(cast.school), 1, Decimal(100), Decimal(50), Decimal(total))
    receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, day), seller=seller
    )


def sold(cast: Cast, alloy: str, buyer: str, amount: str) -> Budget:
    budget = ledger.open_budget(cast.course)
    scrap.weigh_scrap(cast.school, alloy, Decimal(50), acting=cast.teacher, reason=f"tray {buyer}")
    scrap.sell_scrap(
        cast.school,
        alloy,
        Decimal(20),
        Decimal(amount),
        acting=cast.teacher,
        budget=budget,
        sold_on=dt.date(2026, 11, 3),
        buyer=buyer,
    )
    return budget


def on_page(answer: Any) -> list[Any]:
    return list(answer.context["page"].object_list)


def test_purchases_are_found_by_seller_and_sorted_by_price(cast: Cast, client: Client) -> None:
    bought(cast, "Quayside Sheet", 2, "8.00")
    bought(cast, "Harbour Metals", 3, "5.00")
    bought(cast, "Harbour Metals", 4, "9.00")
    url = reverse("purchases")
    found = on_page(client.get(url, {"search": "harbour"}))
    assert [one.bought_on.day for one in found] == [4, 3]
    dear = on_page(client.get(url, {"sort": "dear"}))
    assert [one.bought_on.day for one in dear] == [4, 2, 3]
    assert "No purchase fits that" in client.get(url, {"search": "nobody"}).content.decode()


def test_orders_are_narrowed_to_open_ones(cast: Cast, client: Client) -> None:
    wanted = [OrderLine(metal_of(cast.school), 2, Decimal(100), Decimal(50))]
    made = [
        ordering.write_order(
            cast.school, wanted, acting=cast.teacher, ordered_on=dt.date(2026, 11, day)
        )
        for day in (2, 3)
    ]
    ordering.close_order(made[1], acting=cast.teacher, reason="sold out")
    url = reverse("orders")
    assert on_page(client.get(url)) == made
    assert on_page(client.get(url, {"sort": "new"})) == made[::-1]
    assert on_page(client.get(url, {"state": "open"})) == made[:1]
    assert on_page(client.get(url, {"state": "closed"})) == made[1:]


def test_weighings_and_sales_are_narrowed_by_alloy_and_words(cast: Cast, client: Client) -> None:
    sold(cast, "C11000", "Tideway", "4.00")
    sold(cast, "C26000", "Old Pier", "6.00")
    sales = reverse("scrap_sales")
    assert [s.buyer for s in on_page(client.get(sales, {"alloy": "C11000"}))] == ["Tideway"]
    assert [s.buyer for s in on_page(client.get(sales, {"sort": "most"}))] == [
        "Old Pier",
        "Tideway",
    ]
    boxes = reverse("scrap_boxes")
    assert len(on_page(client.get(boxes, {"alloy": "C26000"}))) == 2
    assert len(on_page(client.get(boxes, {"search": "tray"}))) == 2


def test_budget_entries_are_narrowed_by_kind_and_the_total_stays(
    cast: Cast, client: Client
) -> None:
    budget = sold(cast, "C11000", "Tideway", "4.00")
    ledger.commit(budget, Decimal(1), acting=cast.teacher, reason="a plan", cause="cutplan:7")
    answer = client.get(reverse("budget", args=[cast.course.pk]), {"kind": "commitment"})
    assert [row["entry"].kind for row in answer.context["entries"]] == ["commitment"]
    assert answer.context["budget"].left == Decimal("3.00")


@pytest.mark.parametrize("query", [{"sort": "nonsense"}, {"alloy": "XX"}, {"page": "0"}])
def test_nonsense_in_the_address_shows_the_list_as_usual(
    cast: Cast, client: Client, query: dict[str, str]
) -> None:
    sold(cast, "C11000", "Tideway", "4.00")
    assert len(on_page(client.get(reverse("scrap_sales"), query))) == 1


@pytest.mark.parametrize("name", ["purchases", "orders", "scrap_boxes", "scrap_sales"])
def test_a_longer_list_asks_no_more_queries(cast: Cast, client: Client, name: str) -> None:
    def grow() -> None:
        bought(cast, "Harbour Metals", 3, "5.00")
        wanted = [OrderLine(metal_of(cast.school), 2, Decimal(100), Decimal(50))]
        ordering.write_order(
            cast.school, wanted, acting=cast.teacher, ordered_on=dt.date(2026, 11, 2)
        )
        sold(cast, "C11000", "Tideway", "4.00")

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(reverse(name))
        return len(queries)

    grow()
    client.get(reverse(name))
    few = asked()
    for _ in range(4):
        grow()
    assert asked() == few


def test_an_order_is_printed_with_what_is_to_come(cast: Cast, client: Client) -> None:
    metal = metal_of(cast.school)
    order = ordering.write_order(
        cast.school,
        [OrderLine(metal, 3, Decimal(100), Decimal(50))],
        acting=cast.teacher,
        ordered_on=dt.date(2026, 11, 2),
        seller="Harbour Metals",
        reference="HM-7",
    )
    page = client.get(reverse("order_print", args=[order.pk])).content.decode()
    assert "Harbour Metals" in page
    assert "number HM-7" in page
    assert "100.0 mm × 50.0 mm" in page
    assert "To come" not in page
    line = SheetLine(metal, 1, Decimal(100), Decimal(50), Decimal(5), order_line=order.lines.get())
    receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 3), order=order
    )
    assert "To come" in client.get(reverse("order_print", args=[order.pk])).content.decode()
    other = signed_in(cast.outsider).get(reverse("order_print", args=[order.pk]))
    assert other.status_code in (403, 404)


def test_a_reason_names_its_cause_once_and_is_never_markup() -> None:
    link = {"label": "cut plan 1", "url": "/plans/1/"}
    assert why("set aside for cut plan 1", link) == (
        'set aside for <a href="/plans/1/">cut plan 1</a>'
    )
    assert why("reserved", link) == 'reserved, <a href="/plans/1/">cut plan 1</a>'
    # Another plan whose number only begins like it.
    assert why("after cut plan 12", link) == 'after cut plan 12, <a href="/plans/1/">cut plan 1</a>'
    assert why("<b>cut plan 1", link).startswith("&lt;b&gt;")
