"""A sheet of two students, handed out to be passed on."""

from __future__ import annotations

import pytest

from tests.studio.bench.making import World

from .making import Passed, passed_plan


@pytest.fixture
def passed(world: World) -> Passed:
    """The owner's and the classmate's tags side by side on one sheet."""
    return passed_plan(world, [world.cast.seat, world.cast.classmate_seat])
