"""A step is started by its student, in its turn, with metal in hand and permits in force."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from time_machine import Traveller

from classroom.models import BenchPermit, History, Role, User
from classroom.refusals import Refused
from classroom.safety.permits import withdraw
from studio.models import Project, SignOff
from studio.steps.bench.sign import start_step
from tests.people import signed_in
from tests.studio.bench.making import World, do_steps, give_permits, step_of


def test_the_first_step_starts_when_metal_is_issued_and_permits_are_held(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    step = start_step(step_of(project, "prepare"), acting=world.cast.owner)
    assert step_of(project, "prepare").started_at == step.started_at is not None
    sign_off = SignOff.objects.get()
    assert (sign_off.kind, sign_off.by, sign_off.wording_sha) == (
        "started",
        world.cast.owner,
        step.wording_sha,
    )
    row = History.objects.about(project).first()
    assert row is not None
    assert (row.verb, row.actor) == ("step-started", world.cast.owner)


def test_a_second_tap_starts_nothing_new(world: World, clock: Traveller) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    first = start_step(step_of(project, "prepare"), acting=world.cast.owner)
    clock.shift(5)
    again = start_step(step_of(project, "prepare"), acting=world.cast.owner)
    assert again.started_at == first.started_at
    assert SignOff.objects.count() == 1


def refused_start(project: Project, kind: str, acting: User) -> str:
    with pytest.raises(Refused) as refusal:
        start_step(step_of(project, kind), acting=acting)
    assert not SignOff.objects.filter(step__project=project, step__kind=kind).exists()
    assert step_of(project, kind).started_at is None
    return str(refusal.value)


def test_refused_before_the_metal_is_handed_out(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.PLANNED)
    text = refused_start(project, "prepare", world.cast.owner)
    assert "metal has not been handed out yet. A teacher does that" in text


def test_refused_once_the_project_is_closed(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.CLOSED)
    assert refused_start(project, "prepare", world.cast.owner) == "This project is closed."


def test_refused_without_the_permit(world: World) -> None:
    project = world.at_bench()
    text = refused_start(project, "prepare", world.cast.owner)
    assert "needs the bench permit “Abrasive" in text
    assert "A teacher gives it after watching the work" in text


def test_refused_with_every_permit_but_the_one(world: World) -> None:
    project = world.at_bench()
    others = world.cast.school.topics.exclude(code="abrasives-dust")
    give_permits(world.cast, world.cast.owner, *others.values_list("code", flat=True))
    assert "bench permit" in refused_start(project, "prepare", world.cast.owner)


def test_refused_with_a_classmates_permit(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.classmate)
    assert "bench permit" in refused_start(project, "prepare", world.cast.owner)


def test_a_permit_holds_on_its_last_day(world: World) -> None:
    project = world.at_bench()
    permit = give_permits(world.cast, world.cast.owner, "abrasives-dust", days=0)[0]
    assert permit.expires_on == dt.date(2026, 11, 25)
    start_step(step_of(project, "prepare"), acting=world.cast.owner)


def test_refused_on_the_day_after_the_permits_last(world: World, clock: Traveller) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner, "abrasives-dust", days=0)
    clock.shift(dt.timedelta(days=1))
    assert "bench permit" in refused_start(project, "prepare", world.cast.owner)


def test_the_day_is_the_schools_own(world: World, clock: Traveller) -> None:
    """At 01:00 UTC it is still the evening before in Halifax, so the permit still holds."""
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner, "abrasives-dust", days=0)
    clock.move_to(dt.datetime(2026, 11, 26, 1, 0, tzinfo=dt.UTC))
    start_step(step_of(project, "prepare"), acting=world.cast.owner)


def test_refused_after_the_permit_is_withdrawn(world: World) -> None:
    project = world.at_bench()
    permit = give_permits(world.cast, world.cast.owner, "abrasives-dust")[0]
    withdraw(permit, acting=world.cast.teacher, reason="goggles left on the bench")
    assert "bench permit" in refused_start(project, "prepare", world.cast.owner)


def test_a_new_permit_opens_the_step_again(world: World) -> None:
    project = world.at_bench()
    permit = give_permits(world.cast, world.cast.owner, "abrasives-dust", days=300)[0]
    withdraw(permit, acting=world.cast.teacher, reason="goggles left on the bench")
    give_permits(world.cast, world.cast.owner, "abrasives-dust")
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    assert BenchPermit.objects.count() == 2


def test_a_topic_that_the_school_set_aside_asks_for_no_permit(
    world: World, clock: Traveller
) -> None:
    project = world.at_bench()
    world.cast.school.topics.filter(code="abrasives-dust").update(
        retired_at=dt.datetime.now(dt.UTC)
    )
    start_step(step_of(project, "prepare"), acting=world.cast.owner)


def test_refused_out_of_order_although_all_permits_are_held(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    text = refused_start(project, "adhere", world.cast.owner)
    assert text == "“Prepare the metal” comes before “Stick the pattern on” and is not done yet."


def test_starts_when_the_step_before_is_done(world: World, clock: Traveller) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    step = do_steps(project, "adhere", clock, world.cast)
    assert start_step(step, acting=world.cast.owner).started_at is not None


def test_refused_while_the_step_before_waits_for_the_teacher(
    world: World, clock: Traveller
) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    do_steps(project, "drill", clock, world.cast)
    dry = project.bench_steps.filter(kind="dry")
    dry.update(done_at=None)
    text = refused_start(project, "drill", world.cast.owner)
    assert "is not done yet. It waits for a teacher's check." in text


def test_refused_for_a_classmate(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    give_permits(world.cast, world.cast.classmate)
    text = refused_start(project, "prepare", world.cast.classmate)
    assert text == "Only the student whose project this is starts and signs its steps."


def test_refused_for_the_teacher(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    assert "Only the student" in refused_start(project, "prepare", world.cast.teacher)


def test_refused_for_a_student_of_another_school(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    assert "Only the student" in refused_start(project, "prepare", world.cast.outside_student)


def test_a_person_whose_role_is_not_student_cannot_start_even_an_own_project(
    world: World,
) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    User.objects.filter(pk=world.cast.owner.pk).update(role=Role.TEACHER)
    world.cast.owner.refresh_from_db()
    assert "Only the student" in refused_start(project, "prepare", world.cast.owner)


def test_drying_begins_its_waiting_time_when_started(world: World, clock: Traveller) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    assert step.started_at is not None
    assert step.wait_until == step.started_at + dt.timedelta(minutes=20)


def test_a_wait_begun_between_two_minutes_is_as_long_as_any_and_is_told_in_whole_minutes(
    world: World, clock: Traveller
) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    step = do_steps(project, "dry", clock, world.cast)
    clock.move_to(dt.datetime(2026, 11, 25, 14, 30, 1, tzinfo=dt.UTC))
    step = start_step(step, acting=world.cast.owner)
    assert step.wait_until == dt.datetime(2026, 11, 25, 14, 50, 1, tzinfo=dt.UTC)
    browser = signed_in(world.cast.owner)
    page = browser.get(reverse("bench", args=[project.pk])).content.decode()
    assert 'data-wait-until="2026-11-25T10:50:01-04:00"' in page
    assert "10:51</time> (about 20" in page
    assert "<strong>10:51</strong>" in page
