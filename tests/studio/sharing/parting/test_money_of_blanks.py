"""What becomes of the money of a parted sheet: each settles alone, nothing is lost or counted
twice, and what nobody goes on with is the course's or the rack's."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.auditing import audit
from inventory.models import Budget
from inventory.spending import ledger
from studio.auditing import audit_plans
from studio.models import CutPlan, Project, Quote, StockStep
from studio.steps.plans.quote import planned_total
from studio.steps.rack.give_back import close_plan, every_offcut
from studio.steps.sharing.parting.measuring import PartOut
from studio.steps.sharing.parting.part import sign_parted, start_parting
from tests.studio.bench.making import World
from tests.studio.sharing import making
from tests.studio.sharing.own import (
    charged_for,
    close,
    consumables,
    metal_gone,
    own_plan,
    parted,
)

Two = tuple[Project, Project]


@pytest.mark.parametrize("way", ["parted", "sawn"])
@pytest.mark.parametrize("rule", Budget.CostPolicy.values)
def test_each_settles_alone_and_all_that_is_gone_is_charged(
    world: World, two: Two, way: str, rule: str
) -> None:
    budget = ledger.open_budget(world.cast.course)
    ledger.choose_policy(budget, rule, acting=world.cast.teacher)
    plan = making.handed_out(world, making.parted(world, *two, way=way))
    assert [*audit(), *audit_plans()] == []
    parted(world, plan)
    assert [*audit(), *audit_plans()] == []
    first = close(world, two[0])
    assert [*audit(), *audit_plans()] == []
    # The other's price stands until that student brings back.
    assert own_plan(two[1]).quotes.get().kind == "planned"
    second = close(world, two[1])
    assert [*audit(), *audit_plans()] == []
    settled = list(Quote.objects.filter(kind="settled"))
    assert len(settled) == 2
    assert charged_for([plan, first, second]) == metal_gone(world) + consumables(settled)


def test_as_planned_nothing_is_left_to_settle(world: World, two: Two, plan: CutPlan) -> None:
    """The blanks cost what the quotes said, and leave the offcuts that they said."""
    parted(world, plan)
    for project in two:
        planned = own_plan(project).quotes.get()
        own = close(world, project)
        assert own.quotes.get(kind="settled").total == planned.total
        assert charged_for([own]) == 0


def test_own_plans_are_planned_for_what_the_shared_plan_was_charged(
    world: World, two: Two, plan: CutPlan
) -> None:
    parted(world, plan)
    own = [own_plan(project) for project in two]
    assert sum(planned_total(one) for one in own) == planned_total(plan) == charged_for([plan])


def test_a_blank_that_comes_back_uncut_costs_nothing(world: World, two: Two, plan: CutPlan) -> None:
    parted(world, plan)
    planned = own_plan(two[0]).quotes.get()
    blank = own_plan(two[0]).reserved.get().stock_piece
    own = close(world, two[0], made=False)
    blank.refresh_from_db()
    assert (blank.state, blank.cost) == ("rack", Decimal("8.00"))
    assert own.quotes.get(kind="settled").total == 0
    assert charged_for([own]) == -planned.total
    assert [*audit(), *audit_plans()] == []


def test_a_spoilt_blank_is_the_courses(world: World, two: Two, plan: CutPlan) -> None:
    step = StockStep.objects.get(plan_stock__plan=plan)
    start_parting(step, acting=world.cast.teacher)
    planned = {quote.project_id: quote.total for quote in plan.quotes.all()}
    entries = sign_parted(
        step,
        acting=world.cast.teacher,
        measured={4: PartOut(is_lost=True, cause="the shear slipped")},
    )
    assert {entry.kind for entry in entries if entry.part == 4} == {"lost"}
    two[0].refresh_from_db()
    assert two[0].stage == Project.Stage.PATTERN_APPROVED
    # The classmate's price stays; of the owner's nothing, but all that the blank cost.
    assert charged_for([plan]) == planned[two[1].pk] + Decimal("8.00")
    assert [*audit(), *audit_plans()] == []
    own = close(world, two[1])
    settled = list(own.quotes.filter(kind="settled"))
    assert charged_for([plan, own]) == metal_gone(world) + consumables(settled)
    assert [*audit(), *audit_plans()] == []


def test_a_shared_plan_that_is_parted_is_not_closed_as_a_whole(
    world: World, two: Two, plan: CutPlan
) -> None:
    """Before anything is parted the sheet can come back whole; the two pay nothing then."""
    close_plan(
        plan,
        acting=world.cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal(0),
        given_up_reason="the term is over",
    )
    world.sheets[0].refresh_from_db()
    assert world.sheets[0].state == "rack"
    assert charged_for([plan]) == 0
    assert [*audit(), *audit_plans()] == []
