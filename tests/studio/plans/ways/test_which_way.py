"""Which way a new plan takes, and what its job says of it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from shapely.geometry import box

from classroom.refusals import Refused
from inventory.models import StockPiece
from studio.models import BenchSetup, CutPlan, PlacingSettings, Project, Shear
from studio.steps.bench.tools import set_tools, tools_of
from studio.steps.plans import way_words as words
from studio.steps.plans.place import propose
from studio.steps.plans.placing_settings import PlacingRules, rules_for
from studio.steps.plans.sharing import parting_fields, way_of_job, why_not
from tests.people import Cast, signed_in

from .. import making

Way = CutPlan.Way


@pytest.fixture
def two(cast: Cast) -> tuple[Project, Project]:
    """Projects of two students, with a sheet of 120 × 90 mm that holds both."""
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 120, 90), cost="12.00")
    brief = making.brief(cast, metal)
    return (
        making.approved_project(brief, cast.seat, metal, title="Harbour tag"),
        making.approved_project(brief, cast.classmate_seat, metal, title="Secret fish"),
    )


def shear(cast: Cast, kind: Shear = Shear.FOOT, longest: str | None = None) -> None:
    BenchSetup.objects.update_or_create(
        school=cast.school,
        defaults={"shear": kind, "shear_cut_mm": None if longest is None else Decimal(longest)},
    )


def frames(cast: Cast, depth: str) -> None:
    BenchSetup.objects.update_or_create(
        school=cast.school, defaults={"frame_depth_mm": Decimal(depth)}
    )


def course_wants(cast: Cast, way: str, **more: object) -> None:
    PlacingSettings.objects.create(school=cast.school, course=cast.course, sharing=way, **more)


def asked(cast: Cast, *projects: Project) -> CutPlan:
    return propose(projects, acting=cast.teacher, seconds=1.0)


def test_one_students_pieces_need_no_way(cast: Cast, two: tuple[Project, Project]) -> None:
    shear(cast)
    plan = asked(cast, two[0])
    assert plan.way == Way.ALONE
    assert plan.asked.parting is None


def test_two_projects_of_one_student_are_alone_too(
    cast: Cast, two: tuple[Project, Project]
) -> None:
    metal = making.copper(cast)
    other = making.brief(cast, metal, "A bell")
    second = making.approved_project(other, cast.seat, metal, title="Bell")
    plan = asked(cast, two[0], second)
    assert plan.way == Way.ALONE
    assert "parting" not in plan.job


def test_with_a_shear_metal_is_parted(cast: Cast, two: tuple[Project, Project]) -> None:
    shear(cast, longest="300")
    plan = asked(cast, *two)
    assert plan.way == Way.PARTED
    parting = plan.asked.parting
    assert parting is not None
    # the usual numbers: common practice, no source
    assert (parting.way, parting.margin_mm, parting.strip_least_mm) == ("shear", 1.0, 15.0)
    assert (parting.cut_longest_mm, parting.throat_mm) == (300.0, None)


def test_without_one_it_is_sawn_apart(cast: Cast, two: tuple[Project, Project]) -> None:
    plan = asked(cast, *two)
    assert plan.way == Way.SAWN
    parting = plan.asked.parting
    assert parting is not None
    assert (parting.way, parting.margin_mm, parting.strip_least_mm) == ("saw", 2.0, 5.0)
    assert (parting.cut_longest_mm, parting.throat_mm) == (None, 76.0)


def test_a_frame_that_does_not_reach_leaves_it_passed_on(
    cast: Cast, two: tuple[Project, Project]
) -> None:
    """The pieces are 20 mm wide, and need 2 mm on either side; 23 mm is less than that and less
    than half of the sheet's 90 mm."""
    frames(cast, "23")
    plan = asked(cast, *two)
    assert plan.way == Way.PASSED
    assert "parting" not in plan.job


def test_a_strip_along_the_edge_is_reached_by_a_deeper_frame(
    cast: Cast, two: tuple[Project, Project]
) -> None:
    frames(cast, "24")
    assert asked(cast, *two).way == Way.SAWN


@pytest.mark.parametrize("way", [Way.SAWN, Way.PASSED, Way.PARTED])
def test_the_course_says_before_the_rooms_tools(
    cast: Cast, two: tuple[Project, Project], way: str
) -> None:
    shear(cast)
    course_wants(cast, way)
    assert asked(cast, *two).way == way


def test_what_the_room_cannot_do_goes_by_its_tools(
    cast: Cast, two: tuple[Project, Project]
) -> None:
    course_wants(cast, Way.PARTED)
    assert asked(cast, *two).way == Way.SAWN


def test_a_course_has_numbers_of_its_own(cast: Cast, two: tuple[Project, Project]) -> None:
    shear(cast)
    course_wants(cast, "", shear_margin_mm=Decimal("2.5"), shear_strip_mm=Decimal(20))
    parting = asked(cast, *two).asked.parting
    assert parting is not None
    assert (parting.margin_mm, parting.strip_least_mm) == (2.5, 20.0)
    assert rules_for(cast.school).shear_margin_mm == Decimal(1)


def test_a_short_shear_parts_no_wide_sheet(cast: Cast, two: tuple[Project, Project]) -> None:
    shear(cast, longest="80")
    rack = list(StockPiece.objects.all())
    assert why_not(Way.PARTED, tools_of(cast.school), rack, 24.0) == words.SHORT_SHEAR
    shear(cast, longest="90")
    assert why_not(Way.PARTED, tools_of(cast.school), rack, 24.0) == ""
    assert words.words_of(words.SHORT_SHEAR) != words.SHORT_SHEAR


def test_a_job_says_its_way(cast: Cast, two: tuple[Project, Project]) -> None:
    tools, rules = tools_of(cast.school), PlacingRules()
    for way in (Way.PARTED, Way.SAWN, Way.PASSED):
        assert way_of_job(parting_fields(way, rules, tools), two) == way
        assert way_of_job(parting_fields(way, rules, tools), two[:1]) == Way.ALONE


def test_who_says_what_the_room_has(cast: Cast) -> None:
    url = reverse("frame_depth")
    sent = {"depth": "76 mm", "shear": "hand", "shear_cut": "305 mm"}
    people = (cast.owner, cast.classmate, cast.teacher)
    assert [signed_in(one).post(url, sent).status_code for one in people] == [403, 403, 302]
    tools = tools_of(cast.school)
    assert (tools.shear, tools.shear_cut_mm, tools.frame_depth_mm) == ("hand", 305.0, 76.0)
    signed_in(cast.teacher).post(url, {"depth": "80 mm"})
    assert tools_of(cast.school).shear == "hand"  # nothing was said of it
    signed_in(cast.teacher).post(url, {"depth": "80 mm", "shear": "none", "shear_cut": "305 mm"})
    assert tools_of(cast.school).shear_cut_mm is None
    for wrong in ({"shear": "axe"}, {"shear_cut": "19 mm"}, {"shear_cut": "2001 mm"}):
        page = signed_in(cast.teacher).post(url, sent | wrong)
        assert "is-invalid" in page.content.decode(), wrong
    with pytest.raises(Refused, match="teacher of this school"):
        set_tools(
            cast.school,
            frame_depth_mm=Decimal(76),
            shear=Shear.FOOT,
            shear_cut_mm=None,
            acting=cast.outsider,
        )


def test_a_teacher_sets_ways_and_numbers_of_a_course(cast: Cast) -> None:
    url = reverse("course_placing_settings", args=[cast.course.pk])
    client = signed_in(cast.teacher)
    sent = {"sharing": "passed", "shear_strip_mm": "18 mm", "saw_margin_mm": "3 mm"}
    assert client.post(url, sent).status_code == 302
    rules = rules_for(cast.school, cast.course)
    assert (rules.sharing, rules.shear_strip_mm) == ("passed", Decimal(18))
    assert rules.saw_margin_mm == Decimal(3)
    assert rules_for(cast.school).sharing == ""
    page = client.post(url, sent | {"sharing": "torn"})
    assert page.status_code == 422
    assert rules_for(cast.school, cast.course).sharing == "passed"
