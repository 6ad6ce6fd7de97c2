"""Two people at the same moment: one offcut, one budget, one project. The database decides.

These run on SQLite (a file, several connections) and on PostgreSQL alike. With a guard that
reads and then writes they fail on PostgreSQL; with none at all they fail on SQLite too, where
immediate transactions take turns anyway.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from shapely.geometry import box

from classroom.models import User
from classroom.refusals import Refused
from inventory.models import StockMovement, StockPiece
from inventory.rack.stock import SomebodyWasFirst
from inventory.spending import ledger
from studio.models import CutPlan, PlanProject, PlanStock, Project
from studio.running.placing import doing as running
from studio.steps.plans import place
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.quote import planned_total
from studio.steps.plans.rivals import choose, try_beside
from tests.at_once import at_once
from tests.people import Cast, make_cast

from . import making
from .making import approving

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def placed_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is queued: these tests place when they want to."""
    monkeypatch.setattr(place, "place_plan", type("Queue", (), {"enqueue": lambda *a: None})())


def dropping(plan: CutPlan, teacher: User) -> Callable[[], Any]:
    return lambda: drop_plan(CutPlan.objects.get(pk=plan.pk), acting=teacher)


def plans_on_one_offcut(cast: Cast, count: int) -> list[CutPlan]:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 60, 40), cost="8.00")
    plans = []
    for number in range(count):
        a_brief = making.brief(cast, metal, f"Brief {number}")
        plans.append(making.placed(cast, making.approved_project(a_brief, cast.seat, metal)))
    return plans


def test_of_two_approvals_on_one_offcut_exactly_one_wins() -> None:
    cast = make_cast()
    making.allot(cast, "100.00")
    for _ in range(3):
        plans = plans_on_one_offcut(cast, 2)
        outcomes = at_once(*[approving(plan, cast.teacher) for plan in plans])
        won = [outcome for outcome in outcomes if isinstance(outcome, CutPlan)]
        lost = [outcome for outcome in outcomes if isinstance(outcome, SomebodyWasFirst)]
        assert len(won) == 1, outcomes
        assert len(lost) == 1, outcomes
        piece = StockPiece.objects.get()
        assert PlanStock.objects.filter(stock_piece=piece, live=True).count() == 1
        assert StockMovement.objects.filter(kind="reserve").count() == 1
        budget = ledger.open_budget(cast.course)
        assert budget.committed == planned_total(won[0])
        assert ledger.audit(budget) == []
        _clear(cast, plans)


def _clear(cast: Cast, plans: list[CutPlan]) -> None:
    """Put the offcut out of the way, so that the next round has one of its own."""
    for plan in plans:
        drop_plan(CutPlan.objects.get(pk=plan.pk), acting=cast.teacher)
    StockMovement.objects.all()._raw_delete("default")
    PlanStock.objects.all().delete()
    StockPiece.objects.all().delete()
    Project.objects.update(stage=Project.Stage.CLOSED)


def test_approvals_at_once_never_overspend_the_budget() -> None:
    cast = make_cast()
    metal = making.copper(cast)
    plans = []
    for number in range(5):
        making.stock(metal, f"CU-{number}", box(0, 0, 41 + number / 10, 30), cost="9.00")
        a_brief = making.brief(cast, metal, f"Brief {number}")
        plan = making.placed(cast, making.approved_project(a_brief, cast.seat, metal))
        # each plan's metal leaves the rack's offer, so that the next one takes another piece
        StockPiece.objects.filter(code=f"CU-{number}").update(state=StockPiece.State.ISSUED)
        plans.append(plan)
    StockPiece.objects.update(state=StockPiece.State.RACK)
    prices = [planned_total(plan) for plan in plans]
    allotted = prices[0] + prices[1] + Decimal("0.01")
    making.allot(cast, str(allotted))
    outcomes = at_once(*[approving(plan, cast.teacher) for plan in plans])
    won = [outcome for outcome in outcomes if isinstance(outcome, CutPlan)]
    assert len(won) == 2, outcomes
    assert all(isinstance(one, CutPlan | ledger.OverBudget) for one in outcomes), outcomes
    budget = ledger.open_budget(cast.course)
    assert budget.left >= 0
    assert budget.committed == sum(planned_total(plan) for plan in won)
    assert ledger.audit(budget) == []


def test_metal_handed_out_twice_at_once_is_charged_once() -> None:
    cast = make_cast()
    making.allot(cast, "100.00")
    (plan,) = plans_on_one_offcut(cast, 1)
    approve_plan(plan, acting=cast.teacher)
    outcomes = at_once(
        *[lambda: issue_plan(CutPlan.objects.get(pk=plan.pk), acting=cast.teacher)] * 3
    )
    assert all(isinstance(outcome, CutPlan) for outcome in outcomes), outcomes
    budget = ledger.open_budget(cast.course)
    assert budget.charged == planned_total(plan)
    assert budget.entries.filter(kind="charge").count() == 1


def test_project_is_put_on_one_plan_only() -> None:
    cast = make_cast()
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    outcomes = at_once(*[lambda: place.propose([project], acting=cast.teacher)] * 3)
    assert sum(isinstance(outcome, CutPlan) for outcome in outcomes) == 1, outcomes
    assert sum(isinstance(outcome, Refused) for outcome in outcomes) == 2, outcomes
    assert CutPlan.objects.count() == 1


def test_job_delivered_to_three_workers_at_once_is_done_by_one() -> None:
    cast = make_cast()
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    plan = place.propose([project], acting=cast.teacher, seconds=0.2)
    job = plan.placing.pk
    outcomes = at_once(
        *[lambda name=name: running.run(job, name) for name in ("a", "b", "c")]  # type: ignore[misc]
    )
    assert sorted(outcomes, key=str) == [False, False, True]
    plan.placing.refresh_from_db()
    assert plan.placing.attempts == 1


def test_plan_dropped_while_its_worker_finishes_stays_dropped() -> None:
    """The two take the job's row and the plan's row in the same order, or they would wait for
    each other for ever."""
    cast = make_cast()
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    for number in range(3):
        a_brief = making.brief(cast, metal, f"Brief {number}")
        project = making.approved_project(a_brief, cast.seat, metal)
        plan = place.propose([project], acting=cast.teacher, seconds=60.0)
        outcomes = at_once(*[partial(making.run, plan), dropping(plan, cast.teacher)])
        assert not any(isinstance(outcome, Exception) for outcome in outcomes), outcomes
        plan.refresh_from_db()
        assert plan.state == CutPlan.State.DROPPED
        assert plan.placing.state != "running"


def two_tries() -> tuple[Cast, CutPlan, CutPlan]:
    """A proposed plan of one project, and another try beside it, both ready to be decided."""
    cast = make_cast()
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    making.allot(cast, "100.00")
    brief = making.brief(cast, metal)
    plan = making.placed(cast, making.approved_project(brief, cast.seat, metal))
    rival = try_beside(plan, acting=cast.teacher)
    making.run(rival)
    return cast, plan, rival


def now(plan: CutPlan) -> CutPlan:
    return CutPlan.objects.select_related("course__school").get(pk=plan.pk)


def choosing(rival: CutPlan, teacher: User) -> Callable[[], Any]:
    return lambda: choose(now(rival), acting=teacher)


def one_plan_holds_the_project(*plans: CutPlan) -> bool:
    live = PlanProject.objects.filter(live=True)
    states = {now(plan).pk: now(plan).state for plan in plans}
    standing = [pk for pk, state in states.items() if state != CutPlan.State.DROPPED]
    return [share.plan_id for share in live] == standing and len(standing) <= 1


def test_one_of_two_tries_approved_and_the_other_chosen_at_once_leave_one() -> None:
    cast, plan, rival = two_tries()
    outcomes = at_once(*[approving(plan, cast.teacher), choosing(rival, cast.teacher)])
    assert sum(isinstance(one, CutPlan) for one in outcomes) == 1, outcomes
    assert sum(isinstance(one, Refused) for one in outcomes) == 1, outcomes
    assert one_plan_holds_the_project(plan, rival)
    budget = ledger.open_budget(cast.course)
    approved = now(plan).state == CutPlan.State.APPROVED
    assert budget.committed == (planned_total(plan) if approved else 0)
    assert ledger.audit(budget) == []


def test_another_try_chosen_twice_at_once_is_chosen_once() -> None:
    cast, plan, rival = two_tries()
    outcomes = at_once(*[choosing(rival, cast.teacher)] * 3)
    assert any(isinstance(one, CutPlan) for one in outcomes), outcomes
    assert all(isinstance(one, CutPlan | Refused) for one in outcomes), outcomes
    assert one_plan_holds_the_project(plan, rival)
    assert now(rival).state == CutPlan.State.PROPOSED


@pytest.mark.parametrize("first_dropped", [True, False])
def test_a_try_dropped_while_one_is_chosen_leaves_nothing_held_twice(first_dropped: bool) -> None:
    cast, plan, rival = two_tries()
    gone = plan if first_dropped else rival
    outcomes = at_once(*[dropping(gone, cast.teacher), choosing(rival, cast.teacher)])
    assert all(isinstance(one, CutPlan | Refused) for one in outcomes), outcomes
    assert one_plan_holds_the_project(plan, rival), outcomes


def test_two_more_tries_asked_for_at_once_are_one() -> None:
    cast = make_cast()
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    plan = making.placed(cast, making.approved_project(making.brief(cast, metal), cast.seat, metal))
    outcomes = at_once(*[lambda: try_beside(now(plan), acting=cast.teacher)] * 3)
    assert sum(isinstance(one, CutPlan) for one in outcomes) == 1, outcomes
    assert sum(isinstance(one, Refused) for one in outcomes) == 2, outcomes
    assert plan.rivals.count() == 1
