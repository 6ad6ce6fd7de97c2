"""Reviews of metal that several students, or several plans, had together: all of it, once."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.auditing import audit
from inventory.models import Budget
from inventory.spending import ledger
from studio.auditing import audit_plans
from studio.models import CutPlan, PlanProject, Project, StockStep
from studio.steps.rack.give_back import at_the_bench, close_plan, every_offcut
from studio.steps.sharing.parting.measuring import PartOut
from studio.steps.sharing.parting.part import sign_parted, start_parting
from studio.telling.review.counted import borne_by_course
from studio.telling.review.entries import Entry, entries_of, totals
from tests.people import Cast
from tests.studio.bench.making import World, make_world
from tests.studio.plans.added import added_and_issued, placed_and_issued
from tests.studio.sharing import making
from tests.studio.sharing.own import charged_for, close, own_plan, parted

AREA = Decimal("0.1")  # mm²; areas of quotes are told to a hundredth each


def reviewed() -> list[Entry]:
    return entries_of(CutPlan.objects.all(), Project.objects.all())


def charged() -> Decimal:
    return charged_for(list(CutPlan.objects.all()))


def told() -> Decimal:
    """What the review says that projects and course paid together."""
    return sum((entry.total for entry in reviewed()), borne_by_course(CutPlan.objects.all()))


def both(world: World) -> tuple[Project, Project]:
    """A project of the owner and one of the classmate."""
    return world.project(world.cast.seat), world.project(world.cast.classmate_seat)


@pytest.fixture
def two_sheets(cast: Cast) -> World:
    return make_world(cast)


@pytest.mark.parametrize("way", ["parted", "sawn"])
@pytest.mark.parametrize("rule", Budget.CostPolicy.values)
def test_a_parted_sheet_is_told_once_whoever_has_brought_back(
    two_sheets: World, way: str, rule: str
) -> None:
    ledger.choose_policy(
        ledger.open_budget(two_sheets.cast.course), rule, acting=two_sheets.cast.teacher
    )
    two = (
        two_sheets.project(two_sheets.cast.seat),
        two_sheets.project(two_sheets.cast.classmate_seat),
    )
    plan = making.handed_out(two_sheets, making.parted(two_sheets, *two, way=way))
    assert len(reviewed()) == 2
    assert told() == charged()
    parted(two_sheets, plan)
    for project in (None, *two):
        if project is not None:
            close(two_sheets, project)
        entries = reviewed()
        assert {entry.project for entry in entries} == set(two)
        assert told() == charged()
        # A third of the sheet is on the rack at once; the blanks and what cuts took are theirs.
        left = Decimal(3200) if way == "parted" else Decimal(40 * 80) - Decimal("0.15") * 80
        assert abs(totals(entries).issued_mm2 - (9600 - left)) < AREA


def test_an_added_project_is_told_with_the_metal_it_lies_on(two_sheets: World) -> None:
    first = two_sheets.project(two_sheets.cast.seat)
    base = placed_and_issued(two_sheets, first)
    more, plan = added_and_issued(two_sheets, base)
    assert abs(totals(reviewed()).issued_mm2 - 9600) < AREA
    assert told() == charged()
    Project.objects.filter(pk__in=[first.pk, more.pk]).update(stage=Project.Stage.MADE)
    close_plan(
        base,
        acting=two_sheets.cast.teacher,
        offcuts_kept=every_offcut(base),
        scrap_mass_g=Decimal(1),
        overdraw_reason="used more",
    )
    entries = reviewed()
    assert {entry.plan_pk for entry in entries} == {base.pk, plan.pk}
    assert abs(totals(entries).issued_mm2 - 9600) < AREA
    assert told() == charged()


def left_out(world: World, plan: CutPlan, project: Project) -> None:
    """As a teacher leaves a student out who was away when papers were stuck."""
    shares = PlanProject.objects.filter(plan=plan, project=project)
    shares.update(
        live=False,
        left_out_at=timezone.now(),
        left_out_by=world.cast.teacher,
        left_out_why="away",
    )
    Project.objects.filter(pk=project.pk).update(stage=Project.Stage.PATTERN_APPROVED)


def test_who_is_left_out_pays_nothing_and_the_metal_is_metal_again(two_sheets: World) -> None:
    stays, goes = (
        two_sheets.project(two_sheets.cast.seat),
        two_sheets.project(two_sheets.cast.classmate_seat),
    )
    plan = two_sheets.issued(stays, goes)
    CutPlan.objects.filter(pk=plan.pk).update(way=CutPlan.Way.PASSED)
    plan.refresh_from_db()
    Project.objects.filter(pk__in=[stays.pk, goes.pk]).update(stage=Project.Stage.MADE)
    before = sum(leaf.area_mm2 for leaf in at_the_bench(plan).leaves)
    left_out(two_sheets, plan, goes)
    assert {entry.project for entry in reviewed()} == {stays}
    (out,) = at_the_bench(plan).outs
    assert (len(out.made), len(out.unmade)) == (1, 0)
    assert sum(leaf.area_mm2 for leaf in out.leaves) > before + 500  # a tag has 520 mm²
    close_plan(
        plan,
        acting=two_sheets.cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal(1),
    )
    assert not plan.quotes.filter(project=goes, kind="settled").exists()
    assert plan.metal_return.balance["left_out"] == [goes.pk]
    assert plan.quotes.get(kind="settled").project == stays
    assert {entry.project for entry in reviewed()} == {stays}
    assert told() == charged()
    assert [*audit(), *audit_plans()] == []


def test_a_spoilt_blank_is_told_as_the_courses(two_sheets: World) -> None:
    two = (
        two_sheets.project(two_sheets.cast.seat),
        two_sheets.project(two_sheets.cast.classmate_seat),
    )
    plan = making.handed_out(two_sheets, making.parted(two_sheets, *two))
    step = StockStep.objects.get(plan_stock__plan=plan)
    start_parting(step, acting=two_sheets.cast.teacher)
    sign_parted(
        step,
        acting=two_sheets.cast.teacher,
        measured={4: PartOut(is_lost=True, cause="the shear slipped")},
    )
    assert {entry.project for entry in reviewed()} == {two[1]}
    assert borne_by_course(CutPlan.objects.all()) == Decimal("8.00")
    assert told() == charged()
    assert own_plan(two[1]).parent == plan
