"""The signed guardian form, where the school wants one; and permits asked for again."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import BenchPermit, GuardianSignature, HistoryIsKept, Topic
from classroom.refusals import Refused
from classroom.safety.guardians import GUARDIAN_DAYS, record_signatures, signatures, take_back
from classroom.safety.permits import ask_again, give_permit, missing_permits
from tests.clocks import NOON, stopped_at
from tests.people import Cast

noon = stopped_at(NOON, always=True)


TODAY = dt.date(2026, 11, 25)
DAY = dt.timedelta(days=1)


@pytest.fixture
def saw(cast: Cast, saw: Topic) -> Topic:
    """The same, in a school that asks for the guardian form."""
    cast.school.asks_guardian = True
    cast.school.save()
    return Topic.objects.get(pk=saw.pk)


def sign(cast: Cast, on: dt.date = TODAY) -> list[GuardianSignature]:
    return record_signatures([cast.owner], signed_on=on, acting=cast.teacher)


def give(cast: Cast, topic: Topic, **more: Any) -> BenchPermit:
    return give_permit(cast.owner, topic, acting=cast.teacher, remark="", **more)


def test_without_the_signed_form_there_is_no_permit(cast: Cast, saw: Topic) -> None:
    with pytest.raises(Refused, match="has no signed guardian form"):
        give(cast, saw)
    sign(cast)
    assert give(cast, saw).in_spite_of == ""


def test_a_school_that_asks_for_no_form_gives_permits_without(cast: Cast, saw: Topic) -> None:
    cast.school.asks_guardian = False
    cast.school.save()
    give(cast, Topic.objects.get(pk=saw.pk))


def test_a_teacher_gives_it_without_and_says_why(cast: Cast, saw: Topic) -> None:
    assert give(cast, saw, in_spite_of="Is of age").in_spite_of == "Is of age"


def test_another_students_form_does_not_count(cast: Cast, saw: Topic) -> None:
    record_signatures([cast.classmate], signed_on=TODAY, acting=cast.teacher)
    with pytest.raises(Refused, match="no signed guardian form"):
        give(cast, saw)


def test_a_form_counts_for_a_year_from_its_date(cast: Cast, saw: Topic) -> None:
    sign(cast, TODAY - 10 * DAY)
    last = TODAY + (GUARDIAN_DAYS - 10) * DAY
    assert signatures([cast.owner], last)
    assert not signatures([cast.owner], last + DAY)


@pytest.mark.parametrize(
    ("days", "why"), [(1, "lies in the future"), (-GUARDIAN_DAYS - 1, "more than a year old")]
)
def test_a_date_that_cannot_be_is_refused(cast: Cast, saw: Topic, days: int, why: str) -> None:
    with pytest.raises(Refused, match=why):
        sign(cast, TODAY + days * DAY)


def test_recording_twice_writes_once_and_names_who_did(cast: Cast, saw: Topic) -> None:
    assert len(sign(cast)) == 1
    assert sign(cast) == []
    row = GuardianSignature.objects.get()
    assert (row.recorded_by, row.signed_on) == (cast.teacher, TODAY)
    with pytest.raises(HistoryIsKept):
        row.delete()


def test_a_form_taken_back_no_longer_counts_and_both_rows_stay(cast: Cast, saw: Topic) -> None:
    sign(cast)
    take_back(cast.owner, acting=cast.teacher, reason="The family has asked for it")
    assert not signatures([cast.owner], TODAY)
    assert GuardianSignature.objects.count() == 2
    with pytest.raises(Refused, match="No signed form"):
        take_back(cast.owner, acting=cast.teacher, reason="again")


@pytest.mark.parametrize("who", ["outsider", "owner"])
def test_only_a_teacher_of_the_school_records(cast: Cast, saw: Topic, who: str) -> None:
    with pytest.raises(Refused, match="same school"):
        record_signatures([cast.owner], signed_on=TODAY, acting=getattr(cast, who))


def test_signed_forms_are_looked_up_in_one_query(
    cast: Cast, saw: Topic, django_assert_num_queries: Any
) -> None:
    sign(cast)
    with django_assert_num_queries(1):
        signatures([cast.owner, cast.classmate], TODAY)


def test_a_teacher_records_forms_in_the_browser(cast: Cast, saw: Topic, desk: Client) -> None:
    url = reverse("guardian_forms", args=[cast.course.pk])
    said = {"students": [cast.owner.pk, cast.classmate.pk], "signed_on": "2026-11-20"}
    page = desk.post(url, said, follow=True).content.decode()
    assert "2 signed forms recorded" in page
    assert "Signed 20 Nov 2026" in page
    back = reverse("guardian_take_back", args=[cast.seat.pk])
    desk.post(back, {"reason": "A mistake"})
    assert set(signatures([cast.owner, cast.classmate], TODAY)) == {cast.classmate.pk}


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"students": []}, "Tick the students"),
        ({"signed_on": "2026-11-26"}, "in the future"),
        ({"signed_on": "soon"}, "valid date"),
        ({"signed_on": "0001-01-01"}, "more than a year old"),
    ],
)
def test_a_form_that_cannot_be_records_nothing(
    cast: Cast, saw: Topic, desk: Client, wrong: dict[str, Any], says: str
) -> None:
    said = {"students": [cast.owner.pk], "signed_on": "2026-11-20"} | wrong
    page = desk.post(reverse("guardian_forms", args=[cast.course.pk]), said).content.decode()
    assert says in page
    assert not GuardianSignature.objects.exists()


def test_after_an_absence_all_permits_are_asked_for_again_at_once(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    sign(cast)
    drill = Topic.objects.get(school=cast.school, code="drill-press")
    permits = [give(cast, saw), give(cast, drill)]
    url = reverse("permits_again", args=[cast.seat.pk])
    assert "Away for more than 2 weeks" in desk.get(url).content.decode()
    said = {"permits": [one.pk for one in permits], "reason": "Away for a month"}
    assert "earn 2 permits again" in desk.post(url, said, follow=True).content.decode()
    assert len(missing_permits(cast.owner, ["saw-frame", "drill-press"], TODAY)) == 2
    assert {one.withdrawal.reason for one in BenchPermit.objects.all()} == {"Away for a month"}
    assert "no permit in force" in desk.get(url, follow=True).content.decode()


def test_only_the_ticked_permits_are_asked_for_again(cast: Cast, saw: Topic) -> None:
    sign(cast)
    drill = Topic.objects.get(school=cast.school, code="drill-press")
    first, _second = give(cast, saw), give(cast, drill)
    assert ask_again([first], acting=cast.teacher, reason="Key left in the chuck") == 1
    assert [one.code for one in missing_permits(cast.owner, ["saw-frame", "drill-press"], TODAY)]
    with pytest.raises(Refused, match="at least one"):
        ask_again([first], acting=cast.teacher, reason="again")


def test_another_students_permit_cannot_be_ticked(cast: Cast, saw: Topic, desk: Client) -> None:
    record_signatures([cast.owner, cast.classmate], signed_on=TODAY, acting=cast.teacher)
    other = give_permit(cast.classmate, saw, acting=cast.teacher, remark="")
    give(cast, saw)
    url = reverse("permits_again", args=[cast.seat.pk])
    page = desk.post(url, {"permits": [other.pk], "reason": "x y"}).content.decode()
    assert "not one of the available" in page
    assert not hasattr(BenchPermit.objects.get(pk=other.pk), "withdrawal")


def test_a_student_reads_that_the_form_is_missing_until_it_is_there(
    cast: Cast, saw: Topic, client: Client
) -> None:
    client.force_login(cast.owner)
    missing = "guardian form has not come back"
    assert missing in client.get(reverse("topics")).content.decode()
    sign(cast)
    assert missing not in client.get(reverse("topics")).content.decode()
