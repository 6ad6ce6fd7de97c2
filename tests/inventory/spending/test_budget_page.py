"""The budget's page: figures, entries with who and why, allotting, and the CSV."""

from __future__ import annotations

import csv
import io
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Budget
from inventory.spending import ledger
from inventory.spreadsheets import cell
from tests.people import Cast


def allot(client: Client, cast: Cast, **changes: Any) -> Any:
    data = {"direction": "in", "amount": "100.00", "reason": "for the term"} | changes
    return client.post(reverse("budget_allot", args=[cast.course.pk]), data)


def text_of(client: Client, cast: Cast) -> str:
    page = client.get(reverse("budget", args=[cast.course.pk]))
    assert page.status_code == 200
    return page.content.decode()


def book(verb: Any, cast: Cast, amount: str, **more: str) -> None:
    verb(
        ledger.open_budget(cast.course),
        Decimal(amount),
        acting=cast.teacher,
        reason="cut plan 7",
        cause="cutplan:7",
        **more,
    )


def test_looking_at_a_budget_that_was_never_opened_changes_nothing(
    cast: Cast, client: Client
) -> None:
    assert "No money yet" in text_of(client, cast)
    assert Budget.objects.count() == 0


def test_money_is_allotted_and_taken_back(cast: Cast, client: Client) -> None:
    assert allot(client, cast).status_code == 302
    assert allot(client, cast, direction="back", amount="20,50").status_code == 302
    budget = Budget.objects.get()
    assert budget.left == Decimal("79.50")
    text = text_of(client, cast)
    assert "79.50 USD" in text
    assert "−20.50 USD" in text
    assert "Marit Quay" in text
    assert "for the term" in text


def test_no_more_is_taken_back_than_is_left(cast: Cast, client: Client) -> None:
    allot(client, cast)
    book(ledger.commit, cast, "60.00")
    page = allot(client, cast, direction="back", amount="40.01", reason="to the other course")
    assert page.status_code == 200
    text = page.content.decode()
    assert "Only 40.00 USD is left in the budget of Metals 1, B" in text
    assert 'value="to the other course"' in text
    assert Budget.objects.get().allotted == Decimal("100.00")


def test_an_allotment_sent_twice_is_entered_once(cast: Cast, client: Client) -> None:
    key = str(uuid.uuid4())
    allot(client, cast, once=key)
    allot(client, cast, once=key)
    assert Budget.objects.get().allotted == Decimal("100.00")


@pytest.mark.parametrize(
    "amount", ["NaN", "Infinity", "1e400", "-5", "0", "0.001", "1000000.01", "1" * 400, "", "1,000"]
)
def test_what_is_no_amount_is_refused_on_the_page(cast: Cast, client: Client, amount: str) -> None:
    page = allot(client, cast, amount=amount)
    assert page.status_code == 200
    assert "is-invalid" in page.content.decode()
    assert Budget.objects.count() == 0


def test_an_allotment_needs_a_reason(cast: Cast, client: Client) -> None:
    page = allot(client, cast, reason=" \u200b ")
    assert page.status_code == 200
    assert Budget.objects.count() == 0


def test_figures_entries_and_the_overdraft_are_shown(cast: Cast, client: Client) -> None:
    allot(client, cast)
    book(ledger.charge, cast, "30.00")
    book(ledger.credit, cast, "4.00")
    book(ledger.commit, cast, "80.00", overdraw_reason="the fair is on Friday")
    text = text_of(client, cast)
    assert "This budget is overdrawn" in text
    assert "the fair is on Friday" in text
    assert "−6.00 USD" in text  # 100 - 30 + 4 - 80
    assert "26.00 USD" in text  # charged net of credits, as the bar shows it


def test_the_csv_has_every_entry_and_runs_no_formula(cast: Cast, client: Client) -> None:
    allot(client, cast, reason='=HYPERLINK("http://x")')
    allot(client, cast, direction="back", amount="5.00", reason="@sum")
    answer = client.get(reverse("budget_csv", args=[cast.course.pk]))
    assert answer["Content-Type"].startswith("text/csv")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0] == ["when", "kind", "amount", "currency", "who", "why", "caused by"]
    assert [row[2] for row in rows[1:]] == ["100.00", "-5.00"]
    assert [row[5] for row in rows[1:]] == ['\'=HYPERLINK("http://x")', "'@sum"]


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\t=1", "  =1", "\r=1", "＝1"])
def test_text_that_a_spreadsheet_would_run_gets_a_quote(text: str) -> None:
    assert cell(text) == f"'{text}"
    assert cell(Decimal("-5.00")) == "-5.00"


def test_the_budget_page_asks_as_often_for_many_entries_as_for_few(
    cast: Cast, client: Client, django_assert_num_queries: Any
) -> None:
    address = reverse("budget", args=[cast.course.pk])
    allot(client, cast)
    book(ledger.commit, cast, "1.00")
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    asked = len(few)
    for _ in range(35):
        book(ledger.commit, cast, "0.10")
    with django_assert_num_queries(asked):
        client.get(address)
