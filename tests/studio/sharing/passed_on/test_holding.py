"""In whose hands the metal is, and whose turn is next."""

from __future__ import annotations

import datetime as dt

import pytest
from time_machine import Traveller

from classroom.models import HistoryIsKept
from classroom.refusals import Refused
from studio.models import CutPlan, MetalHolder
from studio.queries.shared_stock import stock_with_shares
from studio.steps.bench.sign import start_step
from studio.steps.plans.issue import issue_plan
from studio.steps.sharing.holding import (
    current_holder,
    hand_on,
    next_in_turn,
    school_days_between,
)
from studio.steps.sharing.turns import move_turn
from tests.studio.bench.making import World, do_step, step_of

from .making import Passed, another_seat, passed_plan

pytestmark = pytest.mark.django_db


def test_the_first_turn_has_the_metal_when_the_papers_are_dry(
    passed: Passed, clock: Traveller
) -> None:
    assert current_holder(passed.stock) is None
    passed.dry(clock)
    held = current_holder(passed.stock)
    assert held is not None
    assert held.share is not None
    assert held.share.turn == 1


def test_it_is_handed_on_and_laid_on_the_shelf(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    assert current_holder(passed.stock).share == passed.share(1)  # type: ignore[union-attr]
    hand_on(passed.stock, None, acting=passed.cast.teacher, reason="the day is over")
    assert current_holder(passed.stock).share is None  # type: ignore[union-attr]
    assert MetalHolder.objects.count() == 3
    with pytest.raises(HistoryIsKept):
        MetalHolder.objects.update(share=None)


def test_handing_on_is_the_teachers_alone(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    for person in (passed.cast.owner, passed.cast.classmate, passed.cast.other_teacher):
        with pytest.raises(Refused, match="Only a teacher"):
            hand_on(passed.stock, passed.share(1), acting=person)


def test_a_second_tap_is_one_row(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    for _ in range(2):
        hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher, seen=None)
    assert MetalHolder.objects.count() == 2


def test_a_page_from_before_it_was_handed_on_is_refused(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    seen = MetalHolder.objects.get().pk
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher, seen=seen)
    with pytest.raises(Refused, match="just handed this metal on"):
        hand_on(passed.stock, None, acting=passed.cast.teacher, seen=seen)


def test_wet_papers_are_not_handed_on(passed: Passed, clock: Traveller) -> None:
    passed.do("prepare", clock)
    with pytest.raises(Refused, match="not done yet"):
        hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)


def test_it_goes_to_nobody_who_is_not_on_it(passed: Passed, world: World, clock: Traveller) -> None:
    passed.dry(clock)
    other = world.project(another_seat(world.cast))
    plan = world.issued(other, sheets=world.sheets[1:])
    with pytest.raises(Refused, match="No pieces of this student"):
        hand_on(passed.stock, plan.shares.get(), acting=world.cast.teacher)


def test_who_has_sawn_gets_it_again_with_a_reason_alone(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    for kind in ("drill", "saw"):
        do_step(passed.projects[0], kind, clock, passed.cast)
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    with pytest.raises(Refused, match="Say why it goes there again"):
        hand_on(passed.stock, passed.share(0), acting=passed.cast.teacher)
    row = hand_on(passed.stock, passed.share(0), acting=passed.cast.teacher, reason="a burr")
    assert row.reason == "a burr"


def test_metal_of_one_student_is_not_passed_on(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat))
    with pytest.raises(Refused, match="is not passed on"):
        hand_on(plan.reserved.get(), plan.shares.get(), acting=world.cast.teacher)


def test_the_next_is_the_lowest_turn_that_is_not_done(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    stock = stock_with_shares(passed.stock)
    assert next_in_turn(stock, passed.share(0)) == passed.share(1)
    for kind in ("drill", "saw"):
        do_step(passed.projects[0], kind, clock, passed.cast)
    assert next_in_turn(stock) == passed.share(1)


@pytest.mark.parametrize(
    ("start", "end", "days"),
    [
        ("2026-09-14", "2026-09-14", 0),  # a Monday
        ("2026-09-14", "2026-09-17", 3),
        ("2026-09-18", "2026-09-21", 1),  # Friday to Monday
        ("2026-09-17", "2026-09-22", 3),
        ("2026-09-19", "2026-09-20", 0),  # a weekend
    ],
)
def test_school_days_are_monday_to_friday(start: str, end: str, days: int) -> None:
    """By the calendar of September 2026, whose first is a Tuesday."""
    assert dt.date(2026, 9, 1).weekday() == 1
    first, last = dt.date.fromisoformat(start), dt.date.fromisoformat(end)
    assert school_days_between(first, last) == days


def test_who_signs_nothing_for_three_school_days_is_away(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    since = MetalHolder.objects.get().at
    days = 0
    while school_days_between(since.date(), since.date() + dt.timedelta(days=days)) < 2:
        days += 1
    clock.move_to(since + dt.timedelta(days=days))
    assert not current_holder(passed.stock).is_away  # type: ignore[union-attr]
    while school_days_between(since.date(), since.date() + dt.timedelta(days=days)) < 3:
        days += 1
    clock.move_to(since + dt.timedelta(days=days))
    assert current_holder(passed.stock).is_away  # type: ignore[union-attr]
    start_step(step_of(passed.projects[0], "drill"), acting=passed.cast.owner)
    assert not current_holder(passed.stock).is_away  # type: ignore[union-attr]


def test_turns_are_changed_until_either_has_begun(passed: Passed, clock: Traveller) -> None:
    teacher = passed.cast.teacher
    assert [passed.share(n).turn for n in (0, 1)] == [1, 2]
    move_turn(passed.share(1), "earlier", acting=teacher, seen=2)
    assert [passed.share(n).turn for n in (0, 1)] == [2, 1]
    move_turn(passed.share(1), "earlier", acting=teacher, seen=2)  # the second tap
    assert [passed.share(n).turn for n in (0, 1)] == [2, 1]
    passed.dry(clock)
    assert current_holder(passed.stock).share == passed.share(1)  # type: ignore[union-attr]
    with pytest.raises(Refused, match="has begun"):
        move_turn(passed.share(0), "earlier", acting=teacher)


def test_turns_are_the_teachers(passed: Passed) -> None:
    with pytest.raises(Refused, match="Only a teacher"):
        move_turn(passed.share(1), "earlier", acting=passed.cast.classmate)
    with pytest.raises(Refused, match="nobody to change"):
        move_turn(passed.share(0), "earlier", acting=passed.cast.teacher)


def test_an_older_plan_has_no_holder_until_a_teacher_names_one(world: World) -> None:
    """Issued before metal was passed on by rule: own steps for everybody, nobody is stopped."""
    seats = [world.cast.seat, world.cast.classmate_seat]
    older = passed_plan(world, seats, issued=False)
    CutPlan.objects.filter(pk=older.plan.pk).update(way=CutPlan.Way.ALONE)
    older.plan.refresh_from_db()
    issue_plan(older.plan, acting=world.cast.teacher)
    CutPlan.objects.filter(pk=older.plan.pk).update(way=CutPlan.Way.PASSED)
    assert current_holder(older.stock) is None
    start_step(step_of(older.projects[1], "prepare"), acting=world.cast.classmate)
    hand_on(older.stock, older.share(1), acting=world.cast.teacher)
    with pytest.raises(Refused, match="Student B has"):
        start_step(step_of(older.projects[0], "prepare"), acting=world.cast.owner)
