"""The bench of one student, with metal in hand."""

from __future__ import annotations

import pytest

from studio.models import Project

from .making import World, give_permits


@pytest.fixture
def project(world: World) -> Project:
    """The owner's, at the bench, with every permit that its steps ask for."""
    made = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    return made
