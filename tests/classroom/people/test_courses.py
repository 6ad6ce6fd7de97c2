"""Courses: making, changing, closing and opening again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.models import BenchPermit, Course, History, Seat, Topic, User
from classroom.people import courses
from classroom.people.courses import close_course, reopen_course, save_course
from classroom.refusals import Refused
from classroom.safety.permits import give_permits, withdraw
from classroom.safety.topics import seed_topics
from tests.people import Cast


def said(cast: Cast, **more: Any) -> dict[str, Any]:
    return {
        "title": "Metals 2",
        "section": "A",
        "term": "Autumn 2026",
        "starts_on": "2026-09-01",
        "ends_on": "2027-01-29",
        "teachers": [cast.teacher.pk],
    } | more


def test_a_course_is_made_for_its_teachers(cast: Cast, desk: Client) -> None:
    both = [cast.teacher.pk, cast.other_teacher.pk]
    desk.post("/courses/new/", said(cast, teachers=both))
    made = Course.objects.get(title="Metals 2")
    assert made.school == cast.school
    assert set(made.teachers.all()) == {cast.teacher, cast.other_teacher}
    assert History.objects.about(made).get().verb == "add-course"


def test_a_second_click_makes_no_second_course(cast: Cast, desk: Client) -> None:
    desk.post("/courses/new/", said(cast))
    again = desk.post("/courses/new/", said(cast))
    assert "has that course, section and term already" in again.content.decode()
    assert Course.objects.filter(title="Metals 2").count() == 1


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"title": " \u200b"}, "at least one letter"),
        ({"ends_on": "2026-08-31"}, "comes after the first"),
        ({"ends_on": "2031-01-01"}, "at most three years"),
        ({"starts_on": "1066-10-14", "ends_on": "1066-10-15"}, "between 2000 and 2100"),
        ({"starts_on": "2026-02-30"}, "valid date"),
        ({"teachers": []}, "required"),
        ({"term": ""}, "required"),
        ({"title": "x" * 121}, "at most 120"),
    ],
)
def test_a_course_that_cannot_be_is_refused(
    cast: Cast, desk: Client, wrong: dict[str, Any], says: str
) -> None:
    assert says in desk.post("/courses/new/", said(cast, **wrong)).content.decode()
    assert Course.objects.count() == 1


def test_only_open_teachers_of_the_school_can_be_chosen(cast: Cast, desk: Client) -> None:
    User.objects.filter(pk=cast.other_teacher.pk).update(is_active=False)
    for person in (cast.outsider, cast.owner, cast.other_teacher):
        page = desk.post("/courses/new/", said(cast, teachers=[person.pk])).content.decode()
        assert "not one of the available choices" in page
    with pytest.raises(Refused, match="Only teachers"):
        save_course(cast.course, [cast.outsider], acting=cast.teacher)


def test_a_course_is_changed_in_place(cast: Cast, desk: Client) -> None:
    url = reverse("course_edit", args=[cast.course.pk])
    assert "Metals 1" in desk.get(url).content.decode()
    answer = desk.post(url, said(cast, title="Metals One"))
    assert answer.headers["Location"] == reverse("course", args=[cast.course.pk])
    assert Course.objects.get().title == "Metals One"


def test_who_gives_the_course_away_is_led_to_the_list(cast: Cast, desk: Client) -> None:
    url = reverse("course_edit", args=[cast.course.pk])
    answer = desk.post(url, said(cast, teachers=[cast.other_teacher.pk]), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("course_list")
    assert desk.get(reverse("course", args=[cast.course.pk])).status_code == 404


def test_a_closed_course_moves_to_the_closed_ones_and_back(cast: Cast, desk: Client) -> None:
    desk.post(reverse("course_close", args=[cast.course.pk]), follow=True)
    assert "Metals 1" not in desk.get("/courses/").content.decode()
    assert "Metals 1" in desk.get("/courses/?show=closed").content.decode()
    desk.post(reverse("course_reopen", args=[cast.course.pk]), follow=True)
    assert "Metals 1" in desk.get("/courses/").content.decode()


def test_closing_and_opening_twice_are_one_deed_each(cast: Cast) -> None:
    for _ in range(2):
        close_course(cast.course, acting=cast.teacher)
    for _ in range(2):
        reopen_course(cast.course, acting=cast.teacher)
    verbs = [row.verb for row in History.objects.about(cast.course)]
    assert sorted(verbs) == ["close-course", "reopen-course"]


@pytest.fixture
def metal_is_out() -> Iterator[None]:
    def rule(course: Course) -> list[str]:
        return ["2 cut plans are not closed yet."]

    courses.speaks_against_closing.append(rule)
    yield
    courses.speaks_against_closing.remove(rule)


def test_a_rule_of_the_apps_above_can_speak_against_closing(
    cast: Cast, desk: Client, metal_is_out: None
) -> None:
    assert "2 cut plans" in desk.get(reverse("course", args=[cast.course.pk])).content.decode()
    answer = desk.post(reverse("course_close", args=[cast.course.pk]))
    assert "2 cut plans" in answer.content.decode()
    assert Course.objects.get().closed_at is None


def test_the_list_is_paged_and_survives_a_nonsense_page(cast: Cast, desk: Client) -> None:
    for number in range(30):
        course = Course.objects.create(
            school=cast.school,
            title=f"Enamel {number:02}",
            term="T",
            starts_on="2026-09-01",
            ends_on="2027-01-01",
        )
        course.teachers.add(cast.teacher)
    assert "Page 1 of 2" in desk.get("/courses/").content.decode()
    assert "Page 2 of 2" in desk.get("/courses/?page=99").content.decode()
    assert desk.get("/courses/?page=x").status_code == 200


def test_pages_take_as_many_queries_for_a_full_class_as_for_two(cast: Cast, desk: Client) -> None:
    pages = [
        "/courses/",
        reverse("course", args=[cast.course.pk]),
        reverse("class_list", args=[cast.course.pk]),
        reverse("permits", args=[cast.course.pk]),
    ]
    seed_topics(cast.school)
    topic = Topic.objects.all()[0]
    counts = {}
    for page in pages:
        desk.get(page)
        with CaptureQueriesContext(connection) as found:
            desk.get(page)
        counts[page] = len(found)
    people = User.objects.bulk_create(
        User(
            username=f"s{n}",
            display_name=f"S {n}",
            role="student",
            school=cast.school,
            password="!",
        )
        for n in range(30)
    )
    Seat.objects.bulk_create(Seat(course=cast.course, student=one) for one in people)
    give_permits(people[:20], topic, acting=cast.teacher, remark="", in_spite_of="Aloud")
    withdraw(BenchPermit.objects.all()[0], acting=cast.teacher, reason="No goggles")
    for page in pages:
        with CaptureQueriesContext(connection) as found:
            desk.get(page)
        assert len(found) == counts[page], page
