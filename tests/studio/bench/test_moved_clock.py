"""Waits at the bench are counted in minutes that pass, not in what the clock on the wall shows."""

from __future__ import annotations

import datetime as dt

import pytest
from time_machine import Traveller

from classroom.models import BenchPermit
from classroom.refusals import Refused
from studio.models import BenchStep
from studio.steps.bench.rules import wait_end
from studio.steps.bench.sign import override_step, sign_done, start_step
from studio.steps.bench.situation import school_now
from studio.steps.bench.tablet import open_tablet, tablet_of

from .making import World, do_steps, give_permits, step_of

HOUR = 3600
SPRING = dt.datetime(2026, 3, 8, 5, 30, tzinfo=dt.UTC)
"""01:30 in Halifax, half an hour before 02:00 becomes 03:00."""

AUTUMN = dt.datetime(2026, 11, 1, 4, 30, tzinfo=dt.UTC)
"""01:30 in Halifax for the first time; half an hour later it is 01:00 again."""


def begun(world: World, clock: Traveller) -> BenchStep:
    """The owner's first step that has a waiting time, begun at this moment."""
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    waiting = next(step for step in project.bench_steps.all() if step.wait_minutes)
    do_steps(project, waiting.kind, clock, world.cast)
    return start_step(step_of(project, waiting.kind), acting=world.cast.owner)


@pytest.mark.parametrize("night", [SPRING, AUTUMN])
@pytest.mark.parametrize("minutes", [20, 45, 90, 24 * 60])
def test_a_wait_over_the_night_when_the_clocks_change_is_as_long_as_any_other(
    world: World, night: dt.datetime, minutes: int
) -> None:
    end = wait_end(school_now(world.cast.school, night), minutes)
    assert end.astimezone(dt.UTC) - night == dt.timedelta(minutes=minutes)


@pytest.mark.parametrize("night", [SPRING, AUTUMN])
def test_a_step_that_dries_over_the_change_cannot_be_signed_before_its_minutes_have_passed(
    world: World, clock: Traveller, night: dt.datetime
) -> None:
    clock.move_to(night - dt.timedelta(days=1))
    step = begun(world, clock)
    BenchStep.objects.filter(pk=step.pk).update(wait_minutes=90, started_at=None, wait_until=None)
    clock.move_to(night)
    start_step(step_of(step.project, step.kind), acting=world.cast.owner)
    clock.shift(89 * 60)
    with pytest.raises(Refused, match="needs its time"):
        sign_done(step_of(step.project, step.kind), acting=world.cast.owner)
    clock.shift(60)
    sign_done(step_of(step.project, step.kind), acting=world.cast.owner)


def test_a_clock_put_back_by_an_hour_makes_a_wait_an_hour_longer_which_a_teacher_can_end(
    world: World, clock: Traveller
) -> None:
    """Nobody can tell a wrong clock from a right one at the bench: the longer wait is the safe
    one, and it ends by itself."""
    step = begun(world, clock)
    clock.shift(-HOUR)
    clock.shift(step.wait_minutes * 60)
    with pytest.raises(Refused, match="A teacher can end the wait"):
        sign_done(step_of(step.project, step.kind), acting=world.cast.owner)
    override_step(
        step_of(step.project, step.kind), acting=world.cast.teacher, reason="the clock was wrong"
    )
    sign_done(step_of(step.project, step.kind), acting=world.cast.owner)


def test_a_clock_put_back_by_an_hour_holds_a_wait_for_that_hour_and_no_longer(
    world: World, clock: Traveller
) -> None:
    step = begun(world, clock)
    clock.shift(-HOUR)
    clock.shift(HOUR + (step.wait_minutes + 1) * 60)
    sign_done(step_of(step.project, step.kind), acting=world.cast.owner)


@pytest.mark.parametrize("moved", [HOUR, -HOUR])
def test_a_bench_tablet_works_on_and_ends_with_the_schools_day(
    world: World, clock: Traveller, moved: int
) -> None:
    tablet, secret = open_tablet(world.cast.course, acting=world.cast.teacher)
    clock.shift(moved)
    assert tablet_of(tablet.pk, secret) is not None
    clock.shift(24 * HOUR)
    assert tablet_of(tablet.pk, secret) is None


@pytest.mark.parametrize("moved", [HOUR, -HOUR])
def test_a_permit_is_in_force_whichever_way_the_clock_was_moved(
    world: World, clock: Traveller, moved: int
) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    clock.shift(moved)
    assert BenchPermit.objects.exists()
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
