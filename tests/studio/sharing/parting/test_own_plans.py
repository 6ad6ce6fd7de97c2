"""Every student goes on with a plan of their own once the sheet is parted."""

from __future__ import annotations

from decimal import Decimal

import pytest
from shapely.geometry import box

from inventory.models import StockMovement, StockPiece
from studio.core.verifying import faults
from studio.models import CutPlan, PlanStock, Project, StockSignOff, StockStep
from studio.steps.sharing.parting.part import sign_parted
from tests.studio.bench.making import World
from tests.studio.sharing import making
from tests.studio.sharing.own import own_plan, parted

State = CutPlan.State


def test_handing_out_makes_the_step_and_gives_nobody_a_plan_yet(plan: CutPlan) -> None:
    step = StockStep.objects.get(plan_stock__plan=plan)
    assert (step.kind, step.number, step.done_at) == ("part", 1, None)
    assert not CutPlan.objects.filter(parent=plan).exists()
    assert plan.state == State.ISSUED


def test_blanks_and_leftover_are_what_the_figures_say(world: World, plan: CutPlan) -> None:
    entries = parted(world, plan)
    assert [entry.part for entry in entries] == [2, 3, 4]
    left, upper, lower = (StockPiece.objects.get(part_entries=entry) for entry in entries)
    assert (left.state, left.place) == ("rack", "Drawer 1")
    assert {upper.state, lower.state} == {"issued"}
    assert left.polygon.equals(box(0, 0, 40, 80))
    assert upper.polygon.equals(box(0, 0, 80, 40))
    # 24.00 for 9600 mm2: the leftover has a third of the area, each blank another
    assert [one.cost for one in (left, upper, lower)] == [Decimal("8.00")] * 3
    world.sheets[0].refresh_from_db()
    assert world.sheets[0].state == "gone"


def test_each_student_has_an_own_plan_at_the_bench(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan)
    owner, classmate = map(own_plan, two)
    plan.refresh_from_db()
    assert plan.state == State.PARTED
    for own in (owner, classmate):
        assert (own.parent, own.state, own.way, own.to_lay_anew) == (plan, "issued", "alone", False)
        assert own.laid is not None
        assert faults(own.asked, own.laid.placements) == ()
        assert own.reserved.get(live=True).stock_piece.state == "issued"
    assert not plan.shares.filter(live=True).exists()
    assert not PlanStock.objects.filter(plan=plan, live=True).exists()


def test_pieces_lie_on_the_blank_as_they_lay_on_the_sheet(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan)
    own = own_plan(two[1])
    assert own.laid is not None
    (placed,) = own.laid.placements
    # on the sheet at (2, 43); the blank's lower left corner lay at (0, 40)
    assert (placed.x_mm, placed.y_mm) == pytest.approx((2.0, 3.0))
    assert placed.metal == own.reserved.get().stock_piece.code


def test_prices_go_along_with_the_project(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan)
    for project in two:
        then = plan.quotes.get(project=project)
        now = own_plan(project).quotes.get()
        assert (now.total, now.metal_total) == (then.total, then.metal_total)
        assert [line.amount for line in now.lines.all()] == [
            line.amount for line in then.lines.all()
        ]


def test_blanks_come_to_the_rack_and_are_handed_out_in_one_go(world: World, plan: CutPlan) -> None:
    parted(world, plan)
    blanks = StockPiece.objects.filter(state="issued")
    for blank in blanks:
        kinds = list(StockMovement.objects.filter(stock_piece=blank).values_list("kind", flat=True))
        assert kinds == ["receive", "reserve", "issue"]


def test_signing_twice_parts_once(world: World, plan: CutPlan) -> None:
    first = parted(world, plan)
    step = StockStep.objects.get(plan_stock__plan=plan)
    again = sign_parted(step, acting=world.cast.teacher)
    assert [entry.pk for entry in again] == [entry.pk for entry in first]
    kinds = list(StockSignOff.objects.values_list("kind", flat=True))
    assert kinds == ["started", "done"]


def test_a_student_whose_metal_needs_no_cut_goes_on_at_once(
    world: World, two: tuple[Project, Project]
) -> None:
    plan = making.handed_out(world, making.on_sheets_of_their_own(world, *two))
    assert plan.state == State.PARTED
    assert not StockStep.objects.exists()
    for project, sheet in zip(two, world.sheets, strict=True):
        assert own_plan(project).reserved.get(live=True).stock_piece == sheet
        assert project.bench_steps.exists()
