"""The student signs a step as done: after starting it, after its wait, under its permits."""

from __future__ import annotations

import datetime as dt

import pytest
from time_machine import Traveller

from classroom.refusals import Refused
from classroom.safety.permits import withdraw
from studio.models import BenchStep, Project, SignOff
from studio.steps.bench.sign import check_step, sign_done, start_step
from tests.studio.bench.making import World, do_steps, make_it, step_of


@pytest.fixture
def drying(world: World, project: Project, clock: Traveller) -> BenchStep:
    """The drying step, just started at 10:00 on the school's clock."""
    return start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)


def refused_sign(step: BenchStep, world: World) -> str:
    before = SignOff.objects.count()
    with pytest.raises(Refused) as refusal:
        sign_done(step, acting=world.cast.owner)
    assert SignOff.objects.count() == before
    assert BenchStep.objects.get(pk=step.pk).student_signed_at is None
    return str(refusal.value)


def test_a_step_without_a_teachers_check_is_done_by_the_students_word(
    world: World, project: Project
) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    step = sign_done(step_of(project, "prepare"), acting=world.cast.owner)
    assert step.done_at is not None
    kinds = list(SignOff.objects.filter(step=step).values_list("kind", "wording_sha"))
    assert kinds == [("started", step.wording_sha), ("done", step.wording_sha)]


def test_refused_before_it_is_started(world: World, project: Project) -> None:
    text = refused_sign(step_of(project, "prepare"), world)
    assert text == "“Prepare the metal” has not been started. Press “Start” first, then do it."


def test_a_second_tap_signs_nothing_new(world: World, project: Project, clock: Traveller) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    first = sign_done(step_of(project, "prepare"), acting=world.cast.owner)
    clock.shift(3)
    again = sign_done(step_of(project, "prepare"), acting=world.cast.owner)
    assert again.done_at == first.done_at
    assert SignOff.objects.filter(kind="done").count() == 1


def test_a_tap_from_a_page_that_is_out_of_date_is_harmless(world: World, project: Project) -> None:
    stale = step_of(project, "prepare")
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    sign_done(stale, acting=world.cast.owner)
    start_step(stale, acting=world.cast.owner)
    assert SignOff.objects.count() == 2


def test_drying_can_be_signed_when_its_time_is_over(
    world: World, drying: BenchStep, clock: Traveller
) -> None:
    clock.shift(dt.timedelta(minutes=20))
    assert sign_done(drying, acting=world.cast.owner).student_signed_at is not None


def test_drying_is_refused_one_second_before(
    world: World, drying: BenchStep, clock: Traveller
) -> None:
    clock.shift(dt.timedelta(minutes=19, seconds=59))
    text = refused_sign(drying, world)
    assert "can be signed from 10:20, and not before" in text
    assert "A teacher can end the wait" in text


def test_starting_again_does_not_move_the_end_of_the_wait(
    world: World, drying: BenchStep, clock: Traveller
) -> None:
    clock.shift(dt.timedelta(minutes=19))
    start_step(drying, acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=1))
    assert sign_done(drying, acting=world.cast.owner).student_signed_at is not None


def test_a_wait_over_night_names_the_day(world: World, project: Project, clock: Traveller) -> None:
    project.bench_steps.filter(kind="dry").update(wait_minutes=24 * 60)
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    assert "from 10:00 on 26 November" in refused_sign(step, world)


def test_soaking_keeps_its_time_too(world: World, project: Project, clock: Traveller) -> None:
    step = start_step(do_steps(project, "remove", clock, world.cast), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=9, seconds=59))
    assert "needs its time" in refused_sign(step, world)
    clock.shift(dt.timedelta(seconds=1))
    assert sign_done(step, acting=world.cast.owner).done_at is not None


def test_refused_when_the_permit_was_withdrawn_during_the_work(
    world: World, project: Project
) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    permit = world.cast.owner.permits.get(topic__code="abrasives-dust")
    withdraw(permit, acting=world.cast.teacher, reason="no goggles")
    assert "does not hold today" in refused_sign(step_of(project, "prepare"), world)


def test_refused_when_the_permit_ran_out_over_night(
    world: World, project: Project, clock: Traveller
) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    clock.shift(dt.timedelta(days=366))
    assert "does not hold today" in refused_sign(step_of(project, "prepare"), world)


def test_refused_when_the_project_was_closed_meanwhile(world: World, project: Project) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.CLOSED)
    assert refused_sign(step_of(project, "prepare"), world) == "This project is closed."


def test_refused_for_everybody_but_the_student(world: World, project: Project) -> None:
    step = start_step(step_of(project, "prepare"), acting=world.cast.owner)
    cast = world.cast
    for person in (cast.classmate, cast.teacher, cast.outsider, cast.outside_student):
        with pytest.raises(Refused, match="Only the student"):
            sign_done(step, acting=person)
    assert step_of(project, "prepare").student_signed_at is None


def test_a_step_that_a_teacher_signs_stays_open_until_then(
    world: World, drying: BenchStep, clock: Traveller
) -> None:
    clock.shift(dt.timedelta(minutes=20))
    step = sign_done(drying, acting=world.cast.owner)
    assert step.done_at is None
    step = check_step(step, acting=world.cast.teacher)
    assert step.done_at is not None


def test_after_the_last_step_the_project_is_made(
    world: World, project: Project, clock: Traveller
) -> None:
    step = do_steps(project, "finish", clock, world.cast)
    start_step(step, acting=world.cast.owner)
    sign_done(step, acting=world.cast.owner)
    project.refresh_from_db()
    assert project.stage == Project.Stage.AT_BENCH
    check_step(step, acting=world.cast.teacher)
    project.refresh_from_db()
    assert project.stage == Project.Stage.MADE


def test_every_sign_off_names_the_wording_that_was_shown(
    world: World, project: Project, clock: Traveller
) -> None:
    make_it(project, clock, world.cast)
    for row in SignOff.objects.select_related("step"):
        assert row.wording_sha == row.step.wording_sha
    assert SignOff.objects.filter(kind="done").count() == 7
