"""Whatever a school does, in whatever order: its books add up to 1 mm² and 1 cent."""

from __future__ import annotations

import pytest

from inventory.auditing import audit
from studio.auditing import audit_plans
from tests.people import Cast
from tests.studio.bench.making import make_world
from tests.studio.rack.random_days import RandomDays


def _live(cast: Cast, deeds: int, seed: int, look_every: int) -> RandomDays:
    days = RandomDays(make_world(cast, sheets=6), seed)
    for number in range(1, deeds + 1):
        days.do()
        if number % look_every == 0:
            assert [*audit(), *audit_plans()] == [], f"after deed {number}, {days.done}"
    return days


@pytest.mark.parametrize("seed", [4, 7])
def test_after_300_random_deeds_all_balances_hold(cast: Cast, seed: int) -> None:
    days = _live(cast, 300, seed, 100)
    assert days.done.get("close", 0) >= 2
    assert len(days.done) >= len(days.deeds) - 2  # a rare deed may have found nothing to do


@pytest.mark.slow
def test_after_10_000_random_deeds_all_balances_hold(cast: Cast) -> None:
    days = _live(cast, 10_000, 7, 1_000)
    assert days.done.get("close", 0) >= 30
