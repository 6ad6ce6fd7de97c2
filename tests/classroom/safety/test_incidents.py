"""Incidents and near misses: for teachers, numbered, corrected beside what was written first."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from classroom.models import BenchPermit, HistoryIsKept, Incident, Topic
from classroom.refusals import Refused
from classroom.safety.incidents import correct, permits_concerned, suspend, versions, write_down
from classroom.safety.permits import give_permit, missing_permits
from classroom.safety.topics import seed_topics
from tests.clocks import NOON, stopped_at
from tests.people import Cast

from .incidents import fields, make_incident

noon = stopped_at(NOON, always=True)


@pytest.fixture
def drill(cast: Cast) -> Topic:
    seed_topics(cast.school)
    Topic.objects.update(asks_questions=False)
    return Topic.objects.get(school=cast.school, code="drill-press")


def said(cast: Cast, **more: Any) -> dict[str, Any]:
    return {
        "kind": "near_miss",
        "happened_at": "2026-11-25T10:30",
        "place": "Drill press, bay 2",
        "course": cast.course.pk,
        "topic": "",
        "what": "The key was left in the chuck.\r\n\r\nIt flew <b>past</b> the bench.",
        "told": "Head of department",
        "seats": [cast.seat.pk],
    } | more


def test_incidents_are_numbered_within_their_school(cast: Cast) -> None:
    assert [make_incident(cast).number, make_incident(cast).number] == [1, 2]
    elsewhere = write_down(fields(cast, course=None), seats=[], acting=cast.outsider)
    assert elsewhere.number == 1


def test_an_incident_is_never_changed(cast: Cast) -> None:
    one = make_incident(cast)
    one.what = "Nothing happened."
    with pytest.raises(HistoryIsKept):
        one.save()
    with pytest.raises(HistoryIsKept):
        Incident.objects.all().delete()


def test_a_correction_is_a_further_row_and_the_first_stays(cast: Cast) -> None:
    one = make_incident(cast)
    new = correct(
        one,
        fields(cast, changed="A spring key was bought."),
        seats=[],
        reason="Added what was changed",
        acting=cast.teacher,
    )
    assert [row.pk for row in versions(one)] == [one.pk, new.pk]
    assert (new.number, versions(one)[0].changed) == (1, "")


def test_two_corrections_of_the_same_writing_are_refused(cast: Cast) -> None:
    one = make_incident(cast)
    correct(one, fields(cast), seats=[], reason="The time", acting=cast.teacher)
    with pytest.raises(Refused, match="Somebody else"):
        correct(one, fields(cast), seats=[], reason="The place", acting=cast.teacher)


def test_what_cannot_be_is_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="future"):
        make_incident(cast, happened_at=NOON + dt.timedelta(minutes=1))
    with pytest.raises(Refused, match="Teachers write"):
        write_down(fields(cast), seats=[], acting=cast.owner)
    with pytest.raises(Refused, match="own school"):
        write_down(fields(cast), seats=[], acting=cast.outsider)
    one = make_incident(cast)
    with pytest.raises(Refused, match="one school"):
        correct(one, fields(cast, course=None), seats=[], reason="x", acting=cast.outsider)
    with pytest.raises(Refused, match="Say what was wrong"):
        correct(one, fields(cast), seats=[], reason=" ", acting=cast.teacher)


def test_a_permit_is_suspended_and_the_reason_names_the_incident_only(
    cast: Cast, drill: Topic
) -> None:
    permit = give_permit(cast.owner, drill, acting=cast.teacher, remark="")
    one = make_incident(cast, topic=drill)
    assert suspend(one, [permit], acting=cast.teacher) == 1
    assert missing_permits(cast.owner, ["drill-press"], NOON.date()) == [drill]
    reason = BenchPermit.objects.get().withdrawal.reason
    assert reason.startswith("Near miss 1 of 25 Nov 2026.")
    assert "chuck" not in reason


def test_only_permits_of_the_people_named_are_suspended(cast: Cast, drill: Topic) -> None:
    other = give_permit(cast.classmate, drill, acting=cast.teacher, remark="")
    one = make_incident(cast, topic=drill)
    with pytest.raises(Refused, match="at least one"):
        suspend(one, [other], acting=cast.teacher)
    assert permits_concerned(one) == []


def test_a_teacher_writes_reads_and_corrects_in_the_browser(
    cast: Cast, drill: Topic, desk: Client
) -> None:
    page = desk.post(reverse("incident_new"), said(cast), follow=True).content.decode()
    assert "Near miss 1" in page
    assert "It flew &lt;b&gt;past&lt;/b&gt; the bench." in page
    one = Incident.objects.get()
    assert one.happened_at == dt.datetime(2026, 11, 25, 14, 30, tzinfo=dt.UTC)
    url = reverse("incident_correct", args=[one.pk])
    form = said(cast, changed="A spring key was bought.", reason="Added the change", tool="Key")
    page = desk.post(url, form, follow=True).content.decode()
    assert "A spring key was bought." in page
    assert "Earlier writings" in page
    listed = desk.get(reverse("incidents")).content.decode()
    assert listed.count("Near miss 1") == 1


def test_ticked_permits_are_withdrawn_from_the_page(cast: Cast, drill: Topic, desk: Client) -> None:
    mine = give_permit(cast.owner, drill, acting=cast.teacher, remark="")
    other = give_permit(cast.classmate, drill, acting=cast.teacher, remark="")
    one = make_incident(cast, topic=drill)
    url = reverse("incident_suspend", args=[one.pk])
    junk = ["x", "²", "9" * 40, str(other.pk)]
    page = desk.post(url, {"permits": [str(mine.pk), *junk]}, follow=True).content.decode()
    assert "1 permit is withdrawn" in page
    assert not hasattr(BenchPermit.objects.get(pk=other.pk), "withdrawal")
    assert desk.post(url, {"permits": [str(mine.pk)]}).status_code in (302, 409)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"happened_at": "2026-11-25T12:01"}, "future"),
        ({"happened_at": "0001-01-01T00:00"}, "day on which"),
        ({"happened_at": "soon"}, "valid date/time"),
        ({"kind": "party"}, "valid choice"),
        ({"what": "x" * 1501}, "at most 1500"),
        ({"what": " "}, "required"),
        ({"told": "?"}, "letter or digit"),
        ({"seats": ["999999"]}, "not one of the available"),
        ({"course": "999999"}, "valid choice"),
    ],
)
def test_a_form_that_cannot_be_keeps_nothing(
    cast: Cast, drill: Topic, desk: Client, wrong: dict[str, Any], says: str
) -> None:
    page = desk.post(reverse("incident_new"), said(cast, **wrong)).content.decode()
    assert says in page
    assert not Incident.objects.exists()


def test_the_form_asks_for_no_medical_details(desk: Client) -> None:
    assert "No medical details and no names" in desk.get(reverse("incident_new")).content.decode()


def test_a_colleague_sees_an_incident_of_their_own_courses_only(cast: Cast, desk: Client) -> None:
    one = make_incident(cast)
    desk.force_login(cast.other_teacher)
    assert "Near miss 1" not in desk.get(reverse("incidents")).content.decode()
    assert desk.get(reverse("incident", args=[one.pk])).status_code == 404
    cast.course.teachers.add(cast.other_teacher)
    assert desk.get(reverse("incident", args=[one.pk])).status_code == 200


def test_who_keeps_the_school_sees_all_and_a_correction_loses_nothing(
    cast: Cast, desk: Client
) -> None:
    one = make_incident(cast)
    cast.course.teachers.remove(cast.teacher)
    form = desk.get(reverse("incident_correct", args=[one.pk])).content.decode()
    assert "Wren T" in form
    desk.post(reverse("incident_correct", args=[one.pk]), said(cast, reason="The time"))
    latest = versions(one)[-1]
    assert (latest.course, list(latest.seats.all())) == (cast.course, [cast.seat])


@pytest.mark.parametrize(("language", "word"), [("en", "Incident report"), ("es", "Informe")])
def test_an_incident_prints_in_both_languages(
    cast: Cast, desk: Client, language: str, word: str
) -> None:
    one = make_incident(cast)
    url = reverse("incident_print", args=[one.pk])
    answer = desk.get(f"{url}?as=pdf&lang={language}")
    text = PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert word in text
    assert "The key was left in the chuck." in text


def test_a_long_list_is_paged_with_a_constant_number_of_queries(
    cast: Cast, desk: Client, django_assert_max_num_queries: Any
) -> None:
    def asked() -> int:
        with django_assert_max_num_queries(40) as captured:
            desk.get(reverse("incidents"))
        return len(captured)

    make_incident(cast)
    asked()
    before = asked()
    for _ in range(30):
        make_incident(cast)
    assert asked() <= before
    assert "page=2" in desk.get(reverse("incidents")).content.decode()
