"""Teachers only; nobody crosses schools; budgets follow their course's teachers."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.buying.prices import record_price
from inventory.models import Consumable, Purchase
from inventory.spending import ledger
from tests.people import Cast, signed_in

from .pages import metal_of, sheets_for

LISTS = [
    "rack",
    "receive",
    "offcut_new",
    "purchases",
    "metals",
    "metal_new",
    "supplies",
    "supply_new",
    "scrap_boxes",
    "stock_counts",
    "orders",
    "order_new",
]
THINGS = [
    ("stock_piece", "piece", "get"),
    ("stock_label", "piece", "get"),
    ("purchase_labels", "purchase", "get"),
    ("stock_correct", "piece", "get"),
    ("stock_edges", "piece", "get"),
    ("stock_move", "piece", "post"),
    ("stock_scrap", "piece", "post"),
    ("stock_strike_off", "piece", "post"),
    ("purchase", "purchase", "get"),
    ("purchase_correct", "purchase", "get"),
    ("metal", "metal", "get"),
    ("metal_price_new", "metal", "get"),
    ("metal_price_correct", "price", "get"),
    ("metal_retire", "metal", "post"),
    ("supply_edit", "supply", "get"),
    ("supply_retire", "supply", "post"),
]
BUDGET = [("budget", "get"), ("budget_allot", "post"), ("budget_csv", "get")]


@pytest.fixture
def keys(cast: Cast) -> dict[str, int]:
    (sheet,) = sheets_for(cast)
    supply = Consumable.objects.create(
        school=cast.school,
        name="Saw blades 2/0",
        kind="blade",
        unit="blade",
        price="0.42",
        priced_on="2026-11-02",
        uses_per_unit=18,
        per="cm_sawn",
    )
    price = record_price(
        metal_of(cast.school),
        Decimal("31.40"),
        width_mm=Decimal(150),
        height_mm=Decimal(300),
        dated=dt.date(2026, 11, 2),
        acting=cast.teacher,
    )
    return {
        "piece": sheet.pk,
        "purchase": Purchase.objects.get().pk,
        "metal": metal_of(cast.school).pk,
        "price": price.pk,
        "supply": supply.pk,
    }


@pytest.mark.parametrize("name", LISTS)
def test_lists_are_for_teachers(cast: Cast, name: str) -> None:
    address = reverse(name)
    assert signed_in(cast.teacher).get(address).status_code == 200
    assert signed_in(cast.other_teacher).get(address).status_code == 200
    assert signed_in(cast.owner).get(address).status_code == 403
    assert signed_in(cast.classmate).get(address).status_code == 403
    assert signed_in(cast.outsider).get(address).status_code == 200  # their own, empty


@pytest.mark.parametrize(("name", "thing", "method"), THINGS)
def test_things_of_the_school_are_for_its_teachers(
    cast: Cast, keys: dict[str, int], name: str, thing: str, method: str
) -> None:
    address = reverse(name, args=[keys[thing]])
    for person, expected in (
        (cast.teacher, {200, 302}),
        (cast.other_teacher, {200, 302}),
        (cast.owner, {403}),
        (cast.classmate, {403}),
        (cast.outsider, {404}),
    ):
        answer = getattr(signed_in(person), method)(address)
        assert answer.status_code in expected, person


@pytest.mark.parametrize(("name", "method"), BUDGET)
def test_a_budget_is_for_the_courses_own_teachers(cast: Cast, name: str, method: str) -> None:
    ledger.open_budget(cast.course)
    address = reverse(name, args=[cast.course.pk])
    for person, expected in (
        (cast.teacher, 200),
        (cast.other_teacher, 404),
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.outsider, 404),
    ):
        assert getattr(signed_in(person), method)(address).status_code == expected, person


def test_a_list_shows_nothing_of_another_school(cast: Cast, keys: dict[str, int]) -> None:
    stranger = signed_in(cast.outsider)
    for name in ("rack", "purchases", "metals", "supplies", "scrap_boxes"):
        page = stranger.get(reverse(name)).content.decode()
        assert "CU-0.81-001" not in page
        assert "Saw blades" not in page
