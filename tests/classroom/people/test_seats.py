"""Leaving a course, coming back, moving, and mending a name."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import Course, History, Seat, User
from classroom.people.class_list import come_back, leave, move
from classroom.refusals import Refused
from tests.people import Cast


@pytest.fixture
def other_course(cast: Cast) -> Course:
    course = Course.objects.create(
        school=cast.school, title="Metals 2", term="A", starts_on="2026-09-01", ends_on="2027-01-01"
    )
    course.teachers.add(cast.teacher)
    return course


def test_who_leaves_keeps_the_seat_and_sees_the_course_no_more(cast: Cast, desk: Client) -> None:
    desk.post(reverse("seat_leave", args=[cast.seat.pk]))
    assert Seat.objects.get(pk=cast.seat.pk).left_at is not None
    page = desk.get(reverse("class_list", args=[cast.course.pk])).content.decode()
    assert "1 who left" in page
    desk.post(reverse("seat_return", args=[cast.seat.pk]))
    assert Seat.objects.get(pk=cast.seat.pk).left_at is None


def test_leaving_twice_is_one_deed(cast: Cast) -> None:
    leave(cast.seat, acting=cast.teacher)
    first = Seat.objects.get(pk=cast.seat.pk).left_at
    leave(cast.seat, acting=cast.teacher)
    assert Seat.objects.get(pk=cast.seat.pk).left_at == first
    assert History.objects.about(cast.seat).count() == 1
    come_back(cast.seat, acting=cast.teacher)
    come_back(cast.seat, acting=cast.teacher)
    assert History.objects.about(cast.seat).count() == 2


def test_a_move_leaves_one_seat_and_takes_another(
    cast: Cast, desk: Client, other_course: Course
) -> None:
    desk.post(reverse("seat_move", args=[cast.seat.pk]), {"course": other_course.pk})
    assert Seat.objects.get(pk=cast.seat.pk).left_at is not None
    assert Seat.objects.get(course=other_course, student=cast.owner).left_at is None


def test_a_move_back_takes_the_old_seat_again(cast: Cast, other_course: Course) -> None:
    new = move(cast.seat, other_course, acting=cast.teacher)
    move(new, cast.course, acting=cast.teacher)
    assert Seat.objects.filter(student=cast.owner).count() == 2
    assert Seat.objects.get(pk=cast.seat.pk).left_at is None


@pytest.mark.parametrize("where", ["same", "closed", "not mine", "other school", "nonsense"])
def test_a_move_goes_to_an_own_running_course_only(
    cast: Cast, desk: Client, other_course: Course, where: str
) -> None:
    target = str(other_course.pk)
    if where == "same":
        target = str(cast.course.pk)
    elif where == "closed":
        desk.post(reverse("course_close", args=[other_course.pk]))
    elif where == "not mine":
        other_course.teachers.set([cast.other_teacher])
    elif where == "other school":
        Course.objects.filter(pk=other_course.pk).update(school=cast.outsider.school)
    else:
        target = "x"
    desk.post(reverse("seat_move", args=[cast.seat.pk]), {"course": target})
    assert Seat.objects.get(student=cast.owner).left_at is None


def test_a_move_to_another_school_is_refused_by_the_rule_itself(cast: Cast) -> None:
    elsewhere = Course.objects.create(
        school=cast.outsider.school,
        title="X",
        term="A",
        starts_on="2026-09-01",
        ends_on="2027-01-01",
    )
    with pytest.raises(Refused, match="another course"):
        move(cast.seat, elsewhere, acting=cast.teacher)
    assert Seat.objects.get(pk=cast.seat.pk).left_at is None


def test_nobody_comes_back_into_a_closed_course(cast: Cast, desk: Client) -> None:
    leave(cast.seat, acting=cast.teacher)
    desk.post(reverse("course_close", args=[cast.course.pk]))
    answer = desk.post(reverse("seat_return", args=[cast.seat.pk]))
    assert answer.status_code == 409
    assert Seat.objects.get(pk=cast.seat.pk).left_at is not None


def test_a_name_and_id_are_mended_and_the_user_name_stays(cast: Cast, desk: Client) -> None:
    url = reverse("seat", args=[cast.seat.pk])
    desk.post(url, {"display_name": "Wrenna T", "roster_id": "9"})
    wren = User.objects.get(pk=cast.owner.pk)
    assert (wren.display_name, wren.roster_id, wren.username) == ("Wrenna T", "9", "wren.t")


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"display_name": "  ", "roster_id": ""}, "required"),
        ({"display_name": "\u202e", "roster_id": ""}, "at least one letter"),
        ({"display_name": "Wren T", "roster_id": "=1"}, "spreadsheets calculate"),
        ({"display_name": "Wren T", "roster_id": "taken"}, "has this id"),
        ({"display_name": "x" * 81, "roster_id": ""}, "at most 80"),
    ],
)
def test_a_name_or_id_that_cannot_be_is_refused(
    cast: Cast, desk: Client, said: dict[str, str], says: str
) -> None:
    User.objects.filter(pk=cast.classmate.pk).update(roster_id="taken")
    answer = desk.post(reverse("seat", args=[cast.seat.pk]), said)
    assert says in answer.content.decode()
    assert User.objects.get(pk=cast.owner.pk).display_name == "Wren T"
