"""Receiving a purchase in the browser: several lines, typed as people type, entered once."""

from __future__ import annotations

import io
import re
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from inventory.models import Metal, MetalPrice, Purchase, StockPiece
from tests.inventory.pages import metal_of, tick
from tests.people import Cast


@pytest.fixture
def copper(cast: Cast) -> Metal:
    return metal_of(cast.school)


def form(*lines: dict[str, Any], **head: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "bought_on": "2026-11-02",
        "seller": "Quayside Metal Stores",
        "reference": "R-1041",
        "line-TOTAL_FORMS": str(len(lines)),
        "line-INITIAL_FORMS": "0",
        **head,
    }
    for number, line in enumerate(lines):
        data |= {f"line-{number}-{name}": value for name, value in line.items()}
    return data


def line(of: Metal, **changes: Any) -> dict[str, Any]:
    return {
        "metal": of.pk,
        "count": "2",
        "width": "6 in",
        "height": "30.48 cm",
        "price": "31.40",
        "price_of": "each",
        "measured": "",
        "place": "top drawer",
    } | changes


EMPTY = {"metal": "", "count": "1", "width": "", "height": "", "price": "", "price_of": "each"}


def test_a_purchase_of_two_lines_becomes_labelled_sheets(
    cast: Cast, copper: Metal, client: Client
) -> None:
    brass = metal_of(cast.school, "C26000")
    data = form(line(copper), line(brass, count="3", price="83,71", price_of="line"), EMPTY)
    answer = client.post(reverse("receive"), data)
    purchase = Purchase.objects.get()
    assert answer.url == reverse("purchase", args=[purchase.pk])
    pieces = StockPiece.objects.order_by("code")
    assert [(piece.code, piece.cost) for piece in pieces] == [
        ("CU-0.81-001", Decimal("31.40")),
        ("CU-0.81-002", Decimal("31.40")),
        ("CUZN30-0.81-001", Decimal("27.91")),
        ("CUZN30-0.81-002", Decimal("27.90")),
        ("CUZN30-0.81-003", Decimal("27.90")),
    ]
    first = pieces[0]
    assert (first.width_mm, first.height_mm) == (Decimal("152.40"), Decimal("304.80"))
    page = client.get(answer.url).content.decode()
    assert "Quayside Metal Stores" in page
    assert "146.51 USD" in page  # 2 x 31.40 + 83.71


def test_prices_are_written_down_when_asked(cast: Cast, copper: Metal, client: Client) -> None:
    client.post(reverse("receive"), form(line(copper)))
    assert MetalPrice.objects.count() == 0
    client.post(reverse("receive"), form(line(copper), keep_prices="on"))
    price = MetalPrice.objects.get()
    assert (price.amount, price.dated.isoformat()) == (Decimal("31.40"), "2026-11-02")


def test_the_same_form_sent_twice_is_entered_once(copper: Metal, client: Client) -> None:
    data = form(line(copper), once=str(uuid.uuid4()))
    assert client.post(reverse("receive"), data).status_code == 302
    assert client.post(reverse("receive"), data).status_code == 302
    assert Purchase.objects.count() == 1


def test_asking_for_one_more_line_loses_nothing_and_finds_no_fault(
    copper: Metal, client: Client
) -> None:
    data = form(line(copper, width="", place="by the window"), more="1")
    page = client.post(reverse("receive"), data)
    assert page.status_code == 200
    text = page.content.decode()
    assert "Line 2" in text
    assert 'value="by the window"' in text
    assert 'value="R-1041"' in text
    assert "is-invalid" not in text
    assert Purchase.objects.count() == 0
    (begun,) = re.findall(r"<[^>]* autofocus[^>]*>", text)
    assert 'name="line-1-metal"' in begun  # the page opens at the new line
    assert "autofocus" not in client.get(reverse("receive")).content.decode()


def test_a_form_that_came_back_with_one_more_line_can_be_sent(
    copper: Metal, client: Client
) -> None:
    data = form(line(copper), EMPTY) | {"line-INITIAL_FORMS": "1"}
    assert client.post(reverse("receive"), data).status_code == 302
    assert StockPiece.objects.count() == 2


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"width": "NaN"}, "not a length"),
        ({"width": "1e400"}, "exponent"),
        ({"width": "-6 in"}, "negative"),
        ({"width": "40 m"}, "not known"),
        ({"height": "9000"}, "out of bounds"),
        ({"count": "0"}, "greater than or equal to 1"),
        ({"count": "100000"}, "less than or equal to 200"),
        ({"price": "NaN"}, "Enter a number"),
        ({"price": "1e400"}, "Ensure that there are no more than"),
        ({"price": "-1"}, "greater than or equal to 0"),
        ({"price": "1.001"}, "2 decimal places"),
        ({"price_of": "x"}, "not one of the available"),
        ({"measured": "0.0001"}, "out of bounds"),
        ({"metal": "x"}, "Select a valid choice"),
    ],
)
def test_a_bad_line_is_named_and_nothing_is_half_saved(
    copper: Metal, client: Client, change: dict[str, str], says: str
) -> None:
    page = client.post(reverse("receive"), form(line(copper), line(copper, **change)))
    assert page.status_code == 200
    assert says in page.content.decode().replace("&#x27;", "'")
    assert (Purchase.objects.count(), StockPiece.objects.count()) == (0, 0)


def test_another_schools_metal_cannot_be_chosen(cast: Cast, client: Client) -> None:
    theirs = metal_of(cast.outsider.school)
    page = client.post(reverse("receive"), form(line(theirs)))
    assert "Select a valid choice" in page.content.decode()
    assert Purchase.objects.count() == 0


@pytest.mark.parametrize("count", ["", "x", "-5", "100000", "1e9"])
def test_a_forged_number_of_lines_is_bounded(client: Client, count: str) -> None:
    for more in ({}, {"more": "1"}):
        data = form(EMPTY, **more) | {"line-TOTAL_FORMS": count}
        page = client.post(reverse("receive"), data)
        assert page.status_code == 200
        assert page.content.count(b"<fieldset") <= 20


def test_a_day_to_come_and_an_empty_purchase_are_refused(copper: Metal, client: Client) -> None:
    page = client.post(reverse("receive"), form(line(copper), bought_on="2999-01-01"))
    assert "still to come" in page.content.decode()
    page = client.post(reverse("receive"), form(EMPTY))
    assert "at least one line" in page.content.decode()
    assert Purchase.objects.count() == 0


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"weight": "840 g"}, "The scale says 840.0 g; by size and thickness about 670.6 g"),
        ({"measured": "1.20"}, "reads 1.20 mm; the metal is listed as 0.812 mm"),
        ({"price": "314.00"}, "more than double the metal's last price, by which about 31.40 USD"),
        ({"price": "3.14"}, "less than half the metal's last price"),
    ],
)
def test_an_unlikely_figure_is_asked_about_with_the_expected_one_beside_it(
    cast: Cast, copper: Metal, client: Client, typed: dict[str, str], says: str
) -> None:
    client.post(reverse("receive"), form(line(copper), keep_prices="on"))
    data = form(line(copper, **typed), reference="R-2")
    text = client.post(reverse("receive"), data).content.decode().replace("&#x27;", "'")
    assert says in text
    assert 'value="R-2"' in text
    assert Purchase.objects.count() == 1
    answer = client.post(reverse("receive"), data | {"line-0-sure": tick(text, "line-0-sure")})
    made = Purchase.objects.get(reference="R-2")
    assert answer.url == reverse("purchase", args=[made.pk])
    assert "kept as typed" in client.get(answer.url).content.decode()


def test_every_sheet_of_a_purchase_gets_a_label_as_page_and_as_pdf(
    copper: Metal, client: Client
) -> None:
    client.post(reverse("receive"), form(line(copper, measured="0.79")))
    address = reverse("purchase_labels", args=[Purchase.objects.get().pk])
    page = client.get(address).content.decode()
    assert page.count('class="label-slip"') == 2
    assert "CU-0.81-002" in page
    assert "measured 0.79 mm" in page
    answer = client.get(address, {"as": "pdf"})
    assert answer["Content-Type"] == "application/pdf"
    text = PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert "CU-0.81-001" in text
