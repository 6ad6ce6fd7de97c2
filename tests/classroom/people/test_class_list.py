"""What a list would change, and changing it: nobody twice, nothing half-saved."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from classroom.models import Course, History, Seat, User
from classroom.people import class_list
from classroom.people.class_list import add_students, digest_of, look_at
from classroom.people.roster import read_roster
from classroom.refusals import Refused
from tests.people import Cast


def add_url(cast: Cast) -> str:
    return reverse("class_list_add", args=[cast.course.pk])


def hidden(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, name
    return found[1]


def preview(desk: Client, cast: Cast, names: str, **more: Any) -> dict[str, str]:
    """Sends the list; gives what the page would send back."""
    answer = desk.post(add_url(cast), {"names": names, **more})
    assert answer.status_code == 200, answer
    page = answer.content.decode()
    return {"lines": hidden(page, "lines"), "seen": hidden(page, "seen"), "page": page}


def save(desk: Client, cast: Cast, shown: dict[str, str], **choices: str) -> Any:
    data = {"lines": shown["lines"], "seen": shown["seen"]}
    return desk.post(add_url(cast), data | {k.replace("_", "-"): v for k, v in choices.items()})


def names_in(course: Course) -> list[str]:
    return [seat.student.display_name for seat in course.seats.taken().select_related("student")]


def words(cast: Cast, text: str) -> list[str]:
    lines = read_roster(text).lines
    return [one.word for one in look_at(cast.course, lines, acting=cast.teacher)]


def test_the_preview_saves_nothing(cast: Cast, desk: Client) -> None:
    before = User.objects.count(), Seat.objects.count(), History.objects.count()
    preview(desk, cast, "Ansel Dory\nBo Ketch")
    assert (User.objects.count(), Seat.objects.count(), History.objects.count()) == before


def test_a_list_is_saved_as_it_was_shown(cast: Cast, desk: Client) -> None:
    shown = preview(desk, cast, "id,name,e-mail\n7,Ansel Dory,a@x.example\n8,Bo Ketch,")
    answer = save(desk, cast, shown)
    assert answer.headers["Location"] == reverse("class_list", args=[cast.course.pk])
    ansel = User.objects.get(roster_id="7")
    assert (ansel.display_name, ansel.username, ansel.role) == ("Ansel D", "ansel.d", "student")
    assert not ansel.has_usable_password()
    assert names_in(cast.course) == ["Ansel D", "Bo K", "Odd F", "Wren T"]
    row = History.objects.about(cast.course).get()
    assert (row.actor, row.text) == (cast.teacher, "2 students added to Metals 1, B")
    assert "x.example" not in str(list(User.objects.values())) + shown["page"]


def test_a_second_click_adds_nobody_twice(cast: Cast, desk: Client) -> None:
    shown = preview(desk, cast, "Ansel Dory\nBo Ketch")
    save(desk, cast, shown)
    again = save(desk, cast, shown)
    assert "has changed since you looked" in again.content.decode()
    assert len(names_in(cast.course)) == 4


def test_the_same_id_is_the_same_person(cast: Cast) -> None:
    User.objects.filter(pk=cast.owner.pk).update(roster_id="2071")
    assert words(cast, "name,id\nSomebody Else,2071\nNew One,9") == ["Already there", "New"]


def test_the_same_name_asks_before_it_adds(cast: Cast, desk: Client) -> None:
    shown = preview(desk, cast, "Wren Tidewell\nAnsel Dory")
    assert "Already there?" in shown["page"]
    save(desk, cast, shown)
    assert names_in(cast.course) == ["Ansel D", "Odd F", "Wren T"]


def test_another_person_of_the_same_name_is_added_when_the_teacher_says_so(
    cast: Cast, desk: Client
) -> None:
    save(desk, cast, preview(desk, cast, "Wren Tidewell"), do_1="new")
    assert names_in(cast.course).count("Wren T") == 2
    assert User.objects.filter(username="wren.t2").exists()


@pytest.mark.parametrize("name", ["Wren Tidewell", "wren t", "Wren Ti", "Wren T."])
def test_names_that_may_be_the_same_are_asked_about(cast: Cast, name: str) -> None:
    for keep in (True, False):
        lines = read_roster(name, short_names=keep).lines
        assert look_at(cast.course, lines, acting=cast.teacher)[0].word == "Already there?"


@pytest.mark.parametrize("name", ["Wren S", "Wrenna T", "Wren", "T"])
def test_other_names_are_new(cast: Cast, name: str) -> None:
    assert words(cast, name) == ["New"]


def test_an_id_is_noted_for_somebody_known_by_name(cast: Cast, desk: Client) -> None:
    shown = preview(desk, cast, "name,id\nWren Tidewell,2071")
    save(desk, cast, shown)
    assert User.objects.get(pk=cast.owner.pk).roster_id == "2071"
    assert len(names_in(cast.course)) == 2


def test_a_name_with_another_id_is_another_person(cast: Cast) -> None:
    User.objects.filter(pk=cast.owner.pk).update(roster_id="1")
    assert words(cast, "name,id\nWren Tidewell,2") == ["New"]


def test_who_left_comes_back_with_the_old_seat(cast: Cast, desk: Client) -> None:
    class_list.leave(cast.seat, acting=cast.teacher)
    shown = preview(desk, cast, "Wren Tidewell")
    assert "comes back" in shown["page"]
    save(desk, cast, shown)
    assert Seat.objects.get(student=cast.owner).left_at is None


def test_a_student_of_the_school_joins_by_id_with_the_same_sign_in(
    cast: Cast, desk: Client
) -> None:
    sara = User.objects.create_user(
        "sara.k", display_name="Sara K", role="student", school=cast.school, roster_id="5"
    )
    save(desk, cast, preview(desk, cast, "name,id\nSara Keel,5"))
    assert Seat.objects.get(student=sara).course == cast.course
    assert User.objects.filter(display_name="Sara K").count() == 1


def test_an_id_of_another_school_is_nobody_here(cast: Cast) -> None:
    User.objects.filter(pk=cast.outside_student.pk).update(roster_id="77")
    assert words(cast, "name,id\nOla Lock,77") == ["New"]


def test_a_teachers_id_takes_no_seat(cast: Cast, desk: Client) -> None:
    User.objects.filter(pk=cast.other_teacher.pk).update(roster_id="t1")
    shown = preview(desk, cast, "name,id\nSten Buoy,t1")
    assert "A teacher&#x27;s id" in shown["page"] or "A teacher's id" in shown["page"]
    save(desk, cast, shown, do_2="new")
    assert not cast.course.seats.filter(student=cast.other_teacher).exists()
    assert len(names_in(cast.course)) == 2


def test_the_same_name_twice_in_one_list_is_added_once_unless_told(cast: Cast) -> None:
    assert words(cast, "Bo Ketch\nBo Ketch") == ["New", "Twice in the list"]


def test_a_line_can_be_left_out(cast: Cast, desk: Client) -> None:
    save(desk, cast, preview(desk, cast, "Ansel Dory\nBo Ketch"), do_2="out")
    assert "Bo K" not in names_in(cast.course)


@pytest.mark.parametrize("choice", ["same-{outsider}", "same-{teacher}", "same-0", "x", "same-x"])
def test_a_choice_that_was_not_on_offer_is_refused_whole(
    cast: Cast, desk: Client, choice: str
) -> None:
    choice = choice.format(outsider=cast.outside_student.pk, teacher=cast.teacher.pk)
    shown = preview(desk, cast, "Ansel Dory\nBo Ketch")
    answer = save(desk, cast, shown, do_1="new", do_2=choice)
    assert "not on offer" in answer.content.decode()
    assert len(names_in(cast.course)) == 2


def test_a_list_that_changed_meanwhile_is_shown_again(cast: Cast, desk: Client) -> None:
    shown = preview(desk, cast, "Ansel Dory\nBo Ketch")
    lines = read_roster("Bo Ketch").lines
    seen = digest_of(look_at(cast.course, lines, acting=cast.teacher))
    add_students(cast.course, lines, {}, seen=seen, acting=cast.teacher)
    page = save(desk, cast, shown).content.decode()
    assert "has changed since you looked" in page
    assert "Already there?" in page
    assert names_in(cast.course) == ["Bo K", "Odd F", "Wren T"]


def test_the_lines_cannot_be_forged_or_used_elsewhere(cast: Cast, desk: Client) -> None:
    shown = preview(desk, cast, "Ansel Dory")
    forged = desk.post(add_url(cast), {"lines": shown["lines"] + "x", "seen": shown["seen"]})
    assert forged.status_code == 409
    other = Course.objects.create(
        school=cast.school,
        title="Metals 2",
        term="A",
        starts_on="2026-09-01",
        ends_on="2027-01-01",
    )
    other.teachers.add(cast.teacher)
    elsewhere = desk.post(
        reverse("class_list_add", args=[other.pk]),
        {"lines": shown["lines"], "seen": shown["seen"]},
    )
    assert elsewhere.status_code == 409
    assert not other.seats.exists()


def test_a_typed_name_that_raises_no_question_is_in_at_once(cast: Cast, desk: Client) -> None:
    answer = desk.post(add_url(cast), {"names": "Ansel Dory", "at_once": "1"}, follow=True)
    assert "ansel.d" in answer.content.decode()
    again = desk.post(add_url(cast), {"names": "Ansel Dory", "at_once": "1"})
    assert "Already there?" in again.content.decode()
    assert names_in(cast.course).count("Ansel D") == 1


def test_a_csv_file_goes_the_same_way(cast: Cast, desk: Client) -> None:
    file = SimpleUploadedFile("class.csv", "name,id\r\nZoë Åkers,5\r\n".encode("cp1252"))
    page = desk.post(add_url(cast), {"file": file}).content.decode()
    assert "Zoë Å" in page


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "Type at least one name"),
        ({"names": "Wren T", "file": SimpleUploadedFile("x.csv", b"name\nOdd F")}, "not both"),
        ({"file": SimpleUploadedFile("x.xlsx", b"PK\x03\x04")}, "Save as"),
        ({"file": SimpleUploadedFile("x.csv", b"a" * 1_000_100)}, "larger than 1 MB"),
        ({"names": "x" * 200_001}, "at most 200000"),
        ({"names": "\x00"}, "Null characters"),
    ],
)
def test_what_cannot_be_read_is_answered_on_the_form(
    cast: Cast, desk: Client, data: dict[str, Any], says: str
) -> None:
    answer = desk.post(add_url(cast), data)
    assert answer.status_code == 200
    assert says in answer.content.decode()


def test_what_was_typed_stays_on_the_form_when_it_is_refused(cast: Cast, desk: Client) -> None:
    page = desk.post(add_url(cast), {"names": "id,section\n4,B"}).content.decode()
    assert "no column for names" in page
    assert "id,section\n4,B" in page


def test_hostile_names_are_shown_as_text(cast: Cast, desk: Client) -> None:
    page = preview(desk, cast, "<script>alert(1)</script>\nBo Ketch")["page"]
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


def test_a_full_course_refuses_the_whole_list(
    cast: Cast, desk: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(class_list, "STUDENTS_MOST", 3)
    answer = save(desk, cast, preview(desk, cast, "Ansel Dory\nBo Ketch"))
    assert "up to 3 students" in answer.content.decode()
    assert len(names_in(cast.course)) == 2
    assert not User.objects.filter(username="ansel.d").exists()


def test_a_closed_course_takes_nobody(cast: Cast, desk: Client) -> None:
    desk.post(reverse("course_close", args=[cast.course.pk]))
    assert desk.get(add_url(cast)).status_code == 409
    lines = read_roster("Ansel Dory").lines
    seen = digest_of(look_at(cast.course, lines, acting=cast.teacher))
    with pytest.raises(Refused, match="is closed"):
        add_students(cast.course, lines, {}, seen=seen, acting=cast.teacher)


def test_looking_takes_as_many_queries_for_two_hundred_lines_as_for_one(
    cast: Cast, django_assert_num_queries: Any
) -> None:
    for count in (1, 200):
        text = "name,id\n" + "\n".join(f"Bo {chr(97 + n % 26)}{n},{n}" for n in range(count))
        lines = read_roster(text).lines
        with django_assert_num_queries(3):
            look_at(cast.course, lines, acting=cast.teacher)
