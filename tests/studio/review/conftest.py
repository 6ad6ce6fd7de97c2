"""A class that has used metal: one plan closed, one still at the bench."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import pytest
import time_machine

from studio.models import CutPlan, Project
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.people import Cast
from tests.studio.bench.making import World, make_world


@dataclass
class Class:
    world: World
    cast: Cast
    own: Project
    classmates: Project
    closed: CutPlan


def close(world: World, plan: CutPlan) -> None:
    made = plan.shares.values_list("project", flat=True)
    Project.objects.filter(pk__in=made).update(stage=Project.Stage.MADE)
    close_plan(
        plan,
        acting=world.cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal("2.50"),
    )


@pytest.fixture
def after(clock: time_machine.Traveller, cast: Cast) -> Class:
    """Owner and classmate have shared one sheet, and the plan is closed."""
    world = make_world(cast, sheets=4)
    own, classmates = world.project(cast.seat), world.project(cast.classmate_seat)
    plan = world.issued(own, classmates)
    close(world, plan)
    return Class(world, cast, own, classmates, plan)
