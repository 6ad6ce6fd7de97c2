"""Scrap is sold out of its box, money moves between budgets, and the term's end is foreseen."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import Course
from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.models import Budget, BudgetTransfer, ScrapEntry, ScrapSale
from inventory.rack import scrap
from inventory.spending import ledger
from inventory.spending.forecasting import forecast
from tests.people import Cast, signed_in

DAY = dt.date(2026, 11, 20)


@pytest.fixture
def other(cast: Cast) -> Course:
    """A second course of the same teacher."""
    made = Course.objects.create(
        school=cast.school,
        title="Metals 2",
        term="Autumn 2026",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    made.teachers.add(cast.teacher)
    return made


def _box(cast: Cast, mass: str = "340.00") -> None:
    scrap.weigh_scrap(
        cast.school, "C11000", Decimal(mass), acting=cast.teacher, reason="trays emptied"
    )


def _sell(cast: Cast, mass: str, amount: str, budget: Budget | None) -> ScrapSale:
    return scrap.sell_scrap(
        cast.school,
        "C11000",
        Decimal(mass),
        Decimal(amount),
        acting=cast.teacher,
        budget=budget,
        sold_on=DAY,
        buyer="the harbour yard",
    )


def test_a_sale_leaves_its_box_and_comes_into_the_budget(cast: Cast) -> None:
    _box(cast)
    budget = ledger.open_budget(cast.course)
    sale = _sell(cast, "300.00", "2.10", budget)
    assert scrap.box_mass(cast.school, "C11000") == Decimal("40.00")
    budget.refresh_from_db()
    assert (budget.allotted, budget.left) == (Decimal("2.10"), Decimal("2.10"))
    assert budget.entries.get().cause == f"scrapsale:{sale.pk}"
    assert list(audit(cast.school)) == []


def test_a_box_sells_no_more_than_it_holds_and_then_nothing_is_kept(cast: Cast) -> None:
    _box(cast, "20.00")
    with pytest.raises(Refused, match=r"The box holds 20\.00 g"):
        _sell(cast, "20.01", "1.00", ledger.open_budget(cast.course))
    assert ScrapSale.objects.count() == 0
    assert Budget.objects.get().allotted == 0


def test_money_needs_a_budget_and_a_gift_needs_none(cast: Cast) -> None:
    _box(cast)
    with pytest.raises(Refused, match="Choose the budget"):
        _sell(cast, "10.00", "1.00", None)
    assert _sell(cast, "10.00", "0.00", None).budget is None


def test_a_sale_is_sold_on_its_page_once(cast: Cast, client: Client) -> None:
    _box(cast)
    form = {
        "alloy_code": "C11000",
        "weight": "100 g",
        "amount": "0,90",
        "budget": cast.course.pk,
        "buyer": "the harbour yard",
        "sold_on": "2026-11-20",
        "once": "6a1f2a1e-6f0b-4a57-9f3f-0d1a7a8f0c11",
    }
    for _ in range(2):
        assert client.post(reverse("scrap_sell"), form).status_code == 302
    sale = ScrapSale.objects.get()
    assert sale.amount == Decimal("0.90")
    assert "the harbour yard" in client.get(reverse("scrap_sales")).content.decode()
    page = client.get(reverse("scrap_sale", args=[sale.pk])).content.decode()
    assert "0.90 USD" in page
    assert (
        f'href="{reverse("scrap_sale", args=[sale.pk])}"'
        in client.get(reverse("scrap_boxes")).content.decode()
    )


def test_a_transfer_takes_here_and_gives_there(cast: Cast, other: Course) -> None:
    here, there = ledger.open_budget(cast.course), ledger.open_budget(other)
    ledger.allot(here, Decimal("50.00"), acting=cast.teacher, reason="term")
    ledger.transfer(here, there, Decimal("20.00"), acting=cast.teacher, reason="bigger class")
    for budget, left in ((here, "30.00"), (there, "20.00")):
        budget.refresh_from_db()
        assert budget.left == Decimal(left)
        assert budget.entries.last().cause.startswith("budgettransfer:")  # type: ignore[union-attr]
    assert list(audit(cast.school)) == []


def test_a_transfer_beyond_what_is_left_moves_nothing(cast: Cast, other: Course) -> None:
    here, there = ledger.open_budget(cast.course), ledger.open_budget(other)
    ledger.allot(here, Decimal("50.00"), acting=cast.teacher, reason="term")
    ledger.commit(here, Decimal("40.00"), acting=cast.teacher, reason="plan", cause="cutplan:1")
    with pytest.raises(Refused, match=r"Only 10\.00 USD is left in the budget of Metals 1, B"):
        ledger.transfer(here, there, Decimal("10.01"), acting=cast.teacher, reason="more")
    there.refresh_from_db()
    assert there.allotted == 0
    assert BudgetTransfer.objects.count() == 0


def test_no_money_leaves_the_school_or_stays_in_place(cast: Cast) -> None:
    here = ledger.open_budget(cast.course)
    away = Course.objects.create(
        school=cast.outsider.school,
        title="Metals",
        term="T",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    with pytest.raises(Refused, match="one school only"):
        ledger.transfer(here, ledger.open_budget(away), Decimal(1), acting=cast.teacher, reason="r")
    with pytest.raises(Refused, match="another course"):
        ledger.transfer(here, here, Decimal(1), acting=cast.teacher, reason="r")


def test_the_budget_page_moves_money_to_the_teachers_other_course(
    cast: Cast, client: Client, other: Course
) -> None:
    ledger.allot(
        ledger.open_budget(cast.course), Decimal("50.00"), acting=cast.teacher, reason="term"
    )
    form = {"target": other.pk, "transfer_amount": "12.50", "transfer_reason": "bigger class"}
    address = reverse("budget_transfer", args=[cast.course.pk])
    assert client.post(address, form).status_code == 302
    assert Budget.objects.get(course=other).left == Decimal("12.50")
    too_much = client.post(address, form | {"transfer_amount": "40.00"})
    assert "Only 37.50 USD is left" in too_much.content.decode()
    assert signed_in(cast.other_teacher).post(address, form).status_code == 404


@pytest.mark.parametrize("name", ["scrap_sell", "scrap_sales"])
def test_sales_are_for_teachers(cast: Cast, name: str) -> None:
    address = reverse(name)
    for person, expected in (
        (cast.teacher, 200),
        (cast.other_teacher, 200),
        (cast.owner, 403),
        (cast.classmate, 403),
    ):
        assert signed_in(person).get(address).status_code == expected, person


def test_a_sale_is_seen_in_its_school_only(cast: Cast) -> None:
    _box(cast)
    address = reverse("scrap_sale", args=[_sell(cast, "10.00", "0.00", None).pk])
    for person, expected in (
        (cast.teacher, 200),
        (cast.other_teacher, 200),
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.outsider, 404),
    ):
        assert signed_in(person).get(address).status_code == expected, person


def test_sales_are_offered_own_courses_only(cast: Cast) -> None:
    _box(cast)
    form = {
        "alloy_code": "C11000",
        "weight": "10 g",
        "amount": "1.00",
        "budget": cast.course.pk,
        "sold_on": "2026-11-20",
    }
    answer = signed_in(cast.other_teacher).post(reverse("scrap_sell"), form)
    assert "Select a valid choice" in answer.content.decode()
    assert ScrapEntry.objects.count() == 1


class Spent:
    committed = Decimal("10.00")
    charged = Decimal("75.00")
    credited = Decimal("5.00")
    left = Decimal("40.00")


def test_a_forecast_is_a_straight_line_with_commitments_as_its_first_part() -> None:
    # 10 weeks gone, 70.00 spent: 7.00 a week; 5 weeks to go need 35.00, of that 10.00 is committed.
    found = forecast(
        Spent(),
        starts_on=dt.date(2026, 9, 1),
        ends_on=dt.date(2026, 12, 15),
        today=dt.date(2026, 11, 10),
    )
    assert found is not None
    assert found.per_week == Decimal("7.00")
    assert found.still_to_spend == Decimal("35.00")
    assert found.at_the_end == Decimal("15.00")  # 40 + 10 − 35
    assert not found.is_short


def test_a_forecast_spends_at_least_what_is_committed() -> None:
    found = forecast(
        Spent(),
        starts_on=dt.date(2026, 9, 1),
        ends_on=dt.date(2026, 11, 11),
        today=dt.date(2026, 11, 10),
    )
    assert found is not None
    assert found.still_to_spend == Decimal("10.00")
    assert found.at_the_end == Decimal("40.00")


@pytest.mark.parametrize("today", [dt.date(2026, 9, 10), dt.date(2027, 2, 1)])
def test_no_forecast_is_made_too_early_or_after_the_end(today: dt.date) -> None:
    assert (
        forecast(Spent(), starts_on=dt.date(2026, 9, 1), ends_on=dt.date(2027, 1, 29), today=today)
        is None
    )


def test_only_what_a_box_holds_is_offered_for_sale(cast: Cast, client: Client) -> None:
    page = client.get(reverse("scrap_sell")).content.decode()
    assert "No scrap box holds anything yet" in page
    _box(cast)
    page = client.get(reverse("scrap_sell")).content.decode()
    assert "340" in page
    assert "C26000" not in page
    form = {"alloy_code": "C26000", "weight": "5", "amount": "0", "sold_on": DAY.isoformat()}
    answer = client.post(reverse("scrap_sell"), form)
    assert "scrap box is empty" in answer.content.decode()
    assert not ScrapSale.objects.exists()
