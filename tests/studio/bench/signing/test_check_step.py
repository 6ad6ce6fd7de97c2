"""The teacher checks what the student signed, one step or several at once."""

from __future__ import annotations

import datetime as dt

import pytest
from time_machine import Traveller

from classroom.models import History
from classroom.refusals import Refused
from studio.models import BenchStep, Project, SignOff
from studio.steps.bench.sign import check_step, check_steps, send_back, sign_done, start_step
from tests.studio.bench.making import World, do_steps, give_permits, step_of


@pytest.fixture
def signed(world: World, clock: Traveller) -> BenchStep:
    """The owner's drying step, signed by the student and waiting for the teacher."""
    return signed_step(world, world.at_bench(), clock)


def signed_step(world: World, project: Project, clock: Traveller) -> BenchStep:
    student = project.seat.student
    give_permits(world.cast, student)
    start_step(do_steps(project, "dry", clock, world.cast), acting=student)
    clock.shift(dt.timedelta(minutes=20))
    return sign_done(step_of(project, "dry"), acting=student)


def test_a_check_finishes_the_step(world: World, signed: BenchStep) -> None:
    step = check_step(signed, acting=world.cast.teacher, seen=signed.student_signed_at)
    assert step.done_at is not None
    row = SignOff.objects.get(step=step, kind="checked")
    assert (row.by, row.wording_sha) == (world.cast.teacher, step.wording_sha)
    history = History.objects.about(step.project).first()
    assert history is not None
    assert history.verb == "step-checked"


def test_a_second_check_changes_nothing(world: World, signed: BenchStep) -> None:
    check_step(signed, acting=world.cast.teacher)
    check_step(signed, acting=world.cast.teacher)
    assert SignOff.objects.filter(kind="checked").count() == 1


def refused_check(step: BenchStep, world: World, **more: object) -> str:
    with pytest.raises(Refused) as refusal:
        check_step(step, acting=world.cast.teacher, **more)  # type: ignore[arg-type]
    assert not SignOff.objects.filter(step=step, kind="checked").exists()
    assert BenchStep.objects.get(pk=step.pk).done_at is None
    return str(refusal.value)


def test_refused_before_the_student_has_signed(world: World, signed: BenchStep) -> None:
    BenchStep.objects.filter(pk=signed.pk).update(student_signed_at=None)
    text = refused_check(signed, world)
    assert "has not been signed as done by the student. Ask for that first" in text


def test_refused_when_it_was_sent_back_and_signed_anew_meanwhile(
    world: World, signed: BenchStep, clock: Traveller
) -> None:
    seen = signed.student_signed_at
    send_back(signed, acting=world.cast.teacher, reason="still damp")
    start_step(signed, acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(signed, acting=world.cast.owner)
    assert "Look at it again" in refused_check(signed, world, seen=seen)


def test_refused_for_a_closed_project(world: World, signed: BenchStep) -> None:
    Project.objects.filter(pk=signed.project_id).update(stage=Project.Stage.CLOSED)
    assert refused_check(signed, world) == "This project is closed."


def test_only_a_teacher_of_the_course_checks(world: World, signed: BenchStep) -> None:
    cast = world.cast
    for person in (cast.owner, cast.classmate, cast.other_teacher, cast.outsider):
        with pytest.raises(Refused, match="Only a teacher of this course"):
            check_step(signed, acting=person)
    assert step_of(signed.project, "dry").done_at is None


def test_several_at_once_and_one_refusal_spoils_no_other(world: World, clock: Traveller) -> None:
    owner, classmate = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    world.issued(owner, classmate)
    good = signed_step(world, owner, clock)
    give_permits(world.cast, world.cast.classmate)
    unsigned = start_step(do_steps(classmate, "dry", clock, world.cast), acting=classmate.student)
    outcome = check_steps(
        [(unsigned, None), (good, good.student_signed_at)], acting=world.cast.teacher
    )
    assert [step.pk for step in outcome.signed] == [good.pk]
    assert len(outcome.refused) == 1
    assert step_of(owner, "dry").done_at is not None
    assert step_of(classmate, "dry").done_at is None
