"""What is done once for all who share a stock piece."""

from __future__ import annotations

import pytest
from time_machine import Traveller

from classroom.refusals import Refused
from studio.models import StockSignOff
from studio.steps.bench.sign import start_step
from studio.steps.sharing.sticking import stick
from studio.steps.sharing.stock_steps import check, override, send_back, sign, start
from tests.studio.bench.making import World, give_permits, step_of

from .making import Passed, another_seat, passed_plan

pytestmark = pytest.mark.django_db


def test_the_stock_piece_has_the_steps_that_its_projects_leave_out(passed: Passed) -> None:
    assert [step.kind for step in passed.stock.steps.all()] == ["prepare", "adhere", "dry"]
    for project in passed.projects:
        kinds = list(project.bench_steps.values_list("kind", flat=True))
        assert kinds == ["drill", "saw", "remove", "finish"]


def test_its_words_and_waiting_time_are_those_of_the_bench(passed: Passed, world: World) -> None:
    alone = world.project(another_seat(world.cast))
    world.issued(alone, sheets=world.sheets[1:])
    for step in passed.stock.steps.all():
        own = step_of(alone, step.kind)
        assert step.wording == own.wording
        assert step.wording_sha == own.wording_sha
        assert step.wait_minutes == own.wait_minutes
        assert step.teacher_signs == own.teacher_signs


def test_metal_of_one_student_has_no_steps_of_its_own(world: World) -> None:
    plan = passed_plan(
        world,
        [world.cast.seat, world.cast.classmate_seat],
        [(2.0, 2.0), (2.0, 2.0)],
        sheets=world.sheets,
        on=[0, 1],
    )
    assert [row.steps.count() for row in plan.plan.reserved.all()] == [0, 0]
    assert [project.bench_steps.count() for project in plan.projects] == [7, 7]


def test_any_of_its_students_does_them(passed: Passed, clock: Traveller) -> None:
    start(passed.step("prepare"), acting=passed.cast.owner)
    done = sign(passed.step("prepare"), acting=passed.cast.classmate)
    assert done.done_at is not None
    assert [row.by for row in done.sign_offs.all()] == [passed.cast.owner, passed.cast.classmate]


def test_a_student_with_nothing_on_this_metal_does_none(passed: Passed) -> None:
    stranger = another_seat(passed.cast).student
    give_permits(passed.cast, stranger)
    with pytest.raises(Refused, match="Only students whose pieces lie"):
        start(passed.step("prepare"), acting=stranger)


def test_a_teacher_of_another_course_does_none(passed: Passed) -> None:
    with pytest.raises(Refused, match="Only students whose pieces lie"):
        start(passed.step("prepare"), acting=passed.cast.other_teacher)


def test_a_teachers_own_signature_needs_no_check(passed: Passed, clock: Traveller) -> None:
    for kind in ("prepare", "adhere"):
        passed.do(kind, clock)
    step = start(passed.step("dry"), acting=passed.cast.teacher)
    assert step.teacher_signs
    assert step.wait_until is not None
    clock.move_to(step.wait_until)
    assert sign(passed.step("dry"), acting=passed.cast.teacher).done_at is not None


def test_a_step_waits_for_the_one_before(passed: Passed) -> None:
    with pytest.raises(Refused, match="comes before"):
        start(passed.step("adhere"), acting=passed.cast.owner)


def test_a_permit_is_needed_today(passed: Passed) -> None:
    juno = passed.cast.classmate
    juno.permits.all()._raw_delete(using="default")
    with pytest.raises(Refused, match="bench permit"):
        start(passed.step("prepare"), acting=juno)
    assert start(passed.step("prepare"), acting=passed.cast.owner).started_at is not None


def test_drying_is_not_signed_before_its_time(passed: Passed, clock: Traveller) -> None:
    for kind in ("prepare", "adhere"):
        passed.do(kind, clock)
    step = start(passed.step("dry"), acting=passed.cast.owner)
    with pytest.raises(Refused, match="needs its time"):
        sign(passed.step("dry"), acting=passed.cast.classmate)
    assert step.wait_until is not None
    clock.move_to(step.wait_until)
    assert sign(passed.step("dry"), acting=passed.cast.classmate).student_signed_at is not None


def test_a_second_tap_changes_nothing(passed: Passed) -> None:
    for _ in range(2):
        start(passed.step("prepare"), acting=passed.cast.owner)
    for _ in range(2):
        sign(passed.step("prepare"), acting=passed.cast.owner)
    assert [row.kind for row in StockSignOff.objects.all()] == ["started", "done"]


def test_a_form_from_before_it_was_sent_back_is_refused(passed: Passed, clock: Traveller) -> None:
    first = start(passed.step("prepare"), acting=passed.cast.owner).started_at
    sign(passed.step("prepare"), acting=passed.cast.owner)
    send_back(passed.step("prepare"), acting=passed.cast.teacher, reason="dark spots")
    clock.shift(60)
    start(passed.step("prepare"), acting=passed.cast.owner)
    with pytest.raises(Refused, match="started anew"):
        sign(passed.step("prepare"), acting=passed.cast.owner, started=first)


def test_a_check_of_an_older_signature_is_refused(passed: Passed, clock: Traveller) -> None:
    for kind in ("prepare", "adhere"):
        passed.do(kind, clock)
    step = start(passed.step("dry"), acting=passed.cast.owner)
    assert step.wait_until is not None
    clock.move_to(step.wait_until)
    seen = sign(passed.step("dry"), acting=passed.cast.owner).student_signed_at
    send_back(passed.step("dry"), acting=passed.cast.teacher, reason="still damp")
    step = start(passed.step("dry"), acting=passed.cast.owner)
    assert step.wait_until is not None
    clock.move_to(step.wait_until)
    sign(passed.step("dry"), acting=passed.cast.owner)
    with pytest.raises(Refused, match="signed anew"):
        check(passed.step("dry"), acting=passed.cast.teacher, seen=seen)


def test_it_stays_signed_once_somebody_works_on_the_metal(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    start_step(step_of(passed.projects[0], "drill"), acting=passed.cast.owner)
    with pytest.raises(Refused, match="Already at work on this metal: A"):
        send_back(passed.step("dry"), acting=passed.cast.teacher, reason="a corner lifts")


def test_sent_back_papers_are_signed_for_anew(passed: Passed, clock: Traveller) -> None:
    passed.do("prepare", clock)
    passed.do("adhere", clock)
    send_back(passed.step("adhere"), acting=passed.cast.teacher, reason="bubbles")
    clock.shift(60)
    start(passed.step("adhere"), acting=passed.cast.owner)
    step = stick(passed.step("adhere"), passed.share(0), acting=passed.cast.owner)
    assert step.done_at is None


def test_a_teacher_ends_a_wait_with_a_reason(passed: Passed, clock: Traveller) -> None:
    for kind in ("prepare", "adhere"):
        passed.do(kind, clock)
    start(passed.step("dry"), acting=passed.cast.owner)
    with pytest.raises(Refused, match="Give the reason"):
        override(passed.step("dry"), acting=passed.cast.teacher, reason=" ")
    override(passed.step("dry"), acting=passed.cast.teacher, reason="quick paste")
    sign(passed.step("dry"), acting=passed.cast.owner)
    row = StockSignOff.objects.get(kind="override")
    assert (row.set_aside, row.reason) == (["wait"], "quick paste")


def test_sticking_is_not_marked_done_while_papers_are_missing(
    passed: Passed, clock: Traveller
) -> None:
    passed.do("prepare", clock)
    start(passed.step("adhere"), acting=passed.cast.owner)
    stick(passed.step("adhere"), passed.share(0), acting=passed.cast.owner)
    with pytest.raises(Refused, match="Papers not stuck on yet: B"):
        override(passed.step("adhere"), acting=passed.cast.teacher, reason="hurry", mark_done=True)
