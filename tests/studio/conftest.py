"""A class at work: its morning, its metal and its plans."""

from __future__ import annotations

import pytest
import time_machine

from tests.clocks import MORNING, stopped_at
from tests.people import Cast
from tests.studio.bench.making import World, make_world

clock = stopped_at(MORNING)


@pytest.fixture
def world(clock: time_machine.Traveller, cast: Cast) -> World:
    """Copper, two sheets of 120 × 80 mm, a brief, and money, at ten in the morning."""
    return make_world(cast)
