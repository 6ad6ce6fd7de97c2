"""Papers of metal that several students share: whose is what, and what comes first."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.template.loader import render_to_string

from studio.models import CutPlan
from studio.prints.plans import cut_plan, placement_sheet
from tests.studio.bench.making import World
from tests.studio.plans.parted import PIECE
from tests.studio.sharing.making import parted


def a_parted_plan(world: World, way: str = "parted") -> CutPlan:
    return parted(
        world,
        world.project(world.cast.seat, PIECE),
        world.project(world.cast.classmate_seat, PIECE),
        way=way,
    )


def passed_on(world: World) -> CutPlan:
    """The owner's square in the corner, the classmate's in the middle of the sheet."""
    projects = [
        world.project(world.cast.seat, PIECE),
        world.project(world.cast.classmate_seat, PIECE),
    ]
    plan = world.plan(projects, [(50.0, 30.0), (2.0, 2.0)])
    CutPlan.objects.filter(pk=plan.pk).update(way=CutPlan.Way.PASSED)
    plan.refresh_from_db()
    return plan


def test_the_cut_plan_numbers_cuts_first_and_says_what_makes_them(world: World) -> None:
    plan = a_parted_plan(world)
    context = cut_plan.cut_plan_context(plan, school=world.cast.school)
    (part,) = context["parts"]
    assert [cut.number for cut in part.one.order.parting] == [1, 2]
    assert [turn.number for turn in part.turns] == [3, 4]
    page = render_to_string(cut_plan.TEMPLATE, context | {"school": world.cast.school})
    assert page.count("with the shear: not sawn") == 2
    assert len(re.findall(r'class="d-blank-ground hue-\d"', page)) == 2


def test_letters_come_with_colour_and_pattern_where_students_share(world: World) -> None:
    plan = a_parted_plan(world)
    context = cut_plan.cut_plan_context(plan, school=world.cast.school)
    page = render_to_string(cut_plan.TEMPLATE, context | {"school": world.cast.school})
    assert {"hue-1", "hue-2"} <= set(re.findall(r"hue-\d", page))
    assert "chip-weave weave-2" in page


def test_one_students_plan_has_no_colours(world: World) -> None:
    plan = world.plan([world.project(world.cast.seat, PIECE)], [(2.0, 2.0)])
    context = cut_plan.cut_plan_context(plan, school=world.cast.school)
    page = render_to_string(cut_plan.TEMPLATE, context | {"school": world.cast.school})
    assert not re.search(r'class="[^"]*hue-\d', page)
    assert "chip" not in page


def test_a_parted_plan_has_a_placement_sheet_for_each_blank(world: World) -> None:
    plan = a_parted_plan(world)
    context = placement_sheet.placement_sheet_context(plan, school=world.cast.school)
    assert {sheet.one.letter for sheet in context["sheets"]} == {"A", "B"}
    for sheet in context["sheets"]:
        assert sheet.one.size_mm == (80.0, 40.0)
        assert [one.letter for one in sheet.whose] == [sheet.one.letter]
        (paper,) = sheet.one.papers
        assert sheet.one.outline.covers(paper.outline)
    page = render_to_string(placement_sheet.TEMPLATE, context | {"school": world.cast.school})
    assert "blank A" in page


def test_a_student_gets_the_sheet_of_the_own_blank_only(world: World) -> None:
    plan = a_parted_plan(world)
    own = plan.shares.get(project__seat=world.cast.seat).project_id
    context = placement_sheet.placement_sheet_context(
        plan, school=world.cast.school, own=frozenset({own})
    )
    (sheet,) = context["sheets"]
    assert [one.own for one in sheet.whose] == [True]


def test_metal_passed_on_is_one_sheet_sawn_in_turns(world: World) -> None:
    plan = passed_on(world)
    (sheet,) = placement_sheet.placement_sheet_context(plan, school=world.cast.school)["sheets"]
    assert sheet.one.size_mm == (120.0, 80.0)
    assert [(one.letter, one.turn) for one in sheet.whose] == [("A", 2), ("B", 1)]
    (part,) = cut_plan.cut_plan_context(plan, school=world.cast.school)["parts"]
    assert [turn.label for turn in part.turns] == ["B", "A"]


@pytest.mark.parametrize("make", [a_parted_plan, passed_on])
def test_a_classmates_name_is_on_no_students_paper(
    world: World, make: Callable[[World], CutPlan]
) -> None:
    plan, school = make(world), world.cast.school
    own = frozenset({plan.shares.get(project__seat=world.cast.seat).project_id})
    papers = {
        cut_plan.TEMPLATE: cut_plan.cut_plan_context(plan, school=school, own=own),
        placement_sheet.TEMPLATE: placement_sheet.placement_sheet_context(
            plan, school=school, own=own
        ),
    }
    for template, context in papers.items():
        page = render_to_string(template, context | {"school": school})
        assert str(world.cast.seat.student) in page
        assert str(world.cast.classmate_seat.student) not in page
