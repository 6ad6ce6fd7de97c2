"""Everybody's papers, on the same day: own ones, by a stand-in, or not at all."""

from __future__ import annotations

import pytest
from time_machine import Traveller

from classroom.refusals import Refused
from studio.models import PlanProject, Project, StockSignOff
from studio.steps.bench.sign import start_step
from studio.steps.sharing.holding import current_holder, hand_on
from studio.steps.sharing.sticking import leave_out, stand_in, stick
from studio.steps.sharing.stock_steps import sign, start
from tests.studio.bench.making import give_permits, step_of

from .making import Passed, another_seat

pytestmark = pytest.mark.django_db


@pytest.fixture
def sticking(passed: Passed, clock: Traveller) -> Passed:
    """The metal is prepared, and sticking has begun."""
    passed.do("prepare", clock)
    start(passed.step("adhere"), acting=passed.cast.owner)
    return passed


def test_with_the_last_papers_the_step_is_done(sticking: Passed) -> None:
    cast = sticking.cast
    assert stick(sticking.step("adhere"), sticking.share(0), acting=cast.owner).done_at is None
    last = stick(sticking.step("adhere"), sticking.share(1), acting=cast.classmate)
    assert last.done_at is not None


def test_nobody_signs_for_anothers_papers(sticking: Passed) -> None:
    with pytest.raises(Refused, match="signs for own papers"):
        stick(sticking.step("adhere"), sticking.share(1), acting=sticking.cast.owner)


def test_the_step_is_not_signed_while_papers_are_missing(sticking: Passed) -> None:
    stick(sticking.step("adhere"), sticking.share(0), acting=sticking.cast.owner)
    with pytest.raises(Refused, match="Papers not stuck on yet: B"):
        sign(sticking.step("adhere"), acting=sticking.cast.owner)


def test_signing_twice_for_own_papers_is_one_row(sticking: Passed) -> None:
    for _ in range(2):
        stick(sticking.step("adhere"), sticking.share(0), acting=sticking.cast.owner)
    assert StockSignOff.objects.filter(kind="stuck").count() == 1


def test_papers_are_stuck_on_prepared_metal_alone(passed: Passed) -> None:
    with pytest.raises(Refused, match="has not been started"):
        stick(passed.step("adhere"), passed.share(0), acting=passed.cast.owner)


def test_sticking_needs_the_permit(sticking: Passed) -> None:
    sticking.cast.owner.permits.all()._raw_delete(using="default")
    with pytest.raises(Refused, match="bench permit"):
        stick(sticking.step("adhere"), sticking.share(0), acting=sticking.cast.owner)


def test_a_stand_in_is_named_with_a_reason(sticking: Passed) -> None:
    cast = sticking.cast
    stick(sticking.step("adhere"), sticking.share(0), acting=cast.owner)
    step, away = sticking.step("adhere"), sticking.share(1)
    with pytest.raises(Refused, match="Say why"):
        stand_in(step, away, cast.owner, acting=cast.teacher, reason="")
    with pytest.raises(Refused, match="Only a teacher"):
        stand_in(step, away, cast.owner, acting=cast.owner, reason="ill")
    done = stand_in(step, away, cast.owner, acting=cast.teacher, reason="ill")
    assert done.done_at is not None
    row = StockSignOff.objects.get(kind="stuck", share=away)
    assert (row.by, row.stand_in, row.reason) == (cast.teacher, cast.owner, "ill")


def test_a_stand_in_is_of_the_course_and_holds_the_permit(sticking: Passed) -> None:
    cast = sticking.cast
    step, away = sticking.step("adhere"), sticking.share(1)
    with pytest.raises(Refused, match="Name a student of this course"):
        stand_in(step, away, cast.outside_student, acting=cast.teacher, reason="ill")
    third = another_seat(cast).student
    with pytest.raises(Refused, match="does not hold the bench permit"):
        stand_in(step, away, third, acting=cast.teacher, reason="ill")
    give_permits(cast, third)
    assert stand_in(step, away, third, acting=cast.teacher, reason="ill").started_at is not None


def test_whoever_is_left_out_is_waited_for_no_more(sticking: Passed) -> None:
    cast = sticking.cast
    stick(sticking.step("adhere"), sticking.share(0), acting=cast.owner)
    left = leave_out(sticking.share(1), acting=cast.teacher, reason="away for weeks")
    assert not left.live
    assert (left.left_out_by, left.left_out_why) == (cast.teacher, "away for weeks")
    project = Project.objects.get(pk=left.project_id)
    assert project.stage == Project.Stage.PATTERN_APPROVED
    assert project.bench_steps.count() == 0
    assert sticking.step("adhere").done_at is not None


def test_one_who_is_left_out_before_sticking_is_not_asked_for(
    passed: Passed, clock: Traveller
) -> None:
    leave_out(passed.share(1), acting=passed.cast.teacher, reason="ill")
    passed.do("prepare", clock)
    passed.do("adhere", clock, [0])
    assert passed.step("adhere").done_at is not None


def test_one_who_is_left_out_does_no_steps_of_the_metal(sticking: Passed) -> None:
    leave_out(sticking.share(1), acting=sticking.cast.teacher, reason="ill")
    with pytest.raises(Refused, match="Only students whose pieces lie"):
        sign(sticking.step("adhere"), acting=sticking.cast.classmate)


def test_leaving_out_is_the_teachers_and_has_a_reason(passed: Passed) -> None:
    with pytest.raises(Refused, match="Only a teacher"):
        leave_out(passed.share(1), acting=passed.cast.owner, reason="slow")
    with pytest.raises(Refused, match="Only a teacher"):
        leave_out(passed.share(1), acting=passed.cast.other_teacher, reason="slow")
    with pytest.raises(Refused, match="Say why"):
        leave_out(passed.share(1), acting=passed.cast.teacher, reason=" ")


def test_leaving_out_twice_changes_nothing(passed: Passed) -> None:
    for why in ("ill", "still ill"):
        leave_out(passed.share(1), acting=passed.cast.teacher, reason=why)
    assert PlanProject.objects.get(left_out_at__isnull=False).left_out_why == "ill"


def test_whoever_has_begun_own_steps_is_not_left_out(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    start_step(step_of(passed.projects[0], "drill"), acting=passed.cast.owner)
    with pytest.raises(Refused, match="has begun own steps"):
        leave_out(passed.share(0), acting=passed.cast.teacher, reason="gone")


def test_metal_of_one_who_is_left_out_goes_to_the_next(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    leave_out(passed.share(1), acting=passed.cast.teacher, reason="gone")
    held = current_holder(passed.stock)
    assert held is not None
    assert held.share == passed.share(0)


def test_a_pattern_that_was_left_out_can_be_placed_and_made_again(
    passed: Passed, clock: Traveller
) -> None:
    leave_out(passed.share(1), acting=passed.cast.teacher, reason="ill")
    project = Project.objects.get(pk=passed.projects[1].pk)
    passed.world.issued(project, sheets=passed.world.sheets[1:])
    kinds = list(project.bench_steps.values_list("kind", flat=True))
    assert kinds == ["prepare", "adhere", "dry", "drill", "saw", "remove", "finish"]
