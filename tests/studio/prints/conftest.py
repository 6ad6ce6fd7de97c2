"""Plans to print, and what it takes to make a PDF."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine

from tests.people import Cast
from tests.studio.bench.making import World, make_world

MORNING = dt.datetime(2026, 11, 25, 14, 0, tzinfo=dt.UTC)


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MORNING, tick=False) as traveller:
        yield traveller


@pytest.fixture
def world(clock: time_machine.Traveller, cast: Cast) -> World:
    """Copper, two sheets of 120 × 80 mm, a brief, and money."""
    return make_world(cast)
