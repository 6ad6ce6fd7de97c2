"""Where the metal and the money went: rows add up to totals, and totals to what really was."""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext
from shapely.geometry import box

from classroom.models import Role, Seat, User
from studio.models import Brief, CutPlan, Return
from studio.telling.review.charts import sentences
from studio.telling.review.entries import Totals, entries_of, totals
from studio.telling.review.filters import ordered, rows_by
from studio.telling.review.shown import course_entries, overview_rows, review_context

from .conftest import Class, close

MONEY = ("metal_money", "consumables", "total")
AREAS = ("pieces_mm2", "offcuts_mm2", "scrap_mm2", "kerf_mm2")


def entries(after: Class) -> Any:
    return course_entries(after.cast.teacher, [after.cast.course])


def context(after: Class, query: str = "", **more: Any) -> dict[str, Any]:
    return review_context(after.cast.teacher, after.cast.course, QueryDict(query), **more)


def test_rows_add_up_to_the_totals_to_the_cent(after: Class) -> None:
    found = context(after)
    for name in (*MONEY, *AREAS):
        assert sum(getattr(row.sums, name) for row in found["rows"]) == getattr(found["sums"], name)


def test_the_money_is_what_the_budget_was_charged(after: Class) -> None:
    budget = after.cast.course.budget
    budget.refresh_from_db()
    assert totals(entries(after)).total == budget.charged - budget.credited


def test_areas_are_those_of_the_plans_balance(after: Class) -> None:
    balance = Return.objects.get(plan=after.closed).balance["area_mm2"]
    sums = totals(entries(after))
    assert float(sums.issued_mm2) == pytest.approx(balance["out"], abs=0.1)
    assert float(sums.pieces_mm2) == pytest.approx(balance["pieces"], abs=0.1)
    assert float(sums.offcuts_mm2) == pytest.approx(balance["offcuts"], abs=0.1)
    assert float(sums.kerf_mm2) == pytest.approx(balance["kerf"], abs=0.1)
    assert float(sums.scrap_mm2) == pytest.approx(balance["scrap"], abs=0.1)


def test_two_equal_pieces_share_everything_equally(after: Class) -> None:
    one, other = entries(after)
    for name in AREAS:
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=Decimal("0.02"))


def test_the_mass_of_a_whole_sheet_comes_from_area_thickness_and_density(after: Class) -> None:
    """120 × 80 × 0.813 mm of copper at 8.89 g/cm³ (alloy table, C11000): 69.4 g."""
    assert totals(entries(after)).issued_g == pytest.approx(9600 * 0.813 * 8.89 / 1000, rel=0.01)


def test_a_plan_at_the_bench_counts_as_planned(after: Class) -> None:
    student = User.objects.create_user(
        "third", "x-1", display_name="Third T", role=Role.STUDENT, school=after.cast.school
    )
    seat = Seat.objects.create(course=after.cast.course, student=student)
    project = after.world.project(seat)
    after.world.issued(project, sheets=after.world.sheets[1:2])
    rows = {row.label: row for row in context(after)["rows"]}
    assert not rows["Third T"].settled
    assert rows["Wren T"].settled
    assert rows["Third T"].sums.issued_mm2 == pytest.approx(Decimal(9600), abs=Decimal("0.1"))


def test_metal_that_is_only_reserved_is_named_apart(after: Class) -> None:
    brief = Brief.objects.create(
        course=after.cast.course, title="Second", allowance=9, created_by=after.cast.teacher
    )
    after.world.brief = brief
    project = after.world.project(after.cast.seat)
    plan = after.world.plan([project], sheets=after.world.sheets[1:2])
    CutPlan.objects.filter(pk=plan.pk).update(state=CutPlan.State.APPROVED)
    found = context(after)
    assert found["sums"].count == 2
    assert found["reserved"] == {"count": 1, "total": plan.quotes.get().total}


def test_waste_is_a_share_of_what_was_used_up(after: Class) -> None:
    sums = totals(entries(after))
    assert sums.waste_share == pytest.approx(
        float(sums.waste_mm2 / (sums.waste_mm2 + sums.pieces_mm2)), abs=0.0051
    )  # in whole percent, so that it makes 100 with the pieces


def test_nothing_handed_out_is_nothing(after: Class) -> None:
    none = totals([])
    assert (none.count, none.total, none.waste_share) == (0, 0, None)


def test_an_allowance_counts_once_for_a_project_on_two_plans(after: Class) -> None:
    first = entries(after)[0]
    again = dataclasses.replace(first, plan_pk=first.plan_pk + 1)
    sums = totals([first, again])
    assert sums.allowance == first.allowance
    assert sums.total == 2 * first.total


@pytest.mark.parametrize(
    ("query", "count"),
    [
        ("", 2),
        ("metal=999", 2),  # no such metal: the field is wrong and does not narrow
        ("from_day=2026-11-25", 2),
        ("from_day=2026-11-26", 0),
        ("to_day=2026-11-24", 0),
        ("to_day=2026-11-25&sort=cost", 2),
        ("from_day=rubbish&sort=rubbish", 2),
    ],
)
def test_filters_narrow_by_the_day_of_handing_out(after: Class, query: str, count: int) -> None:
    found = context(after, query)
    assert len(found["rows"]) == count
    assert found["anything"]


def test_filters_narrow_by_metal_and_brief(after: Class) -> None:
    metal, brief = after.world.metal.pk, after.world.brief.pk
    assert len(context(after, f"metal={metal}&brief={brief}")["rows"]) == 2
    assert context(after, f"metal={metal}")["narrowed"].startswith("copper")


def test_an_end_before_the_beginning_is_an_error_in_the_form(after: Class) -> None:
    form = context(after, "from_day=2026-11-25&to_day=2026-11-01")["form"]
    assert "to_day" in form.errors


def test_a_briefs_review_has_only_its_projects(after: Class) -> None:
    other = Brief.objects.create(
        course=after.cast.course, title="Second", allowance=9, created_by=after.cast.teacher
    )
    assert len(context(after, brief=after.world.brief)["rows"]) == 2
    assert not context(after, brief=other)["anything"]


def test_rows_can_be_put_in_order(after: Class) -> None:
    rows = rows_by(entries(after), "project")
    dear = dataclasses.replace(
        rows[0], sums=dataclasses.replace(rows[0].sums, total=Decimal("99.00"))
    )
    assert [row.key for row in ordered([rows[1], dear], "cost")] == [dear.key, rows[1].key]
    assert [row.key for row in ordered([rows[1], dear], "over")] == [dear.key, rows[1].key]
    assert [row.label for row in ordered(rows, "name")] == ["Odd F", "Wren T"]


def test_the_largest_cause_of_waste_is_named(after: Class) -> None:
    sums = Totals(
        count=2,
        pieces_mm2=Decimal(100), offcuts_mm2=Decimal(50),
        scrap_mm2=Decimal(30), kerf_mm2=Decimal(20),
        issued_g=200.0, pieces_g=100.0, offcuts_g=50.0, scrap_g=30.0, kerf_g=20.0,
        metal_money=Decimal(5), total=Decimal(6), allowance=Decimal(9),
    )  # fmt: skip
    said = " ".join(sentences(sums, [], [], after.cast.school))
    assert "The largest cause of waste is scrap too small to use again: 30.0 g, 60 % of it." in said
    more_kerf = dataclasses.replace(sums, kerf_g=80.0)
    said = " ".join(sentences(more_kerf, [], [], after.cast.school))
    assert "The largest cause of waste is kerf: 80.0 g, 73 % of it." in said


def test_pieces_of_another_course_never_count(after: Class) -> None:
    assert entries_of(CutPlan.objects.none(), after.own.__class__.objects.all()) == []
    assert overview_rows(after.cast.teacher, [after.cast.course])[0].sums.count == 2
    assert overview_rows(after.cast.other_teacher, [after.cast.course])[0].sums.count == 0


def test_a_review_takes_as_many_queries_for_six_projects_as_for_two(after: Class) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            found = context(after)
            assert found["rows"]
        return len(caught)

    before = queries()
    for number in (1, 2):
        seats = []
        for name in (f"more.{number}a", f"more.{number}b"):
            student = User.objects.create_user(
                name, "x-1", display_name=name, role=Role.STUDENT, school=after.cast.school
            )
            seats.append(Seat.objects.create(course=after.cast.course, student=student))
        projects = [after.world.project(seat, box(0, 0, 25, 15)) for seat in seats]
        sheet = after.world.sheets[number : number + 1]
        plan = after.world.issued(*projects, sheets=sheet)
        if number == 1:
            close(after.world, plan)
    assert len(context(after)["rows"]) == 6
    assert queries() == before
