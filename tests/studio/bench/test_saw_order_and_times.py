"""On the bench page: the order of the student's own saw lines, and how long a step takes here."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.conf import settings
from django.urls import reverse
from shapely.geometry import box
from time_machine import Traveller

from classroom.models import User
from classroom.refusals import Refused
from studio.core.bench.texts import BenchStepKind
from studio.core.bench.times import ENOUGH, USUAL_MINUTES, how_long
from studio.models import Project
from studio.steps.bench.sign import override_step, sign_done, start_step
from studio.steps.bench.times import own_minutes
from studio.steps.bench.wording import frame_depth_mm, set_frame_depth
from studio.views.bench.step_art import ART
from studio.views.plans.saw_order import saw_order
from tests.people import signed_in

from .making import World, do_steps, give_permits, step_of


def bench_page(person: User, project: Project) -> str:
    return signed_in(person).get(reverse("bench", args=[project.pk])).content.decode()


@pytest.fixture
def pair(world: World) -> list[Project]:
    """The owner's tag with a window at the left, the classmate's plain square beside it."""
    made = [
        world.project(world.cast.seat),
        world.project(world.cast.classmate_seat, box(0, 0, 20, 20)),
    ]
    world.issued(*made, places=[(2.0, 2.0), (60.0, 30.0)])
    return made


def test_own_lines_carry_the_plans_numbers_window_first(pair: list[Project]) -> None:
    (mine,), (theirs,) = saw_order(pair[0]), saw_order(pair[1])
    assert [(line.number, line.kind) for line in mine.lines] == [(1, "window"), (2, "outline")]
    assert [(line.number, line.kind) for line in theirs.lines] == [(3, "outline")]
    assert mine.shared
    # no classmate's number on the picture
    drawn = [(start.number, start.kind, start.label) for start in mine.picture.starts]
    assert drawn == [(line.number, line.kind, line.label) for line in mine.lines]


def test_the_saw_step_shows_them_to_its_student(
    world: World, pair: list[Project], clock: Traveller
) -> None:
    give_permits(world.cast, world.cast.owner)
    do_steps(pair[0], "saw", clock, world.cast)
    page = bench_page(world.cast.owner, pair[0])
    assert "Your order of sawing" in page
    assert 'value="1">Window of A' in page
    assert 'value="2">Outline of A' in page
    assert "Outline of B" not in page
    assert "Odd F" not in page


def test_a_line_deeper_than_the_schools_frame_is_named_everywhere(
    world: World, pair: list[Project], clock: Traveller
) -> None:
    """The classmate's square reaches from 30 to 50 mm height on a sheet 80 mm high."""
    assert frame_depth_mm(world.cast.school) == 76.0
    plan = pair[1].plan_shares.get().plan
    teacher = signed_in(world.cast.teacher)
    addresses = (reverse("plan", args=[plan.pk]), reverse("cut_plan_print", args=[plan.pk]))
    for address in addresses:
        assert "deeper than the saw frame reaches" not in teacher.get(address).content.decode()
    set_frame_depth(world.cast.school, Decimal(25), acting=world.cast.teacher)
    (theirs,) = saw_order(pair[1])
    assert theirs.deep == "3"
    for address in addresses:
        page = teacher.get(address).content.decode()
        assert "Line 3 lies up to 30.0 mm from the nearest edge" in page, address
    give_permits(world.cast, world.cast.classmate)
    override_step(
        step_of(pair[1], "saw"), acting=world.cast.teacher, reason="to look at it", mark_done=False
    )
    for kind in ("prepare", "adhere", "dry"):
        override_step(
            step_of(pair[1], kind), acting=world.cast.teacher, reason="made before", mark_done=True
        )
    page = bench_page(world.cast.classmate, pair[1])
    assert "Deeper than the saw frame reaches: line 3" in page


def test_who_sets_the_frames_depth_and_within_which_bounds(world: World) -> None:
    cast = world.cast
    url = reverse("frame_depth")
    people = (cast.owner, cast.classmate, cast.other_teacher)
    answers = [signed_in(one).post(url, {"depth": "100 mm"}).status_code for one in people]
    assert answers == [403, 403, 302]
    assert frame_depth_mm(cast.school) == 100.0
    for wrong in ("", "5", "401", "nan", "deep"):
        page = signed_in(cast.teacher).post(url, {"depth": wrong})
        assert page.status_code == 200, wrong
        assert "is-invalid" in page.content.decode()
    signed_in(cast.outsider).post(url, {"depth": "150"})
    assert frame_depth_mm(cast.school) == 100.0
    assert frame_depth_mm(cast.outsider.school) == 150.0
    with pytest.raises(Refused, match="teacher of this school"):
        set_frame_depth(cast.school, Decimal(80), acting=cast.outsider)


def test_a_few_times_are_no_rule_and_five_are() -> None:
    few = how_long(BenchStepKind.SAW, [30.0] * (ENOUGH - 1))
    assert (few.minutes, few.learned) == (USUAL_MINUTES[BenchStepKind.SAW], False)
    enough = how_long(BenchStepKind.SAW, [20.0, 22.0, 25.0, 40.0, 300.0])
    assert (enough.minutes, enough.rests_on) == (25, 5)
    assert how_long(BenchStepKind.DRY, [], wait_minutes=20).minutes == 20


def test_only_work_of_one_day_without_a_rule_set_aside_is_counted(
    world: World, clock: Traveller
) -> None:
    cast = world.cast
    project = world.at_bench()
    give_permits(cast, cast.owner)
    start_step(step_of(project, "prepare"), acting=cast.owner)
    clock.shift(dt.timedelta(minutes=12))
    sign_done(step_of(project, "prepare"), acting=cast.owner)
    start_step(step_of(project, "adhere"), acting=cast.owner)
    clock.shift(dt.timedelta(days=1))
    sign_done(step_of(project, "adhere"), acting=cast.owner)  # it lay over a night
    start_step(step_of(project, "dry"), acting=cast.owner)
    override_step(step_of(project, "dry"), acting=cast.teacher, reason="felt dry")
    sign_done(step_of(project, "dry"), acting=cast.owner)
    assert own_minutes(cast.course) == {BenchStepKind.PREPARE: [12.0]}


def test_student_and_teacher_read_how_long_it_takes_here(
    world: World, clock: Traveller, monkeypatch: pytest.MonkeyPatch
) -> None:
    cast = world.cast
    project = world.at_bench()
    give_permits(cast, cast.owner)
    assert "about 15 minutes, common practice, no source" in bench_page(cast.owner, project)
    monkeypatch.setattr("studio.core.bench.times.ENOUGH", 1)
    start_step(step_of(project, "prepare"), acting=cast.owner)
    clock.shift(dt.timedelta(minutes=12))
    sign_done(step_of(project, "prepare"), acting=cast.owner)
    assert "about 12 minutes, the middle of 1 times" in bench_page(cast.owner, project)
    url = reverse("class_bench", args=[cast.course.pk])
    page = signed_in(cast.teacher).get(url).content.decode()
    assert "How long steps take in this class" in page
    assert ">12</td>" in page
    start_step(step_of(project, "adhere"), acting=cast.owner)
    assert "about 10 min" in signed_in(cast.teacher).get(url).content.decode()


def test_every_drawing_of_a_step_is_there_and_says_what_it_shows() -> None:
    for kind in BenchStepKind:
        for art in ART[kind]:
            assert (settings.BASE_DIR / "static" / art.path).exists(), art.path
            assert len(art.shows) > 20
