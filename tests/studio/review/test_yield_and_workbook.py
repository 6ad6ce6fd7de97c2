"""Yield as planned and as reached, the largest causes of waste, terms, and the workbook."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from classroom.models import Course
from studio.models import CutPlan, Project
from studio.steps.rack.give_back import at_the_bench, close_plan, every_offcut
from studio.telling.review.causes import largest_causes, together, yields_of
from studio.telling.review.charts import term_bars
from studio.telling.review.shown import overview_rows
from tests.people import signed_in
from tests.studio.plans.making import queries

from .conftest import Class, close


def test_a_plan_whose_offcuts_all_came_back_reached_what_it_promised(after: Class) -> None:
    (one,) = yields_of(CutPlan.objects.all())
    area = after.closed.metal_return.balance["area_mm2"]
    assert one.share == pytest.approx(area["pieces"] / (area["out"] - area["offcuts"]))
    assert one.share == pytest.approx(one.planned_share, abs=0.01)
    assert sum(one.waste.values()) == pytest.approx(area["kerf"] + area["scrap"])
    assert together([one]) == (one.planned_share, one.share)


def test_an_offcut_that_was_not_kept_is_the_largest_cause(after: Class) -> None:
    world = after.world
    world.brief.pk, world.brief._state.adding = None, True
    world.brief.save()
    project = world.project(after.cast.seat)
    plan = world.issued(project, sheets=world.sheets[1:2])
    Project.objects.filter(pk=project.pk).update(stage="made")
    assert at_the_bench(plan).leaves
    close_plan(plan, acting=after.cast.teacher, offcuts_kept={}, scrap_mass_g=Decimal(40))
    yields = yields_of(CutPlan.objects.all())
    causes = largest_causes(yields)
    assert causes[0].words == "offcuts that were not kept"
    assert len(causes) <= 3
    assert sum(cause.share for cause in causes) <= 1.0 + 1e-9
    planned, real = together(yields)
    assert planned is not None
    assert real is not None
    assert real < planned


def test_a_project_that_was_given_up_is_named_as_a_cause(after: Class) -> None:
    world = after.world
    world.brief.pk, world.brief._state.adding = None, True
    world.brief.save()
    made, left = world.project(after.cast.seat), world.project(after.cast.classmate_seat)
    plan = world.issued(made, left, sheets=world.sheets[1:2])
    Project.objects.filter(pk=made.pk).update(stage="made")
    close_plan(
        plan,
        acting=after.cast.teacher,
        offcuts_kept={},
        scrap_mass_g=Decimal(40),
        given_up_reason="left the class",
    )
    newest = yields_of(CutPlan.objects.all())[0]
    assert newest.waste["given_up"] == pytest.approx(520.0, abs=1.0)  # 30 × 20 less the window
    assert every_offcut(plan) is not None


def test_the_course_page_and_its_print_name_yield_and_causes(after: Class) -> None:
    for name in ("course_review", "review_print"):
        url = reverse(name, args=[after.cast.course.pk])
        text = signed_in(after.cast.teacher).get(url).content.decode()
        assert "ended in pieces; the plans promised" in text
        assert "of the waste." in text


def test_terms_stand_side_by_side_oldest_first(after: Class) -> None:
    later = Course.objects.create(
        school=after.cast.school,
        title="Metals 2",
        term="Spring 2027",
        starts_on=after.cast.course.ends_on,
        ends_on=after.cast.course.ends_on,
    )
    rows = overview_rows(after.cast.teacher, [after.cast.course])
    newest_first = [_renamed(rows[0], str(later.term)), rows[0]]
    bars = term_bars(newest_first, after.cast.school)
    assert [bar["label"] for bar in bars] == ["Autumn 2026", "Spring 2027"]
    assert sum(part["width"] for part in bars[0]["parts"]) == pytest.approx(100, abs=0.1)


def _renamed(row: object, term: str) -> object:
    from dataclasses import replace

    return replace(row, note=term)  # type: ignore[type-var]


def test_the_workbook_holds_the_figures_as_numbers(after: Class) -> None:
    answer = signed_in(after.cast.teacher).get(reverse("review_xlsx", args=[after.cast.course.pk]))
    assert answer.status_code == 200
    sheet = load_workbook(io.BytesIO(answer.content)).active
    assert sheet is not None
    rows = list(sheet.values)
    assert rows[0][0] == "Student"
    assert len(rows) == 4  # heading, two projects, together
    assert isinstance(rows[1][7], float)
    for column in (7, 13, 15):
        assert rows[3][column] == pytest.approx(rows[1][column] + rows[2][column], abs=0.02)


def test_a_name_that_would_run_as_a_formula_is_only_text(after: Class) -> None:
    after.cast.owner.display_name = "=HYPERLINK(1)"
    after.cast.owner.save()
    Project.objects.filter(pk=after.own.pk).update(title="@SUM(A1)\x0b")
    answer = signed_in(after.cast.teacher).get(reverse("review_xlsx", args=[after.cast.course.pk]))
    sheet = load_workbook(io.BytesIO(answer.content)).active
    assert sheet is not None
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert "'=HYPERLINK(1)" in [cell.value for cell in cells]
    assert all(cell.data_type != "f" for cell in cells)


def test_four_people_ask_for_the_workbook(after: Class) -> None:
    url = reverse("review_xlsx", args=[after.cast.course.pk])
    for person, expected in (
        (after.cast.teacher, 200),
        (after.cast.other_teacher, 404),
        (after.cast.owner, 403),
        (after.cast.classmate, 403),
        (after.cast.outsider, 404),
    ):
        assert signed_in(person).get(url).status_code == expected, person


def test_more_closed_plans_take_as_many_queries(after: Class) -> None:
    url = reverse("course_review", args=[after.cast.course.pk])
    few = queries(signed_in(after.cast.teacher), url)
    world = after.world
    world.brief.pk, world.brief._state.adding = None, True
    world.brief.save()
    project = world.project(after.cast.seat)
    close(world, world.issued(project, sheets=world.sheets[1:2]))
    more = queries(signed_in(after.cast.teacher), url)
    assert more <= few + 1  # a second brief's name
