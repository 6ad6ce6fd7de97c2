"""Two people at once: the last money and the last sheet are given out exactly once.

Real threads with a connection each, on whichever database the settings name (a SQLite file or
PostgreSQL).
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from decimal import Decimal
from functools import partial

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from classroom.models import Course
from classroom.refusals import Refused
from inventory.auditing import audit_supplies
from inventory.buying import ordering, receiving, supplying
from inventory.buying.sheet_line import SheetLine
from inventory.models import Budget, Consumable, Metal, StockCount, StockPiece
from inventory.rack import counting, scrap, stock
from inventory.rack.stock import SomebodyWasFirst
from inventory.spending import ledger
from inventory.spending.ledger import OverBudget
from tests.at_once import done_or_refused
from tests.people import Cast, signed_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def copper(cast: Cast) -> Metal:
    return Metal.objects.create(
        school=cast.school, alloy_code="C11000", thickness_mm=Decimal("0.812")
    )


def by_many(count: int, deed: Callable[[int], None]) -> list[Refused | None]:
    """So many do `deed` at once, each in a transaction; what each was refused with, if at all."""

    def one(number: int) -> None:
        with transaction.atomic():
            deed(number)

    return done_or_refused(*(partial(one, number) for number in range(count)))


def test_of_50_commitments_at_once_a_budget_that_holds_10_takes_exactly_10(cast: Cast) -> None:
    budget = ledger.open_budget(cast.course)
    ledger.allot(budget, Decimal("31.00"), acting=cast.teacher, reason="autumn")

    def commit(number: int) -> None:
        ledger.commit(
            Budget.objects.get(pk=budget.pk),
            Decimal("3.10"),
            acting=cast.teacher,
            reason="a plan",
            cause=f"plan:{number}",
        )

    refusals = by_many(50, commit)

    assert refusals.count(None) == 10
    assert sum(isinstance(refusal, OverBudget) for refusal in refusals) == 40
    budget.refresh_from_db()
    assert (budget.committed, budget.left) == (Decimal("31.00"), Decimal(0))
    assert budget.entries.filter(kind="commitment").count() == 10
    assert ledger.audit(budget) == []


def test_overdrafts_at_once_allow_just_what_is_missing_in_all(cast: Cast) -> None:
    budget = ledger.open_budget(cast.course)
    ledger.allot(budget, Decimal("5.00"), acting=cast.teacher, reason="autumn")

    def overdraw(number: int) -> None:
        ledger.commit(
            Budget.objects.get(pk=budget.pk),
            Decimal("2.00"),
            acting=cast.teacher,
            reason="a plan",
            cause=f"plan:{number}",
            overdraw_reason="the fair is on Friday",
        )

    refusals = by_many(6, overdraw)

    assert refusals == [None] * 6
    budget.refresh_from_db()
    assert (budget.left, budget.overdraw_allowed) == (Decimal("-7.00"), Decimal("7.00"))
    assert ledger.audit(budget) == []


def test_of_12_who_reserve_the_same_sheet_at_once_one_gets_it(cast: Cast, copper: Metal) -> None:
    line = SheetLine(copper, 2, Decimal(100), Decimal(100), Decimal(10))
    receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 2)
    )

    def reserve(number: int) -> None:
        stock.reserve(
            list(StockPiece.objects.order_by("pk" if number % 2 else "-pk")),
            acting=cast.teacher,
            reason="a plan",
            cause=f"plan:{number}",
        )

    refusals = by_many(12, reserve)

    assert refusals.count(None) == 1
    assert sum(isinstance(refusal, SomebodyWasFirst) for refusal in refusals) == 11
    for piece in StockPiece.objects.all():
        assert piece.movements.filter(kind="reserve").count() == 1


def test_a_form_sent_six_times_at_once_is_entered_once(cast: Cast) -> None:
    address = reverse("budget_allot", args=[cast.course.pk])
    key = str(uuid.uuid4())

    form = {"direction": "in", "amount": "50.00", "reason": "autumn", "once": key}
    clients = [signed_in(cast.teacher) for _ in range(6)]

    def send(client: Client) -> int:
        return int(client.post(address, form).status_code)

    assert done_or_refused(*(partial(send, client) for client in clients)) == [302] * 6
    budget = Budget.objects.get()
    assert budget.allotted == Decimal("50.00")
    assert ledger.audit(budget) == []


def test_sheets_received_at_once_get_labels_of_their_own(cast: Cast, copper: Metal) -> None:
    def receive(number: int) -> None:
        line = SheetLine(copper, 3, Decimal(100), Decimal(100), Decimal(10))
        receiving.receive_purchase(
            cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 2)
        )

    assert by_many(8, receive) == [None] * 8
    codes = sorted(StockPiece.objects.values_list("code", flat=True))
    assert codes == [f"CU-0.81-{number:03d}" for number in range(1, 25)]


def test_of_6_who_book_the_same_count_at_once_one_books_it(cast: Cast, copper: Metal) -> None:
    line = SheetLine(copper, 1, Decimal(100), Decimal(100), Decimal(10))
    receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 2)
    )
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    counting.tick(
        count, {row.pk: counting.Tick("missing") for row in count.pieces.all()}, acting=cast.teacher
    )

    def book(number: int) -> None:
        counting.book(
            StockCount.objects.get(pk=count.pk), acting=cast.teacher, reason=f"by {number}"
        )

    assert by_many(6, book).count(None) == 1
    assert StockPiece.objects.get().movements.filter(kind="missing").count() == 1


def test_of_6_who_begin_a_count_at_once_one_begins_it(cast: Cast) -> None:
    def begin(number: int) -> None:
        counting.open_count(cast.school, None, acting=cast.teacher)

    assert by_many(6, begin).count(None) == 1
    assert StockCount.objects.count() == 1


def test_the_last_sheets_of_an_order_are_received_once(cast: Cast, copper: Metal) -> None:
    order = ordering.write_order(
        cast.school,
        [ordering.OrderLine(copper, 3, Decimal(100), Decimal(100))],
        acting=cast.teacher,
        ordered_on=dt.date(2026, 11, 2),
    )
    of = order.lines.get()

    def receive(number: int) -> None:
        line = SheetLine(copper, 1, Decimal(100), Decimal(100), Decimal(10), order_line=of)
        receiving.receive_purchase(
            cast.school, [line], acting=cast.teacher, bought_on=dt.date(2026, 11, 2), order=order
        )

    assert by_many(8, receive).count(None) == 3
    assert StockPiece.objects.count() == 3


def test_of_12_sales_at_once_a_box_that_holds_5_serves_5(cast: Cast) -> None:
    scrap.weigh_scrap(
        cast.school, "C11000", Decimal("50.00"), acting=cast.teacher, reason="trays emptied"
    )
    budget = ledger.open_budget(cast.course)

    def sell(number: int) -> None:
        scrap.sell_scrap(
            cast.school,
            "C11000",
            Decimal("10.00"),
            Decimal("1.00"),
            acting=cast.teacher,
            budget=Budget.objects.get(pk=budget.pk),
            sold_on=dt.date(2026, 11, 2),
        )

    assert by_many(12, sell).count(None) == 5
    budget.refresh_from_db()
    assert budget.allotted == Decimal("5.00")
    assert scrap.box_mass(cast.school, "C11000") == 0


def test_transfers_across_each_other_at_once_neither_lock_up_nor_make_money(cast: Cast) -> None:
    second = Course.objects.create(
        school=cast.school,
        title="Metals 2",
        term="Autumn 2026",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    pair = [ledger.open_budget(cast.course), ledger.open_budget(second)]
    for budget in pair:
        ledger.allot(budget, Decimal("30.00"), acting=cast.teacher, reason="term")

    def move(number: int) -> None:
        there, back = pair if number % 2 else reversed(pair)
        ledger.transfer(
            Budget.objects.get(pk=there.pk),
            Budget.objects.get(pk=back.pk),
            Decimal("4.00"),
            acting=cast.teacher,
            reason=f"number {number}",
        )

    refusals = by_many(12, move)
    left = [Budget.objects.get(pk=budget.pk).left for budget in pair]
    assert sum(left) == Decimal("60.00")
    assert min(left) >= 0
    assert refusals.count(None) == 12
    assert [fault for budget in pair for fault in ledger.audit(budget)] == []


def test_blades_received_and_used_at_once_all_count(cast: Cast) -> None:
    supply = Consumable.objects.create(
        school=cast.school,
        name="Saw blades 2/0",
        kind="blade",
        unit="blade",
        price="0.42",
        priced_on="2026-11-02",
        uses_per_unit=10,
        per="cm_sawn",
    )
    supplying.count(supply, Decimal(50), acting=cast.teacher, reason="start")

    def use(number: int) -> None:
        one = Consumable.objects.get(pk=supply.pk)
        if number % 2:
            supplying.receive(one, Decimal(3), acting=cast.teacher, reason="came")
        else:
            supplying.use_up(one, Decimal(10), acting=cast.teacher, reason="r", cause="cutplan:1")

    assert by_many(12, use) == [None] * 12
    supply.refresh_from_db()
    assert supply.on_hand == 50 + 6 * 3 - 6
    assert list(audit_supplies(cast.school)) == []


def test_scrap_sold_while_money_is_booked_never_waits_in_a_ring(cast: Cast) -> None:
    """A row that others point at is held so that they still can: whoever holds the school's row
    while waiting for the budget must not keep from writing history those who hold the budget."""
    budget = ledger.open_budget(cast.course)
    scrap.weigh_scrap(
        cast.school, "C11000", Decimal(500), acting=cast.teacher, reason="a year's scrap"
    )

    def deed(number: int) -> None:
        for _ in range(4):
            if number % 2:
                scrap.sell_scrap(
                    cast.school,
                    "C11000",
                    Decimal(10),
                    Decimal("1.00"),
                    acting=cast.teacher,
                    budget=Budget.objects.get(pk=budget.pk),
                    sold_on=dt.date(2026, 11, 2),
                )
            else:
                ledger.allot(
                    Budget.objects.get(pk=budget.pk),
                    Decimal("1.00"),
                    acting=cast.teacher,
                    reason="autumn",
                )

    assert by_many(8, deed) == [None] * 8
    budget.refresh_from_db()
    assert budget.allotted == Decimal("32.00")
    assert scrap.box_mass(cast.school, "C11000") == Decimal(340)
    assert ledger.audit(budget) == []
