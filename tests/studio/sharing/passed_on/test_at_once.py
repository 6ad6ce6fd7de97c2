"""Two presses at the very same moment, on real connections: one counts."""

from __future__ import annotations

import pytest
from time_machine import Traveller

from classroom.refusals import Refused
from studio.models import BenchStep, MetalHolder, PlanProject, StockSignOff
from studio.steps.bench.sign import start_step
from studio.steps.sharing.holding import hand_on, newest_row
from studio.steps.sharing.sticking import leave_out, stick
from studio.steps.sharing.stock_steps import send_back, start
from studio.steps.sharing.turns import move_turn
from tests.at_once import done_or_refused
from tests.studio.bench.making import step_of

from .making import Passed

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_common_step_started_by_all_at_once_is_started_once(passed: Passed) -> None:
    people = [passed.cast.owner, passed.cast.classmate, passed.cast.teacher]
    done_or_refused(*(lambda p=p: start(passed.step("prepare"), acting=p) for p in people))  # type: ignore[misc]
    assert StockSignOff.objects.filter(kind="started").count() == 1


def test_the_last_papers_stuck_on_at_once_end_the_step_once(
    passed: Passed, clock: Traveller
) -> None:
    passed.do("prepare", clock)
    start(passed.step("adhere"), acting=passed.cast.owner)
    done_or_refused(
        lambda: stick(passed.step("adhere"), passed.share(0), acting=passed.cast.owner),
        lambda: stick(passed.step("adhere"), passed.share(1), acting=passed.cast.classmate),
    )
    assert passed.step("adhere").done_at is not None
    kinds = list(StockSignOff.objects.filter(step=passed.step("adhere")).values_list("kind"))
    assert sorted(kind for (kind,) in kinds) == ["done", "started", "stuck", "stuck"]


def test_metal_is_not_handed_on_under_a_step_that_starts(passed: Passed, clock: Traveller) -> None:
    """Either the step was started first, or its student finds the metal gone."""
    passed.dry(clock)
    seen = newest_row(passed.stock)
    assert seen is not None
    step = step_of(passed.projects[0], "drill")
    outcomes = done_or_refused(
        lambda: start_step(step, acting=passed.cast.owner),
        lambda: hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher, seen=seen.pk),
    )
    started = BenchStep.objects.get(pk=step.pk).started_at
    assert (started is None) == isinstance(outcomes[0], Refused)
    handed = MetalHolder.objects.order_by("at", "pk").last()
    assert handed is not None
    assert handed.share == passed.share(1)
    if started is not None:
        assert started <= handed.at


def test_two_teachers_hand_on_to_two_students_and_one_is_refused(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    passed.cast.course.teachers.add(passed.cast.other_teacher)
    seen = newest_row(passed.stock)
    assert seen is not None
    stock, to = passed.stock, passed.share(1)
    outcomes = done_or_refused(
        lambda: hand_on(stock, to, acting=passed.cast.teacher, seen=seen.pk),
        lambda: hand_on(stock, None, acting=passed.cast.other_teacher, seen=seen.pk),
    )
    assert sum(isinstance(one, Refused) for one in outcomes) == 1
    assert MetalHolder.objects.count() == 2


def test_dry_papers_are_not_sent_back_under_a_step_that_starts(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    dry, drill = passed.step("dry"), step_of(passed.projects[0], "drill")
    done_or_refused(
        lambda: send_back(dry, acting=passed.cast.teacher, reason="damp"),
        lambda: start_step(drill, acting=passed.cast.owner),
    )
    begun = BenchStep.objects.get(pk=drill.pk).started_at is not None
    assert begun == (passed.step("dry").done_at is not None)


def test_turns_changed_twice_at_once_are_changed_once(passed: Passed) -> None:
    share = passed.share(1)
    done_or_refused(
        *(lambda: move_turn(share, "earlier", acting=passed.cast.teacher, seen=2) for _ in "ab")
    )
    assert [passed.share(n).turn for n in (0, 1)] == [2, 1]


def test_one_who_is_left_out_does_not_start_at_the_same_moment(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    share, drill = passed.share(0), step_of(passed.projects[0], "drill")

    def begin() -> object:
        try:
            return start_step(drill, acting=passed.cast.owner)
        except StopIteration:  # its steps are gone
            return None

    done_or_refused(
        lambda: leave_out(share, acting=passed.cast.teacher, reason="gone"),
        begin,
    )
    left = PlanProject.objects.get(pk=share.pk).left_out_at is not None
    begun = BenchStep.objects.filter(pk=drill.pk, started_at__isnull=False).exists()
    assert left != begun
