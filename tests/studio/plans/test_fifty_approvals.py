"""Fifty approvals at the same moment against money for ten; two teachers on one stock piece; metal
that is brought back twice.

Real threads with a connection each, on whichever database the settings name. What is left is
proved from the entries alone, as `audit_stock` does it.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from classroom.models import History, Role, Seat, User
from inventory.auditing import audit
from inventory.models import BudgetEntry, ScrapEntry, StockMovement, StockPiece
from inventory.rack.stock import SomebodyWasFirst
from inventory.spending import ledger
from studio.auditing import audit_plans
from studio.models import CutPlan, PlanStock, Project, Quote, Return
from studio.steps.plans.quote import planned_total
from tests.at_once import at_once
from tests.people import make_cast, signed_in
from tests.studio.bench.making import World, make_world
from tests.studio.bench.returning.forms import filled_in, url_of

from .making import approving

pytestmark = pytest.mark.django_db(transaction=True)
State = CutPlan.State

APPROVALS, MONEY_FOR = 50, 10


def world_of_two_teachers(*, sheets: int) -> World:
    world = make_world(make_cast(), sheets=sheets)
    world.cast.course.teachers.add(world.cast.other_teacher)
    return world


def all_proved() -> bool:
    faults = [*audit(), *audit_plans()]
    assert faults == []
    return True


def student_number(world: World, number: int) -> Seat:
    school = world.cast.school
    person = User.objects.create_user(
        f"student-{number}", None, display_name=f"S {number}", role=Role.STUDENT, school=school
    )
    return Seat.objects.create(course=world.cast.course, student=person)


def test_of_50_approvals_at_once_against_money_for_10_exactly_10_are_kept_whole() -> None:
    world = world_of_two_teachers(sheets=APPROVALS)
    plans = [
        world.plan([world.project(student_number(world, number))], sheets=[sheet])
        for number, sheet in enumerate(world.sheets)
    ]
    (price,) = {planned_total(plan) for plan in plans}
    budget = ledger.open_budget(world.cast.course)
    money = MONEY_FOR * price
    ledger.allot(budget, money - budget.left, acting=world.cast.teacher, reason="money for ten")

    teachers = [world.cast.teacher, world.cast.other_teacher]
    outcomes = at_once(*[approving(plan, teachers[plan.pk % 2]) for plan in plans])

    won = [one for one in outcomes if isinstance(one, CutPlan)]
    lost = [one for one in outcomes if isinstance(one, ledger.OverBudget)]
    assert (len(won), len(lost)) == (MONEY_FOR, APPROVALS - MONEY_FOR), outcomes
    budget.refresh_from_db()
    assert (budget.committed, budget.left) == (money, Decimal(0))
    commitments = BudgetEntry.objects.filter(budget=budget, kind="commitment")
    assert [entry.amount for entry in commitments] == [price] * MONEY_FOR
    # Of a refused approval nothing is kept: no metal, no stage, no word in the history.
    assert CutPlan.objects.filter(state=State.APPROVED).count() == MONEY_FOR
    assert StockPiece.objects.filter(state=StockPiece.State.RESERVED).count() == MONEY_FOR
    assert PlanStock.objects.count() == MONEY_FOR
    assert StockMovement.objects.filter(kind="reserve").count() == MONEY_FOR
    assert Project.objects.filter(stage=Project.Stage.PLANNED).count() == MONEY_FOR
    assert History.objects.filter(verb="plan-approved").count() == MONEY_FOR
    assert all_proved()


def test_two_teachers_who_approve_plans_on_one_stock_piece_at_once_get_it_for_one() -> None:
    world = world_of_two_teachers(sheets=3)
    for turn, sheet in enumerate(world.sheets):
        seats = [student_number(world, 2 * turn + number) for number in range(2)]
        plans = [world.plan([world.project(seat)], sheets=[sheet]) for seat in seats]
        people = (world.cast.teacher, world.cast.other_teacher)
        outcomes = at_once(*[approving(*pair) for pair in zip(plans, people, strict=True)])
        (won,) = (one for one in outcomes if isinstance(one, CutPlan))
        assert sum(isinstance(one, SomebodyWasFirst) for one in outcomes) == 1, outcomes
        assert PlanStock.objects.get(stock_piece=sheet, live=True).plan == won
        assert StockMovement.objects.filter(stock_piece=sheet, kind="reserve").count() == 1
        (left,) = (plan for plan in plans if plan != won)
        left.refresh_from_db()
        assert left.state == State.PROPOSED
        assert all_proved()


def test_metal_brought_back_twice_at_once_by_two_teachers_comes_back_once() -> None:
    """Each has filled in the page in another way: what one of them says counts, and all of it."""
    world = world_of_two_teachers(sheets=2)
    plan = world.issued(world.project(world.cast.seat), world.project(world.cast.classmate_seat))
    Project.objects.update(stage=Project.Stage.MADE)
    people = (world.cast.teacher, world.cast.other_teacher)
    forms = (filled_in(), filled_in(fate_0="scrap", scrap_mass_g="31.7"))
    visits = [signed_in(person) for person in people]

    def sending(number: int) -> Callable[[], Any]:
        return lambda: visits[number].post(url_of(plan), forms[number]).status_code

    outcomes = at_once(*[sending(number % 2) for number in range(6)])

    assert set(outcomes) <= {200, 302}, outcomes
    assert 302 in outcomes
    kept = Return.objects.get()
    offcuts = StockPiece.objects.filter(kind=StockPiece.Kind.OFFCUT).count()
    said = {people[0]: (Decimal("2.40"), 1), people[1]: (Decimal("31.70"), 0)}
    assert (kept.scrap_mass_g, offcuts) == said[kept.by]
    assert ScrapEntry.objects.count() == 1
    assert Quote.objects.filter(kind=Quote.Kind.SETTLED).count() == 2  # one for each project
    assert History.objects.filter(verb="plan-closed").count() == 1
    assert all_proved()
