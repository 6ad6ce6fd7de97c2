"""Money is whole cents: what is not is refused at the door, and every split adds up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final

from classroom.refusals import Refused

CENT: Final = Decimal("0.01")
MOST_AT_ONCE: Final = Decimal("1000000.00")
"""No single amount is larger: a slip of the finger, not a school's metal."""
MOST_IN_ALL: Final = Decimal("99999999.99")
"""What a running total holds (10 digits)."""


def whole_cents(amount: Decimal | int, *, least: Decimal | int = 0) -> Decimal:
    """The amount with exactly two places.

    Raises Refused for what is no number, is finer than a cent, is below `least` or beyond
    `MOST_AT_ONCE` either way; TypeError for a float, which is never money.
    """
    if isinstance(amount, float | bool) or not isinstance(amount, Decimal | int):
        raise TypeError("Money is a Decimal, never a float.")
    value = Decimal(amount)
    if not value.is_finite():
        raise Refused("That is not an amount of money: give a figure such as 12.50.")
    if abs(value) > MOST_AT_ONCE:
        raise Refused(f"That amount is too large: at most {MOST_AT_ONCE:,.2f} at once.")
    try:
        cents = value.quantize(CENT)
    except InvalidOperation:
        raise Refused("That is not an amount of money: give a figure such as 12.50.") from None
    if cents != value:
        raise Refused(f"{value.normalize():f} is finer than a cent: give two decimals at most.")
    if cents < least:
        raise Refused(f"The amount must be at least {Decimal(least):,.2f}.")
    # Minus nothing would print as "-0.00".
    return abs(cents) if cents == 0 else cents


def even_shares(total: Decimal, count: int) -> list[Decimal]:
    """`total` in `count` shares that differ by a cent at most and add up exactly.

    The odd cents go to the first ones. Raises ValueError for a count below one.
    """
    if count < 1:
        raise ValueError("There is nobody to share with.")
    cents = int(whole_cents(total) / CENT)
    each, odd = divmod(cents, count)
    return [Decimal(each + (1 if place < odd else 0)) * CENT for place in range(count)]


def shares_by_value(total: Decimal, values: Sequence[Decimal]) -> list[Decimal]:
    """`total` shared in proportion to the values, in whole cents that add up exactly.

    Cents that are left go to the largest remainders, among equal ones to the first. Where all
    values are nothing, the shares are even. Raises ValueError without anybody to share with.
    """
    worth = sum(values, Decimal(0))
    if not worth:
        return even_shares(total, len(values))
    cents = int(whole_cents(total) / CENT)
    exact = [Fraction(value) * cents / Fraction(worth) for value in values]
    shares = [math.floor(part) for part in exact]
    by_remainder = sorted(
        range(len(values)), key=lambda place: (shares[place] - exact[place], place)
    )
    for place in by_remainder[: cents - sum(shares)]:
        shares[place] += 1
    return [Decimal(share) * CENT for share in shares]
