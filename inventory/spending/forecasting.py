"""Will the money last to the end of term? A straight line through what was spent so far. Pure."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, Protocol

LEAST_WEEKS: Final = 2
"""Before that a line through the spending says nothing."""
CENT: Final = Decimal("0.01")


class Totals(Protocol):
    """A budget's running totals."""

    committed: Decimal
    charged: Decimal
    credited: Decimal

    @property
    def left(self) -> Decimal: ...


@dataclass(frozen=True, slots=True)
class Forecast:
    """Money by week so far, weeks still to go, and what the term's end would leave.

    What is committed is on its way to be spent, so it counts as part of what is still to come.
    """

    weeks_gone: Decimal
    weeks_to_go: Decimal
    per_week: Decimal
    still_to_spend: Decimal
    committed: Decimal
    at_the_end: Decimal

    @property
    def is_short(self) -> bool:
        return self.at_the_end < 0


def forecast(
    budget: Totals, *, starts_on: dt.date, ends_on: dt.date, today: dt.date
) -> Forecast | None:
    """The forecast to the end of term; None before or after it, or while it says nothing yet."""
    gone, to_go = (today - starts_on).days, (ends_on - today).days
    spent = budget.charged - budget.credited
    if gone < 7 * LEAST_WEEKS or to_go < 0 or spent <= 0:
        return None
    weeks, ahead = Decimal(gone) / 7, Decimal(to_go) / 7
    per_week = spent / weeks
    still = max(per_week * ahead, budget.committed)
    return Forecast(
        weeks_gone=weeks.quantize(Decimal("0.1")),
        weeks_to_go=ahead.quantize(Decimal("0.1")),
        per_week=_cents(per_week),
        still_to_spend=_cents(still),
        committed=budget.committed,
        at_the_end=budget.left + budget.committed - _cents(still),
    )


def _cents(value: Decimal) -> Decimal:
    return value.quantize(CENT, ROUND_HALF_UP)
