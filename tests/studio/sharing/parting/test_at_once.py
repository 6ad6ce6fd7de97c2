"""Two people part the same metal at the same moment, on real connections: it is parted once."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from inventory.models import StockPiece
from studio.models import CutPlan, PartEntry, StockSignOff, StockStep
from studio.steps.sharing.parting.part import sign_parted, start_parting
from tests.at_once import done_or_refused
from tests.people import make_cast
from tests.studio.bench.making import World, make_world
from tests.studio.sharing import making

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def world() -> World:
    return make_world(make_cast())


def test_two_who_start_and_sign_at_once_part_it_once(world: World) -> None:
    two = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    plan = making.handed_out(world, making.parted(world, *two))
    step = StockStep.objects.get(plan_stock__plan=plan)
    another = world.cast.other_teacher
    world.cast.course.teachers.add(another)
    people = (world.cast.teacher, another)
    done_or_refused(*(lambda who=who: start_parting(step, acting=who) for who in people))  # type: ignore[misc]
    assert StockSignOff.objects.filter(kind="started").count() == 1
    answers = done_or_refused(
        *(lambda who=who: sign_parted(step, acting=who) for who in people)  # type: ignore[misc]
    )
    told = [sorted(entry.pk for entry in answer) for answer in answers]
    assert told[0] == told[1]
    assert PartEntry.objects.count() == 3
    assert StockSignOff.objects.filter(kind="done").count() == 1
    assert StockPiece.objects.filter(parent=world.sheets[0]).count() == 3
    assert CutPlan.objects.filter(parent=plan).count() == 2
    call_command("audit_stock")
