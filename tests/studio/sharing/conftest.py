"""What tests of shared metal begin with."""

from __future__ import annotations

import pytest

from studio.models import CutPlan, Project
from tests.studio.bench.making import World

from . import making


@pytest.fixture
def two(world: World) -> tuple[Project, Project]:
    """A project of the owner and one of the classmate, to be placed."""
    return world.project(world.cast.seat), world.project(world.cast.classmate_seat)


@pytest.fixture
def plan(world: World, two: tuple[Project, Project]) -> CutPlan:
    """A sheet to be parted for the two, handed out."""
    return making.handed_out(world, making.parted(world, *two))
