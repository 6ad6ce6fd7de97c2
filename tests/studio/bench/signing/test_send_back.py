"""A teacher opens a signed step again, with a reason, as long as nothing later has begun."""

from __future__ import annotations

import datetime as dt

import pytest
from time_machine import Traveller

from classroom.models import History
from classroom.refusals import Refused
from studio.models import Project, SignOff
from studio.steps.bench.sign import send_back, sign_done, start_step
from tests.studio.bench.making import World, do_steps, make_it, step_of


def test_the_step_opens_again_and_its_wait_begins_anew(
    world: World, project: Project, clock: Traveller
) -> None:
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step, acting=world.cast.owner)
    send_back(step, acting=world.cast.teacher, reason="One corner lifts.")
    step = step_of(project, "dry")
    assert (step.started_at, step.wait_until, step.student_signed_at, step.done_at) == (None,) * 4
    row = SignOff.objects.get(kind="sent_back")
    assert (row.by, row.reason) == (world.cast.teacher, "One corner lifts.")
    history = History.objects.about(project).first()
    assert history is not None
    assert (history.verb, history.detail["why"]) == ("step-sent-back", "One corner lifts.")
    with pytest.raises(Refused, match="has not been started"):
        sign_done(step, acting=world.cast.owner)
    step = start_step(step, acting=world.cast.owner)
    with pytest.raises(Refused, match="needs its time"):
        sign_done(step, acting=world.cast.owner)


def test_a_second_tap_sends_nothing_back_again(
    world: World, project: Project, clock: Traveller
) -> None:
    do_steps(project, "adhere", clock, world.cast)
    step = step_of(project, "prepare")
    send_back(step, acting=world.cast.teacher, reason="dark spots")
    send_back(step, acting=world.cast.teacher, reason="dark spots")
    assert SignOff.objects.filter(kind="sent_back").count() == 1


@pytest.mark.parametrize("reason", ["", "   ", "\n\t"])
def test_refused_without_a_reason(
    world: World, project: Project, clock: Traveller, reason: str
) -> None:
    do_steps(project, "adhere", clock, world.cast)
    with pytest.raises(Refused, match="Say what is to be done better"):
        send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason=reason)
    assert step_of(project, "prepare").done_at is not None


def test_refused_with_a_reason_too_long_to_keep(
    world: World, project: Project, clock: Traveller
) -> None:
    do_steps(project, "adhere", clock, world.cast)
    with pytest.raises(Refused, match="at most 200"):
        send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason="x" * 201)


def test_refused_once_the_next_step_has_begun(
    world: World, project: Project, clock: Traveller
) -> None:
    start_step(do_steps(project, "adhere", clock, world.cast), acting=world.cast.owner)
    with pytest.raises(Refused, match="Send that one back first"):
        send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason="dark spots")


def test_refused_for_a_step_that_is_open_anyway(world: World, project: Project) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    with pytest.raises(Refused, match="nothing to send back"):
        send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason="dark spots")


def test_only_a_teacher_of_the_course_sends_back(
    world: World, project: Project, clock: Traveller
) -> None:
    do_steps(project, "adhere", clock, world.cast)
    cast = world.cast
    for person in (cast.owner, cast.classmate, cast.other_teacher, cast.outsider):
        with pytest.raises(Refused, match="Only a teacher of this course"):
            send_back(step_of(project, "prepare"), acting=person, reason="dark spots")
    assert step_of(project, "prepare").done_at is not None


def test_the_last_step_sent_back_brings_a_made_project_to_the_bench_again(
    world: World, project: Project, clock: Traveller
) -> None:
    make_it(project, clock, world.cast)
    assert project.stage == Project.Stage.MADE
    send_back(step_of(project, "finish"), acting=world.cast.teacher, reason="a burr is left")
    project.refresh_from_db()
    assert project.stage == Project.Stage.AT_BENCH
    make_it(project, clock, world.cast)
    assert project.stage == Project.Stage.MADE


def test_refused_once_the_project_is_closed(
    world: World, project: Project, clock: Traveller
) -> None:
    make_it(project, clock, world.cast)
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.CLOSED)
    with pytest.raises(Refused, match="closed, so its steps stay"):
        send_back(step_of(project, "finish"), acting=world.cast.teacher, reason="a burr is left")
