"""Decisions about a plan: approve, hand out, drop; all of it or nothing, and once."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from django.db import transaction
from shapely.geometry import box

from classroom.models import History, subject_of
from classroom.refusals import Refused
from inventory.models import BudgetEntry, StockMovement, StockPiece
from inventory.rack import stock
from inventory.rack.stock import SomebodyWasFirst
from inventory.spending import ledger
from inventory.spending.ledger import OverBudget
from studio.models import CutPlan, Pattern, Project
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.quote import planned_total
from tests.people import Cast

from . import making

State = CutPlan.State


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", making.box(0, 0, 80, 60), cost="8.00")
    making.supplies(cast)
    making.allot(cast, "50.00")
    a_brief = making.brief(cast, metal)
    return making.placed(
        cast,
        making.approved_project(a_brief, cast.seat, metal),
        making.approved_project(a_brief, cast.classmate_seat, metal, making.FISH),
    )


@pytest.fixture
def budget(cast: Cast) -> Iterator[None]:
    yield
    assert ledger.audit(ledger.open_budget(cast.course)) == []


pytestmark = pytest.mark.usefixtures("budget")


def stages(plan: CutPlan) -> set[str]:
    return set(Project.objects.filter(plan_shares__plan=plan).values_list("stage", flat=True))


def entries(plan: CutPlan) -> list[tuple[str, Decimal]]:
    return list(BudgetEntry.objects.filter(cause=subject_of(plan)).values_list("kind", "amount"))


def test_approval_reserves_the_metal_and_commits_the_quotes_sum(cast: Cast, plan: CutPlan) -> None:
    total = planned_total(plan)
    approve_plan(plan, acting=cast.teacher)
    assert plan.state == State.APPROVED
    assert plan.approved_by == cast.teacher
    piece = StockPiece.objects.get(code="CU-1")
    assert piece.state == StockPiece.State.RESERVED
    assert plan.reserved.get(live=True).stock_piece == piece
    assert entries(plan) == [("commitment", total)]
    assert ledger.open_budget(cast.course).left == Decimal("50.00") - total
    assert stages(plan) == {Project.Stage.PLANNED}
    assert History.objects.about(plan).filter(verb="plan-approved").count() == 1


def test_second_approval_changes_nothing(cast: Cast, plan: CutPlan) -> None:
    approve_plan(plan, acting=cast.teacher)
    approve_plan(plan, acting=cast.teacher)
    assert len(entries(plan)) == 1
    assert History.objects.about(plan).filter(verb="plan-approved").count() == 1


def nothing_happened(plan: CutPlan) -> None:
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    assert plan.approved_by is None
    assert not entries(plan)
    assert not plan.reserved.exists()
    assert stages(plan) == {Project.Stage.PATTERN_APPROVED}
    assert not History.objects.about(plan).filter(verb="plan-approved").exists()


def test_plan_over_budget_is_refused_whole(cast: Cast, plan: CutPlan) -> None:
    ledger.allot(
        ledger.open_budget(cast.course), Decimal("-49.00"), acting=cast.teacher, reason="taken back"
    )
    with pytest.raises(OverBudget, match="is missing"):
        approve_plan(plan, acting=cast.teacher)
    nothing_happened(plan)
    assert StockPiece.objects.get().state == StockPiece.State.RACK
    assert not StockMovement.objects.exists()


def test_plan_over_budget_goes_ahead_with_a_teachers_reason(cast: Cast, plan: CutPlan) -> None:
    ledger.allot(
        ledger.open_budget(cast.course), Decimal("-49.00"), acting=cast.teacher, reason="taken back"
    )
    approve_plan(plan, acting=cast.teacher, overdraw_reason="the fair is tomorrow")
    assert plan.state == State.APPROVED
    assert {kind for kind, _ in entries(plan)} == {"overdraw", "commitment"}
    row = History.objects.about(plan).get(verb="plan-approved")
    assert row.detail["why"] == "the fair is tomorrow"


def test_plan_on_metal_that_somebody_took_is_refused_whole(cast: Cast, plan: CutPlan) -> None:
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    with pytest.raises(SomebodyWasFirst, match="CU-1"):
        approve_plan(plan, acting=cast.teacher)
    nothing_happened(plan)


def test_plan_with_a_project_whose_pattern_was_returned_is_refused_whole(
    cast: Cast, plan: CutPlan
) -> None:
    Project.objects.filter(seat=cast.seat).update(stage=Project.Stage.RETURNED)
    with pytest.raises(Refused, match="moved on"):
        approve_plan(plan, acting=cast.teacher)
    assert StockPiece.objects.get().state == StockPiece.State.RACK
    assert not entries(plan)


def test_plan_that_leaves_pieces_without_a_place_is_refused(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 50, 50))
    making.allot(cast)
    big = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, making.TAG, box(0, 0, 99, 99)
    )
    plan = making.placed(cast, big)
    with pytest.raises(Refused, match="found no place"):
        approve_plan(plan, acting=cast.teacher)
    nothing_happened(plan)


def test_handing_out_turns_the_commitment_into_a_charge(cast: Cast, plan: CutPlan) -> None:
    total = planned_total(plan)
    approve_plan(plan, acting=cast.teacher)
    issue_plan(plan, acting=cast.teacher)
    assert plan.state == State.ISSUED
    assert entries(plan) == [("commitment", total), ("release", total), ("charge", total)]
    now = ledger.open_budget(cast.course)
    assert (now.committed, now.charged) == (Decimal(0), total)
    assert StockPiece.objects.get().state == StockPiece.State.ISSUED
    assert stages(plan) == {Project.Stage.AT_BENCH}
    for project in Project.objects.filter(plan_shares__plan=plan):
        assert project.bench_steps.exists()


def test_second_handing_out_charges_nothing_more(cast: Cast, plan: CutPlan) -> None:
    approve_plan(plan, acting=cast.teacher)
    stale = CutPlan.objects.get(pk=plan.pk)
    issue_plan(plan, acting=cast.teacher)
    steps = Project.objects.get(seat=cast.seat).bench_steps.count()
    issue_plan(stale, acting=cast.teacher)
    assert len(entries(plan)) == 3
    assert Project.objects.get(seat=cast.seat).bench_steps.count() == steps
    assert History.objects.about(plan).filter(verb="plan-issued").count() == 1


def test_metal_of_a_plan_that_is_not_approved_is_not_handed_out(cast: Cast, plan: CutPlan) -> None:
    with pytest.raises(Refused, match="No metal can be handed out"):
        issue_plan(plan, acting=cast.teacher)
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED


def test_dropping_an_approved_plan_frees_metal_money_and_projects(
    cast: Cast, plan: CutPlan
) -> None:
    total = planned_total(plan)
    approve_plan(plan, acting=cast.teacher)
    drop_plan(plan, acting=cast.teacher, why="a better pattern came in")
    assert plan.state == State.DROPPED
    assert StockPiece.objects.get().state == StockPiece.State.RACK
    assert not plan.reserved.filter(live=True).exists()
    assert entries(plan) == [("commitment", total), ("release", total)]
    assert ledger.open_budget(cast.course).left == Decimal("50.00")
    assert stages(plan) == {Project.Stage.PATTERN_APPROVED}
    projects = list(Project.objects.filter(plan_shares__plan=plan))
    again = making.placed(cast, *projects)
    assert again.state == State.PROPOSED


def test_second_drop_changes_nothing(cast: Cast, plan: CutPlan) -> None:
    approve_plan(plan, acting=cast.teacher)
    drop_plan(plan, acting=cast.teacher)
    drop_plan(plan, acting=cast.teacher)
    assert len(entries(plan)) == 2
    assert History.objects.about(plan).filter(verb="plan-dropped").count() == 1


def test_plan_whose_metal_is_at_the_bench_cannot_be_dropped(cast: Cast, plan: CutPlan) -> None:
    approve_plan(plan, acting=cast.teacher)
    issue_plan(plan, acting=cast.teacher)
    with pytest.raises(Refused, match="handed out"):
        drop_plan(plan, acting=cast.teacher)
    plan.refresh_from_db()
    assert plan.state == State.ISSUED


def test_dropped_plan_cannot_be_approved(cast: Cast, plan: CutPlan) -> None:
    drop_plan(plan, acting=cast.teacher)
    with pytest.raises(Refused, match="cannot be approved"):
        approve_plan(plan, acting=cast.teacher)


def test_reservation_of_an_approved_plan_holds_against_the_rack(cast: Cast, plan: CutPlan) -> None:
    approve_plan(plan, acting=cast.teacher)
    piece = StockPiece.objects.get()
    with pytest.raises(SomebodyWasFirst), transaction.atomic():
        stock.reserve([piece], acting=cast.teacher, reason="another plan", cause="plan:0")
    assert Pattern.objects.count() == 2


def test_metal_whose_edges_were_unticked_since_is_not_handed_out(cast: Cast, plan: CutPlan) -> None:
    approve_plan(plan, acting=cast.teacher)
    StockPiece.objects.update(clean_edges=False)
    with pytest.raises(Refused, match=r"CU-1 has been corrected .* Give this plan up"):
        issue_plan(plan, acting=cast.teacher)
    plan.refresh_from_db()
    assert plan.state == State.APPROVED
    assert StockPiece.objects.get().state == StockPiece.State.RESERVED
    assert [kind for kind, _ in entries(plan)] == ["commitment"]
