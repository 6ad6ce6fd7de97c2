"""The bench of one student, on a morning when the class works."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine

from tests.people import Cast

from .making import World, make_world

MORNING = dt.datetime(2026, 11, 25, 14, 0, tzinfo=dt.UTC)
"""10:00 in Halifax, where the cast's school is."""


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MORNING, tick=False) as traveller:
        yield traveller


@pytest.fixture
def world(clock: time_machine.Traveller, cast: Cast) -> World:
    return make_world(cast)
