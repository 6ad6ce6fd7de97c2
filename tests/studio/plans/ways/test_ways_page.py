"""The plan's page: ways side by side for the teacher, own blank for a student."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from classroom.models import User
from studio.models import CutPlan, PlacingSettings, Project, WayTry
from studio.steps.plans import way_words as words
from studio.steps.plans.approve import approve_plan
from tests.people import Cast, signed_in

from .. import making as plans
from .making import try_of, work_out

Way, State = CutPlan.Way, CutPlan.State


def page(person: User, plan: CutPlan) -> str:
    answer = signed_in(person).get(reverse("plan", args=[plan.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def text(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_the_teacher_sees_what_every_way_comes_to(cast: Cast, parted: CutPlan) -> None:
    before = page(cast.teacher, parted)
    assert before.count("Being worked out") == 2
    assert reverse("plan_ways", args=[parted.pk]) in before  # it asks again by itself
    for way in (Way.SAWN, Way.PASSED):
        assert work_out(parted, way)
    seen = page(cast.teacher, parted)
    assert "Being worked out" not in seen
    assert reverse("plan_ways", args=[parted.pk]) not in seen
    assert seen.count("Take this way") == 2
    assert "All 2 students can work at once" in seen
    assert "Parted into 2 blanks" in seen
    assert f"{try_of(parted, Way.PASSED).money} USD" in seen


def test_the_difference_to_undivided_metal_is_said_in_a_sentence(
    cast: Cast, parted: CutPlan
) -> None:
    """By hand: 15.00 less 14.26 is 0.74, and 4 100 mm² less 3 000 are 11 cm²."""
    own, undivided = try_of(parted, Way.PARTED), try_of(parted, Way.PASSED)
    assert work_out(parted, Way.PASSED)
    WayTry.objects.filter(pk=own.pk).update(
        money="15.00", consumed_mm2="4100", figures={"blanks": 4}
    )
    WayTry.objects.filter(pk=undivided.pk).update(money="14.26", consumed_mm2="3000")
    said = text(page(cast.teacher, parted))
    sentence = "Parted into 4 blanks: 11.00 cm² (0.74) more than undivided; all 2 students can work"
    assert f"{sentence} at once." in said, re.findall(r"Parted into 4[^;]*;[^.]*\.", said)


def test_passing_on_says_how_many_turns(cast: Cast, parted: CutPlan) -> None:
    assert work_out(parted, Way.PASSED)
    row = try_of(parted, Way.PASSED)
    WayTry.objects.filter(pk=row.pk).update(figures=row.figures | {"turns": 2})
    assert "One after another: 2 turns" in page(cast.teacher, parted)


def test_a_way_that_cannot_be_gone_says_why(cast: Cast) -> None:
    plan = plans.shared_plan(cast)
    seen = page(cast.teacher, plan)
    assert words.words_of(words.NO_SHEAR) in seen
    assert "Take this way" not in seen


def test_where_pieces_find_no_place_the_way_in_which_they_do_is_offered(
    cast: Cast, parted: CutPlan
) -> None:
    assert work_out(parted, Way.PASSED)
    parted.way_tries.filter(way=Way.PARTED).update(unplaced=2)
    seen = page(cast.teacher, parted)
    assert "This way 2 pieces find no place" in text(seen)
    assert "every piece has one" in seen
    assert seen.count("Take this way") == 2  # above and in the table


def test_the_part_that_asks_again_is_the_teachers(cast: Cast, parted: CutPlan) -> None:
    url = reverse("plan_ways", args=[parted.pk])
    people = (cast.owner, cast.outsider, cast.teacher)
    asked = [signed_in(one).get(url, headers={"HX-Request": "true"}) for one in people]
    assert [answer.status_code for answer in asked] == [403, 404, 200]
    assert "Being worked out" in asked[-1].content.decode()
    without = signed_in(cast.teacher).get(url)
    assert without.url == reverse("plan", args=[parted.pk])
    approve_plan(parted, acting=cast.teacher)
    moved_on = signed_in(cast.teacher).get(url, headers={"HX-Request": "true"})
    assert (moved_on.status_code, moved_on["HX-Refresh"]) == (204, "true")


def test_a_student_sees_own_blank_and_of_others_the_letter_alone(
    cast: Cast, parted: CutPlan
) -> None:
    seen = page(cast.owner, parted)
    own = Project.objects.get(seat=cast.seat)
    assert "Your blank is" in seen
    assert "a classmate’s blank" in seen
    assert "Secret fish" not in seen
    assert str(own) in seen
    assert "How students come by their metal" not in seen
    assert seen.count("Your blank</strong>") == 1


def test_the_teacher_sees_every_blank_with_its_student(cast: Cast, parted: CutPlan) -> None:
    seen = page(cast.teacher, parted)
    assert "What the metal is parted into" in seen
    for name in ("Harbour tag", "Secret fish"):
        assert name in seen
    assert "Your blank" not in seen


def test_metal_that_is_passed_on_shows_the_order_of_sawing(cast: Cast) -> None:
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    plan = plans.shared_plan(cast)
    teachers, students = page(cast.teacher, plan), page(cast.owner, plan)
    assert "Order of sawing" in teachers
    assert "Secret fish" in teachers
    assert "Order of sawing" in students
    assert "Secret fish" not in students


def test_a_plan_of_one_student_shows_none_of_it(cast: Cast, plan: CutPlan) -> None:
    seen = page(cast.teacher, plan)
    for heading in ("How students come by", "What the metal is parted into", "Order of sawing"):
        assert heading not in seen


@pytest.mark.parametrize("more", [3])
def test_more_students_ask_the_database_no_more(cast: Cast, parted: CutPlan, more: int) -> None:
    client = signed_in(cast.teacher)
    url = reverse("plan", args=[parted.pk])
    few = plans.queries(client, url)
    brief, metal = parted.shares.get(project__seat=cast.seat).project.brief, parted.metal
    plans.stock(metal, "CU-9")
    projects = [plans.approved_project(brief, seat, metal) for seat in plans.a_class(cast, more)]
    larger = plans.placed(cast, *projects, rounds=1)
    assert larger.is_parted
    assert plans.queries(client, reverse("plan", args=[larger.pk])) == few


def test_the_courses_settings_say_what_ways_came_to_in_its_latest_plan(
    cast: Cast, parted: CutPlan
) -> None:
    assert work_out(parted, Way.PASSED)
    client = signed_in(cast.teacher)
    url = reverse("course_placing_settings", args=[cast.course.pk])
    seen = text(client.get(url).content.decode())
    assert f"latest shared plan, plan {parted.pk}" in seen
    assert "Parted first, with the shear (taken)" in seen
    for way in (Way.PARTED, Way.PASSED):
        assert f"{try_of(parted, way).money} USD" in seen
    school = text(client.get(reverse("placing_settings")).content.decode())
    assert "latest shared plan" not in school
