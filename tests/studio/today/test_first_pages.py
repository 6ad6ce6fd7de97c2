"""The first pages answer: who needs me now, and what do I do next?"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.models import Seat, User
from classroom.people.courses import close_course
from classroom.refusals import Refused
from studio.models import CutPlan, Project
from studio.steps.bench.sign import start_step
from studio.steps.patterns.take_back import take_back
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.telling.today.next_things import students_day
from studio.telling.today.teachers_day import teachers_day
from tests.clocks import MORNING
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, do_steps, give_permits
from tests.studio.patterns.making import handed_in, make_project


def waiting(user: User) -> dict[str, int]:
    return {group.title: group.total for group in teachers_day(user).waiting if group.total}


def first_page(user: User) -> str:
    client = signed_in(user)
    answer = client.get("/")
    assert answer.status_code == 200
    return answer.content.decode()


def next_text(user: User) -> str:
    (thing,) = students_day(user)
    return f"{thing.next.title}. {thing.next.text}"


def test_an_approved_pattern_waits_for_its_plan_then_the_plan_for_the_teacher(world: World) -> None:
    cast = world.cast
    project = world.project(cast.seat)
    assert waiting(cast.teacher) == {"Approved patterns without a plan": 1}
    assert "place it on metal, often together with others" in next_text(cast.owner)

    plan = world.plan([project])
    assert waiting(cast.teacher) == {"Cut plans to approve": 1}
    assert "waits for your teacher, who" in next_text(cast.owner)

    approve_plan(plan, acting=cast.teacher)
    assert waiting(cast.teacher) == {"Metal to hand out": 1}
    assert "Fetch your metal" in next_text(cast.owner)

    issue_plan(plan, acting=cast.teacher)
    assert waiting(cast.teacher) == {"Stopped at the bench": 1}
    (thing,) = students_day(cast.owner)
    assert "needs the bench permit" in thing.next.text
    assert thing.url.startswith("/safety/")

    give_permits(cast, cast.owner)
    assert waiting(cast.teacher) == {}
    assert "Next at the bench" in next_text(cast.owner)


def test_the_end_of_a_wait_is_named_on_the_schools_clock(world: World, clock: Any) -> None:
    cast = world.cast
    project = world.at_bench()
    codes = {code for step in project.bench_steps.all() for code in step.permits}
    give_permits(cast, cast.owner, *codes)
    do_steps(project, "dry", clock, cast)
    start_step(project.bench_steps.get(kind="dry"), acting=cast.owner)

    (thing,) = students_day(cast.owner)
    assert thing.waiting
    assert thing.next.until == project.bench_steps.get(kind="dry").wait_until
    page = first_page(cast.teacher)
    local = thing.next.until.astimezone(dt.timezone(dt.timedelta(hours=-4)))
    assert f"{local:%H:%M}" in page


def test_finished_work_waits_to_be_taken_back(world: World) -> None:
    cast = world.cast
    project = world.project(cast.seat)
    plan = world.plan([project])
    approve_plan(plan, acting=cast.teacher)
    issue_plan(plan, acting=cast.teacher)
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.MADE)
    assert waiting(cast.teacher) == {"Metal to take back": 1}
    assert "Bring the metal" in next_text(cast.owner)


def test_strangers_and_classmates_are_told_nothing_of_it(world: World) -> None:
    cast = world.cast
    world.project(cast.seat)
    assert waiting(cast.other_teacher) == {}
    assert waiting(cast.outsider) == {}
    (thing,) = students_day(cast.classmate)
    assert thing.project is None
    assert str(cast.owner) not in first_page(cast.classmate)


def test_a_new_teacher_is_led_to_the_first_course(cast: Cast) -> None:
    assert "Begin with a course" in first_page(cast.other_teacher)


def test_the_first_pages_ask_as_often_for_many_as_for_one(world: World) -> None:
    cast = world.cast

    def questions() -> tuple[int, int]:
        counts = []
        for person in (cast.teacher, cast.owner):
            with CaptureQueriesContext(connection) as asked:
                first_page(person)
            counts.append(len(asked))
        return counts[0], counts[1]

    world.project(cast.seat)
    few = questions()
    for place in range(5):
        student = User.objects.create_user(
            f"mate.{place}", None, display_name=f"Mate {place}", role="student", school=cast.school
        )
        world.project(Seat.objects.create(course=cast.course, student=student))
    assert questions() == few


def test_a_course_is_not_closed_while_metal_is_reserved_or_out(world: World) -> None:
    cast = world.cast
    plan = world.plan([world.project(cast.seat)])
    approve_plan(plan, acting=cast.teacher)
    with pytest.raises(Refused, match="1 cut plan that reserves"):
        close_course(cast.course, acting=cast.teacher)
    drop_plan(plan, acting=cast.teacher)
    close_course(cast.course, acting=cast.teacher)
    cast.course.refresh_from_db()
    assert cast.course.closed_at == MORNING


def test_a_closed_course_asks_nothing_of_anybody(world: World) -> None:
    cast = world.cast
    world.project(cast.seat)
    plan = world.plan([world.project(cast.classmate_seat)])
    assert len(waiting(cast.teacher)) == 2
    close_course(cast.course, acting=cast.teacher)
    assert waiting(cast.teacher) == {}
    with pytest.raises(Refused, match="course is closed"):
        approve_plan(CutPlan.objects.get(pk=plan.pk), acting=cast.teacher)


def test_nobody_is_sent_to_upload_where_no_pattern_is_taken(world: World) -> None:
    cast = world.cast
    project = world.project(cast.seat)
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.RETURNED)
    project.brief.closed_at = MORNING
    project.brief.save()
    assert "takes no more patterns" in next_text(cast.owner)


def test_who_has_left_the_course_neither_starts_nor_signs(world: World) -> None:
    cast = world.cast
    project = world.at_bench()
    give_permits(cast, cast.owner, *project.bench_steps.first().permits)
    Seat.objects.filter(pk=cast.seat.pk).update(left_at=MORNING)
    assert "has left this course" in next_text(cast.owner)
    with pytest.raises(Refused, match="has left this course"):
        start_step(project.bench_steps.select_related("project__seat").first(), acting=cast.owner)


def test_a_permit_that_ends_soon_leads_to_the_students_permits(world: World) -> None:
    cast = world.cast
    give_permits(cast, cast.owner, "saw-frame", days=5)
    (row,) = teachers_day(cast.teacher).calm[1].rows
    assert row.url == reverse("permits", args=[cast.course.pk])


def test_a_pattern_is_not_taken_back_where_it_could_not_be_handed_in_again(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    pattern.project.brief.closed_at = MORNING
    pattern.project.brief.save()
    with pytest.raises(Refused, match="takes no more patterns"):
        take_back(pattern, acting=cast.owner)
    pattern.refresh_from_db()
    assert pattern.state == "handed_in"
