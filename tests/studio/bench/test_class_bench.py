"""The class's bench: who asks, who waits, who is stopped; and several checks at once."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from pytest_django.fixtures import DjangoAssertNumQueries
from time_machine import Traveller

from classroom.models import BenchPermit, Course, Role, Seat, User
from classroom.safety.permits import withdraw
from studio.models import BenchStep, CutPlan, Project, SignOff
from studio.steps.bench.begin import make_bench_steps
from studio.steps.bench.rules import Phase
from studio.steps.bench.sign import send_back, sign_done, start_step
from studio.views.bench.class_bench import class_bench_of
from tests.people import signed_in

from .making import World, do_steps, give_permits, step_of


@pytest.fixture
def pair(world: World) -> tuple[Project, Project]:
    owner, classmate = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    world.issued(owner, classmate)
    give_permits(world.cast, world.cast.owner)
    give_permits(world.cast, world.cast.classmate)
    return owner, classmate


def to_check(project: Project, clock: Traveller, world: World) -> BenchStep:
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=project.student)
    clock.shift(dt.timedelta(minutes=20))
    return sign_done(step, acting=project.student)


def choice(step: BenchStep) -> str:
    assert step.student_signed_at is not None
    return f"{step.pk}@{step.student_signed_at.isoformat()}"


def test_who_may_see_it(world: World, pair: tuple[Project, Project]) -> None:
    cast = world.cast
    url = reverse("class_bench", args=[cast.course.pk])
    people = (cast.teacher, cast.owner, cast.other_teacher, cast.outsider)
    assert [signed_in(p).get(url).status_code for p in people] == [200, 403, 404, 404]
    url = reverse("steps_check", args=[cast.course.pk])
    assert [signed_in(p).post(url).status_code for p in people] == [302, 403, 404, 404]


def test_everybody_stands_in_the_group_that_fits(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    owner, classmate = pair
    to_check(owner, clock, world)
    start_step(do_steps(classmate, "dry", clock, world.cast), acting=classmate.student)
    bench = class_bench_of(world.cast.teacher, world.cast.course)
    assert [row.project for row in bench.to_check.rows] == [owner]
    found = {group.phase: [row.project for row in group.rows] for group in bench.groups}
    assert found[Phase.WAITING] == [classmate]
    assert sum(len(rows) for rows in found.values()) == 1
    text = (
        signed_in(world.cast.teacher)
        .get(reverse("class_bench", args=[world.cast.course.pk]))
        .content.decode()
    )
    assert "until 10:40" in text
    assert (
        choice(step_of(owner, "dry")).replace("+", "&#x2B;") in text
        or choice(step_of(owner, "dry")) in text
    )


def test_who_lacks_a_permit_is_named_as_stopped(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    clock.shift(dt.timedelta(days=366))
    bench = class_bench_of(world.cast.teacher, world.cast.course)
    blocked = next(group for group in bench.groups if group.phase == "blocked")
    assert {row.project for row in blocked.rows} == set(pair)
    assert "needs the bench permit" in blocked.rows[0].note


def test_whose_permit_is_withdrawn_in_the_middle_of_a_step_is_named_as_stopped(
    world: World, pair: tuple[Project, Project]
) -> None:
    start_step(step_of(pair[0], "prepare"), acting=world.cast.owner)
    start_step(step_of(pair[1], "prepare"), acting=world.cast.classmate)
    for permit in BenchPermit.objects.filter(
        student=world.cast.owner, topic__code="abrasives-dust"
    ):
        withdraw(permit, acting=world.cast.teacher, reason="near miss 2")
    bench = class_bench_of(world.cast.teacher, world.cast.course)
    stands = {group.phase: [row.project for row in group.rows] for group in bench.groups}
    assert stands[Phase.BLOCKED] == [pair[0]]
    assert stands[Phase.AT_WORK] == [pair[1]]


def test_ticked_steps_are_signed_and_others_are_not(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    first, second = (to_check(project, clock, world) for project in pair)
    answer = signed_in(world.cast.teacher).post(
        reverse("steps_check", args=[world.cast.course.pk]), {"step": choice(first)}, follow=True
    )
    assert "1 step checked." in answer.content.decode()
    assert step_of(pair[0], "dry").done_at is not None
    assert step_of(pair[1], "dry").done_at is None
    answer = signed_in(world.cast.teacher).post(
        reverse("steps_check", args=[world.cast.course.pk]),
        {"step": [choice(first), choice(second)]},
        follow=True,
    )
    assert SignOff.objects.filter(kind="checked").count() == 2


def test_a_tick_on_an_older_sign_off_signs_nothing(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    old = choice(to_check(pair[0], clock, world))
    send_back(step_of(pair[0], "dry"), acting=world.cast.teacher, reason="still damp")
    start_step(step_of(pair[0], "dry"), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step_of(pair[0], "dry"), acting=world.cast.owner)
    answer = signed_in(world.cast.teacher).post(
        reverse("steps_check", args=[world.cast.course.pk]), {"step": old}, follow=True
    )
    assert "Look at it again" in answer.content.decode()
    assert step_of(pair[0], "dry").done_at is None


def test_checks_sent_again_over_a_bad_network_are_heard_and_count_once(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    first, second = (to_check(project, clock, world) for project in pair)
    client = signed_in(world.cast.teacher)
    course = reverse("class_bench", args=[world.cast.course.pk])
    several = reverse("steps_check", args=[world.cast.course.pk])
    one = reverse("step_check", args=[second.pk])
    assert second.student_signed_at is not None
    seen = {"seen": second.student_signed_at.isoformat()}
    for _ in range(2):
        answer = client.post(
            several, {"step": choice(first)}, headers={"Accept": "application/json"}
        )
        assert answer.json() == {"go": course}
        answer = client.post(one, seen, headers={"Accept": "application/json"})
        assert answer.json() == {"go": reverse("bench", args=[pair[1].pk])}
    assert SignOff.objects.filter(kind="checked").count() == 2


def test_a_check_that_is_refused_is_said_beside_the_button(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    step = to_check(pair[0], clock, world)
    assert step.student_signed_at is not None
    seen = {"seen": step.student_signed_at.isoformat()}
    send_back(step_of(pair[0], "dry"), acting=world.cast.teacher, reason="still damp")
    answer = signed_in(world.cast.teacher).post(
        reverse("step_check", args=[step.pk]), seen, headers={"Accept": "application/json"}
    )
    assert answer.status_code == 409
    assert "has not been signed as done" in answer.json()["text"]


def test_beside_each_sign_off_stands_what_to_look_for_and_the_last_remark(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    to_check(pair[0], clock, world)
    send_back(step_of(pair[0], "dry"), acting=world.cast.teacher, reason="still damp")
    start_step(step_of(pair[0], "dry"), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step_of(pair[0], "dry"), acting=world.cast.owner)
    url = reverse("class_bench", args=[world.cast.course.pk])
    page = signed_in(world.cast.teacher).get(url).content.decode()
    assert "The paper feels dry and firm" in page
    assert "Sent back before: “still damp”" in page


@pytest.mark.parametrize(
    "value",
    ["", "@", "1", "1@", "x@2026-11-25T10:00:00+00:00", "1@yesterday", "1@2026-11-25T10:00:00",
     "²@2026-11-25T10:00:00+00:00", "9" * 40 + "@2026-11-25T10:00:00+00:00"],
)  # fmt: skip
def test_nonsense_in_the_boxes_is_left_out(
    world: World, pair: tuple[Project, Project], value: str
) -> None:
    answer = signed_in(world.cast.teacher).post(
        reverse("steps_check", args=[world.cast.course.pk]), {"step": value}, follow=True
    )
    assert answer.status_code == 200
    assert "Tick the steps that you have looked at" in answer.content.decode()


def test_a_step_of_another_course_is_not_signed(
    world: World, pair: tuple[Project, Project], clock: Traveller
) -> None:
    step = to_check(pair[0], clock, world)
    other = Course.objects.create(
        school=world.cast.school,
        title="Metals 2",
        term="Autumn 2026",
        starts_on=dt.date(2026, 9, 1),
        ends_on=dt.date(2027, 1, 29),
    )
    other.teachers.add(world.cast.teacher)
    signed_in(world.cast.teacher).post(
        reverse("steps_check", args=[other.pk]), {"step": choice(step)}
    )
    assert step_of(pair[0], "dry").done_at is None


def test_finished_work_leads_to_the_metals_return(
    world: World, pair: tuple[Project, Project]
) -> None:
    url = reverse("class_bench", args=[world.cast.course.pk])
    plan = CutPlan.objects.get()
    back = reverse("plan_return", args=[plan.pk])
    Project.objects.filter(pk=pair[0].pk).update(stage=Project.Stage.MADE)
    text = signed_in(world.cast.teacher).get(url).content.decode()
    assert "others of this plan are still at work" in text
    assert back not in text
    Project.objects.filter(pk=pair[1].pk).update(stage=Project.Stage.MADE)
    assert back in signed_in(world.cast.teacher).get(url).content.decode()


def test_an_empty_bench_says_so(world: World) -> None:
    url = reverse("class_bench", args=[world.cast.course.pk])
    assert "Nobody is at the bench" in signed_in(world.cast.teacher).get(url).content.decode()


def test_the_number_of_queries_does_not_grow_with_the_class(
    world: World,
    pair: tuple[Project, Project],
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    url = reverse("class_bench", args=[world.cast.course.pk])
    client = signed_in(world.cast.teacher)
    start_step(step_of(pair[0], "prepare"), acting=world.cast.owner)
    with django_assert_max_num_queries(30) as few:
        client.get(url)
    for number in range(12):
        student = User.objects.create_user(
            f"student-{number}",
            display_name=f"Student {number}",
            role=Role.STUDENT,
            school=world.cast.school,
        )
        seat = Seat.objects.create(course=world.cast.course, student=student)
        project = world.project(seat)
        make_bench_steps(project)
        Project.objects.filter(pk=project.pk).update(stage=Project.Stage.AT_BENCH)
        if number % 2:
            give_permits(world.cast, student)
            start_step(step_of(project, "prepare"), acting=student)
    with django_assert_max_num_queries(30) as many:
        text = client.get(url).content.decode()
    assert "Student 11" in text
    assert len(many) == len(few)
