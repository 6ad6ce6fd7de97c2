"""Whole cents, and shares that add up."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from classroom.refusals import Refused
from inventory.spending.money import even_shares, whole_cents

cents = st.integers(min_value=0, max_value=100_000_000).map(lambda n: Decimal(n) / 100)


@given(total=cents, count=st.integers(min_value=1, max_value=200))
def test_even_shares_add_up_and_differ_by_a_cent_at_most(total: Decimal, count: int) -> None:
    shares = even_shares(total, count)
    assert len(shares) == count
    assert sum(shares) == total
    assert max(shares) - min(shares) <= Decimal("0.01")
    assert shares == sorted(shares, reverse=True)


def test_one_cent_among_three_goes_to_the_first() -> None:
    assert even_shares(Decimal("0.01"), 3) == [Decimal("0.01"), Decimal(0), Decimal(0)]


def test_nobody_to_share_with_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="nobody"):
        even_shares(Decimal(1), 0)


@given(value=st.decimals(allow_nan=True, allow_infinity=True))
def test_any_decimal_is_whole_cents_or_refused(value: Decimal) -> None:
    try:
        amount = whole_cents(value)
    except Refused:
        return
    assert amount == value
    assert amount.as_tuple().exponent == -2
    assert 0 <= amount <= 1_000_000


def test_minus_nothing_is_nothing() -> None:
    assert str(whole_cents(Decimal("-0.00"))) == "0.00"
