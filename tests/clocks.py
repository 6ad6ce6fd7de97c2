"""Clocks that stand still on a day of the autumn term, at home in the cast's school (Halifax)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import pytest
import time_machine

EARLY = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
"""08:00, before anybody is there."""
MORNING = dt.datetime(2026, 11, 25, 14, tzinfo=dt.UTC)
"""10:00, when the class works."""
NOON = dt.datetime(2026, 11, 25, 16, tzinfo=dt.UTC)


def stopped_at(
    moment: dt.datetime, *, always: bool = False
) -> Callable[..., Iterator[time_machine.Traveller]]:
    """A fixture: the clock stands at `moment` and moves when a test moves it.

    `always`: for every test of the module, asked for or not.
    """

    @pytest.fixture(autouse=always)
    def clock() -> Iterator[time_machine.Traveller]:
        with time_machine.travel(moment, tick=False) as traveller:
            yield traveller

    return clock
