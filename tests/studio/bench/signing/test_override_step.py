"""A teacher sets a rule aside, with a reason; which rule it was is kept."""

from __future__ import annotations

import datetime as dt

import pytest
from time_machine import Traveller

from classroom.models import History
from classroom.refusals import Refused
from studio.models import BenchStep, Project, SignOff
from studio.steps.bench.sign import check_step, override_step, send_back, sign_done, start_step
from tests.studio.bench.making import World, do_steps, give_permits, step_of


@pytest.fixture
def project(world: World) -> Project:
    return world.at_bench()


def override(world: World, step: BenchStep, *, mark_done: bool = False) -> BenchStep:
    return override_step(
        step, acting=world.cast.teacher, reason="watched all along", mark_done=mark_done
    )


def test_a_missing_permit_is_set_aside_and_named(world: World, project: Project) -> None:
    step = override(world, step_of(project, "prepare"))
    assert step.started_at is not None
    row = SignOff.objects.get(step=step)
    assert (row.kind, row.set_aside) == ("override", ["permit:abrasives-dust"])
    assert (row.by, row.reason, row.wording_sha) == (
        world.cast.teacher,
        "watched all along",
        step.wording_sha,
    )
    history = History.objects.about(project).first()
    assert history is not None
    assert history.verb == "step-override"
    assert history.detail["rules"] == ["permit:abrasives-dust"]
    assert history.detail["why"] == "watched all along"


def test_the_student_can_then_sign_without_the_permit(world: World, project: Project) -> None:
    override(world, step_of(project, "prepare"))
    assert sign_done(step_of(project, "prepare"), acting=world.cast.owner).done_at is not None


def test_it_holds_for_that_step_only(world: World, project: Project) -> None:
    override(world, step_of(project, "prepare"))
    sign_done(step_of(project, "prepare"), acting=world.cast.owner)
    with pytest.raises(Refused, match="bench permit"):
        start_step(step_of(project, "adhere"), acting=world.cast.owner)


def test_it_ends_when_the_step_is_sent_back(
    world: World, project: Project, clock: Traveller
) -> None:
    override(world, step_of(project, "prepare"))
    sign_done(step_of(project, "prepare"), acting=world.cast.owner)
    clock.shift(60)
    send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason="dark spots")
    with pytest.raises(Refused, match="bench permit"):
        start_step(step_of(project, "prepare"), acting=world.cast.owner)


def test_a_wait_is_ended_and_named(world: World, project: Project, clock: Traveller) -> None:
    give_permits(world.cast, world.cast.owner)
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=12))
    override(world, step)
    assert SignOff.objects.get(kind="override").set_aside == ["wait"]
    assert sign_done(step, acting=world.cast.owner).student_signed_at is not None


def test_the_order_is_set_aside_and_named(world: World, project: Project) -> None:
    give_permits(world.cast, world.cast.owner)
    override(world, step_of(project, "drill"))
    assert SignOff.objects.get(kind="override").set_aside == ["order"]
    assert step_of(project, "drill").started_at is not None
    assert step_of(project, "prepare").done_at is None


def test_a_step_done_early_does_not_make_the_project(world: World, project: Project) -> None:
    for step in list(project.bench_steps.all())[1:]:
        override(world, step_of(project, step.kind), mark_done=True)
    project.refresh_from_db()
    assert project.stage == Project.Stage.AT_BENCH
    override(world, step_of(project, "prepare"), mark_done=True)
    project.refresh_from_db()
    assert project.stage == Project.Stage.MADE


def test_marking_done_names_every_rule_in_the_way(world: World, project: Project) -> None:
    step = override(world, step_of(project, "drill"), mark_done=True)
    assert step.done_at is not None
    assert SignOff.objects.get(kind="override").set_aside == [
        "order",
        "permit:drill-press",
        "start",
        "signature",
    ]


def test_marking_done_needs_no_teachers_check_beside_it(world: World, project: Project) -> None:
    give_permits(world.cast, world.cast.owner)
    step = start_step(step_of(project, "prepare"), acting=world.cast.owner)
    override(world, step, mark_done=True)
    assert step_of(project, "prepare").done_at is not None
    assert SignOff.objects.get(kind="override").set_aside == ["signature"]


@pytest.mark.parametrize("mark_done", [False, True])
@pytest.mark.parametrize("reason", ["", "  \n"])
def test_refused_without_a_reason(
    world: World, project: Project, reason: str, mark_done: bool
) -> None:
    with pytest.raises(Refused, match="Give the reason"):
        override_step(
            step_of(project, "prepare"),
            acting=world.cast.teacher,
            reason=reason,
            mark_done=mark_done,
        )
    assert not SignOff.objects.exists()


@pytest.mark.parametrize("mark_done", [False, True])
def test_only_a_teacher_of_the_course_sets_aside(
    world: World, project: Project, mark_done: bool
) -> None:
    cast = world.cast
    for person in (cast.owner, cast.classmate, cast.other_teacher, cast.outsider):
        with pytest.raises(Refused, match="Only a teacher of this course"):
            override_step(
                step_of(project, "prepare"), acting=person, reason="please", mark_done=mark_done
            )
    assert not SignOff.objects.exists()


@pytest.mark.parametrize("mark_done", [False, True])
@pytest.mark.parametrize("stage", [Project.Stage.PLANNED, Project.Stage.CLOSED])
def test_metal_that_is_not_there_cannot_be_set_aside(
    world: World, project: Project, stage: str, mark_done: bool
) -> None:
    Project.objects.filter(pk=project.pk).update(stage=stage)
    with pytest.raises(Refused, match=r"closed|handed out"):
        override(world, step_of(project, "prepare"), mark_done=mark_done)
    assert not SignOff.objects.exists()


def test_refused_when_nothing_stands_in_the_way(world: World, project: Project) -> None:
    give_permits(world.cast, world.cast.owner)
    with pytest.raises(Refused, match="Nothing stands in the way"):
        override(world, step_of(project, "prepare"))


def test_what_the_student_signed_is_checked_not_overridden(
    world: World, project: Project, clock: Traveller
) -> None:
    give_permits(world.cast, world.cast.owner)
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step, acting=world.cast.owner)
    with pytest.raises(Refused, match="check it instead"):
        override(world, step, mark_done=True)
    assert check_step(step, acting=world.cast.teacher).done_at is not None


@pytest.mark.parametrize("mark_done", [False, True])
def test_a_second_tap_sets_nothing_aside_again(
    world: World, project: Project, mark_done: bool
) -> None:
    override(world, step_of(project, "prepare"), mark_done=mark_done)
    override(world, step_of(project, "prepare"), mark_done=mark_done)
    assert SignOff.objects.count() == 1
