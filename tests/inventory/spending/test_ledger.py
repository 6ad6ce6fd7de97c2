"""The budget: every booking is guarded, and the totals always equal their entries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from classroom.models import HistoryIsKept
from classroom.refusals import Refused
from inventory.models import Budget, BudgetEntry
from inventory.spending import ledger
from inventory.spending.ledger import OverBudget
from tests.people import Cast

CENT = Decimal("0.01")


@pytest.fixture
def budget(cast: Cast) -> Budget:
    budget = ledger.open_budget(cast.course)
    ledger.allot(budget, Decimal("100.00"), acting=cast.teacher, reason="autumn term")
    return budget


def book(verb: Any, budget: Budget, amount: str, cast: Cast, cause: str = "plan:1") -> Any:
    return verb(budget, Decimal(amount), acting=cast.teacher, reason="for a plan", cause=cause)


def test_opening_a_budget_twice_gives_the_same_budget(cast: Cast) -> None:
    assert ledger.open_budget(cast.course) == ledger.open_budget(cast.course)
    assert Budget.objects.count() == 1


def test_money_moves_from_allotted_to_committed_to_charged_to_credited(
    cast: Cast, budget: Budget
) -> None:
    book(ledger.commit, budget, "40.00", cast)
    assert (budget.committed, budget.left) == (Decimal("40.00"), Decimal("60.00"))
    book(ledger.release, budget, "40.00", cast)
    book(ledger.charge, budget, "40.00", cast)
    assert (budget.charged, budget.left) == (Decimal("40.00"), Decimal("60.00"))
    book(ledger.credit, budget, "2.50", cast)
    assert budget.left == Decimal("62.50")
    assert ledger.audit(budget) == []
    assert [entry.kind for entry in budget.entries.all()] == [
        "allotment",
        "commitment",
        "release",
        "charge",
        "credit",
    ]


def test_every_entry_says_who_and_why(cast: Cast, budget: Budget) -> None:
    entry = book(ledger.commit, budget, "1.00", cast)
    assert (entry.actor, entry.reason, entry.cause) == (cast.teacher, "for a plan", "plan:1")
    with pytest.raises(Refused, match="Say why"):
        ledger.allot(budget, Decimal(1), acting=cast.teacher, reason="  ")
    with pytest.raises(ValueError, match="cause"):
        book(ledger.commit, budget, "1.00", cast, cause="")


def test_the_last_cent_can_be_committed_and_not_one_more(cast: Cast, budget: Budget) -> None:
    # Added as floats these miss the whole; a tenth at a time must still fit.
    assert sum([90.0] + [0.1] * 100) != 100.0
    book(ledger.commit, budget, "90.00", cast, cause="plan:all")
    for number in range(100):
        book(ledger.commit, budget, "0.10", cast, cause=f"plan:{number}")
    assert budget.left == 0
    with pytest.raises(OverBudget):
        book(ledger.commit, budget, "0.01", cast)
    assert ledger.audit(budget) == []


def test_a_commitment_over_budget_is_refused_whole_and_names_what_is_missing(
    cast: Cast, budget: Budget
) -> None:
    book(ledger.commit, budget, "90.00", cast)
    with pytest.raises(OverBudget) as refusal:
        book(ledger.commit, budget, "12.30", cast, cause="plan:2")
    assert refusal.value.left == Decimal("10.00")
    assert refusal.value.missing == Decimal("2.30")
    assert "10.00 USD is left" in str(refusal.value)
    assert "2.30 USD is missing" in str(refusal.value)
    assert BudgetEntry.objects.filter(cause="plan:2").count() == 0
    assert ledger.audit(budget) == []


def test_a_teacher_overdraws_with_a_reason_by_just_what_is_missing(
    cast: Cast, budget: Budget
) -> None:
    ledger.commit(
        budget,
        Decimal("112.30"),
        acting=cast.teacher,
        reason="whole class",
        cause="plan:1",
        overdraw_reason="the fair is on Friday",
    )
    assert budget.left == Decimal("-12.30")
    overdraw = budget.entries.get(kind="overdraw")
    assert (overdraw.amount, overdraw.reason) == (Decimal("12.30"), "the fair is on Friday")
    with pytest.raises(OverBudget, match=r"0\.01 USD is missing"):
        book(ledger.commit, budget, "0.01", cast, cause="plan:2")
    assert ledger.audit(budget) == []


def test_an_overdrawn_commitment_can_be_charged_without_asking_again(
    cast: Cast, budget: Budget
) -> None:
    ledger.commit(
        budget,
        Decimal("110.00"),
        acting=cast.teacher,
        reason="whole class",
        cause="plan:1",
        overdraw_reason="the fair is on Friday",
    )
    book(ledger.release, budget, "110.00", cast)
    book(ledger.charge, budget, "110.00", cast)
    assert budget.left == Decimal("-10.00")
    assert ledger.audit(budget) == []


def test_an_overdraft_ends_when_money_comes_in(cast: Cast, budget: Budget) -> None:
    ledger.commit(
        budget,
        Decimal("110.00"),
        acting=cast.teacher,
        reason="whole class",
        cause="plan:1",
        overdraw_reason="the fair is on Friday",
    )
    ledger.allot(budget, Decimal("50.00"), acting=cast.teacher, reason="from the fair")
    assert (budget.left, budget.overdraw_allowed) == (Decimal("40.00"), Decimal(0))
    with pytest.raises(OverBudget):
        book(ledger.charge, budget, "40.01", cast)
    assert ledger.audit(budget) == []


def test_unused_money_is_taken_back_and_used_money_is_not(cast: Cast, budget: Budget) -> None:
    book(ledger.commit, budget, "30.00", cast)
    with pytest.raises(Refused, match=r"Only 70\.00 USD is left"):
        ledger.allot(budget, Decimal("-70.01"), acting=cast.teacher, reason="to another course")
    ledger.allot(budget, Decimal("-70.00"), acting=cast.teacher, reason="to another course")
    assert (budget.allotted, budget.left) == (Decimal("30.00"), Decimal(0))
    assert ledger.audit(budget) == []


def test_a_commitment_is_released_once(cast: Cast, budget: Budget) -> None:
    book(ledger.commit, budget, "10.00", cast, cause="plan:1")
    book(ledger.commit, budget, "10.00", cast, cause="plan:2")
    book(ledger.release, budget, "10.00", cast, cause="plan:1")
    with pytest.raises(Refused, match="released it already"):
        book(ledger.release, budget, "10.00", cast, cause="plan:1")
    assert budget.committed == Decimal("10.00")
    assert ledger.audit(budget) == []


def test_no_more_is_credited_than_was_charged(cast: Cast, budget: Budget) -> None:
    book(ledger.charge, budget, "10.00", cast)
    with pytest.raises(Refused, match="credited"):
        book(ledger.credit, budget, "10.01", cast)
    book(ledger.credit, budget, "10.00", cast)
    assert budget.left == Decimal("100.00")


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-Infinity", "sNaN", "1e400", "1000000.01"])
def test_what_is_no_amount_of_money_is_refused(cast: Cast, budget: Budget, amount: str) -> None:
    with pytest.raises(Refused):
        book(ledger.commit, budget, amount, cast)
    with pytest.raises(Refused):
        ledger.allot(budget, Decimal(amount), acting=cast.teacher, reason="x")
    assert budget.entries.count() == 1


@pytest.mark.parametrize("amount", ["0.001", "12.345", "1e-30"])
def test_what_is_finer_than_a_cent_is_refused(cast: Cast, budget: Budget, amount: str) -> None:
    with pytest.raises(Refused, match="finer than a cent"):
        book(ledger.commit, budget, amount, cast)


def test_a_float_is_never_money(cast: Cast, budget: Budget) -> None:
    with pytest.raises(TypeError):
        ledger.allot(budget, 0.1, acting=cast.teacher, reason="x")  # type: ignore[arg-type]


@pytest.mark.parametrize("verb", [ledger.commit, ledger.release, ledger.charge, ledger.credit])
def test_a_negative_booking_is_refused(cast: Cast, budget: Budget, verb: Any) -> None:
    with pytest.raises(Refused, match="at least"):
        book(verb, budget, "-0.01", cast)


def test_entries_are_never_changed_or_deleted(cast: Cast, budget: Budget) -> None:
    entry = book(ledger.commit, budget, "1.00", cast)
    entry.amount = Decimal("2.00")
    with pytest.raises(HistoryIsKept):
        entry.save()
    with pytest.raises(HistoryIsKept):
        entry.delete()
    with pytest.raises(HistoryIsKept):
        BudgetEntry.objects.filter(pk=entry.pk).update(amount=2)


def test_the_database_itself_refuses_an_overspent_budget(cast: Cast, budget: Budget) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Budget.objects.filter(pk=budget.pk).update(committed=Decimal("100.01"))


def test_the_audit_notices_a_total_that_its_entries_do_not_explain(
    cast: Cast, budget: Budget
) -> None:
    Budget.objects.filter(pk=budget.pk).update(allotted=Decimal("100.01"))
    assert ledger.audit(budget) == ["allotted is 100.01, its entries say 100.00"]


_deeds = st.lists(
    st.tuples(
        st.sampled_from(["allot", "take", "commit", "overdraw", "release", "charge", "credit"]),
        st.integers(min_value=0, max_value=20_000),
        st.sampled_from(["plan:1", "plan:2"]),
    ),
    max_size=25,
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(deeds=_deeds)
def test_totals_equal_entries_whatever_is_booked(cast: Cast, deeds: list[Any]) -> None:
    """Any order of bookings, refused or not; and nobody overdraws without a reason."""
    with transaction.atomic():
        budget = ledger.open_budget(cast.course)
        reasoned = False
        for deed, cents, cause in deeds:
            amount = cents * CENT
            how: Any = {"acting": cast.teacher, "reason": "random"}
            try:
                with transaction.atomic():
                    if deed == "allot":
                        ledger.allot(budget, amount, **how)
                    elif deed == "take":
                        ledger.allot(budget, -amount, **how)
                    elif deed == "overdraw":
                        ledger.commit(budget, amount, cause=cause, overdraw_reason="why", **how)
                        reasoned = True
                    else:
                        getattr(ledger, deed)(budget, amount, cause=cause, **how)
            except Refused:
                pass
            assert ledger.audit(budget) == []
            budget.refresh_from_db()
            assert budget.left >= -budget.overdraw_allowed
            assert reasoned or budget.left >= 0
        transaction.set_rollback(True)
