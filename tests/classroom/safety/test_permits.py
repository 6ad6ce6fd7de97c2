"""Bench permits: given after watching, ending on their day, withdrawn with a reason."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from classroom.models import BenchPermit, History, HistoryIsKept, PermitWithdrawal, Topic
from classroom.refusals import Refused
from classroom.safety.permits import (
    Standing,
    give_permit,
    give_permits,
    missing_permits,
    standing_of,
    withdraw,
)
from classroom.safety.topics import Wording, retire, reword
from tests.clocks import EARLY, stopped_at
from tests.people import Cast

noon = stopped_at(EARLY, always=True)


TODAY = dt.date(2026, 11, 25)
DAY = dt.timedelta(days=1)


def give(cast: Cast, topic: Topic, on: dt.date | None = None) -> BenchPermit:
    return give_permit(cast.owner, topic, acting=cast.teacher, remark="own clamp", on=on)


def missing(cast: Cast, day: dt.date = TODAY) -> list[str]:
    return [topic.code for topic in missing_permits(cast.owner, ["saw-frame"], day)]


def standing(cast: Cast, topic: Topic, day: dt.date = TODAY) -> Standing:
    return next(one.standing for one in standing_of(cast.owner, day) if one.topic == topic)


def test_a_permit_says_who_watched_what_until_when(cast: Cast, saw: Topic) -> None:
    permit = give(cast, saw)
    assert (permit.given_by, permit.topic_version, permit.remark) == (cast.teacher, 1, "own clamp")
    assert permit.expires_on == TODAY + saw.valid_days * DAY
    assert History.objects.about(cast.owner).get().verb == "give-permit"


def test_a_permit_counts_through_its_last_day(cast: Cast, saw: Topic) -> None:
    assert missing(cast) == ["saw-frame"]
    last = give(cast, saw).expires_on
    assert missing(cast) == []
    assert missing(cast, last) == []
    assert missing(cast, last + DAY) == ["saw-frame"]


def test_a_check_watched_earlier_ends_earlier(cast: Cast, saw: Topic) -> None:
    permit = give(cast, saw, on=TODAY - 10 * DAY)
    assert permit.expires_on == TODAY + (saw.valid_days - 10) * DAY
    assert timezone.localdate(permit.given_at) == TODAY - 10 * DAY


def test_a_second_click_gives_the_same_permit(cast: Cast, saw: Topic) -> None:
    assert give(cast, saw) == give(cast, saw)
    assert BenchPermit.objects.count() == 1


def test_a_renewal_is_a_new_row(cast: Cast, saw: Topic, noon: time_machine.Traveller) -> None:
    give(cast, saw)
    noon.move_to(dt.datetime(2027, 2, 1, 12, tzinfo=dt.UTC))
    give(cast, saw)
    assert BenchPermit.objects.count() == 2


@pytest.mark.parametrize("which", ["student", "teacher", "both"])
def test_nobody_gives_permits_across_schools(cast: Cast, saw: Topic, which: str) -> None:
    student = cast.outside_student if which in ("student", "both") else cast.owner
    acting = cast.outsider if which in ("teacher", "both") else cast.teacher
    with pytest.raises(Refused, match="one school only"):
        give_permit(student, saw, acting=acting, remark="")
    assert not BenchPermit.objects.exists()


def test_only_a_teacher_gives_and_only_to_students(cast: Cast, saw: Topic) -> None:
    with pytest.raises(Refused, match="A teacher gives"):
        give_permit(cast.owner, saw, acting=cast.classmate, remark="")
    with pytest.raises(Refused, match="A teacher gives"):
        give_permit(cast.other_teacher, saw, acting=cast.teacher, remark="")


@pytest.mark.parametrize(("days", "why"), [(1, "in the future"), (-127, "have run out by now")])
def test_a_day_that_cannot_be_is_refused(cast: Cast, saw: Topic, days: int, why: str) -> None:
    with pytest.raises(Refused, match=why):
        give(cast, saw, on=TODAY + days * DAY)


def test_several_get_it_or_none(cast: Cast, saw: Topic) -> None:
    with pytest.raises(Refused):
        give_permits([cast.owner, cast.outside_student], saw, acting=cast.teacher, remark="")
    assert not BenchPermit.objects.exists()
    given = give_permits([cast.owner, cast.classmate], saw, acting=cast.teacher, remark="")
    assert {permit.student for permit in given} == {cast.owner, cast.classmate}


def test_a_withdrawn_permit_no_longer_counts_and_stays_on_record(cast: Cast, saw: Topic) -> None:
    permit = give(cast, saw)
    withdraw(permit, acting=cast.teacher, reason="Left the key in the chuck")
    assert missing(cast) == ["saw-frame"]
    assert standing(cast, saw) is Standing.WITHDRAWN
    assert BenchPermit.objects.get().withdrawal.reason == "Left the key in the chuck"


def test_withdrawing_ends_an_older_permit_of_the_same_topic_too(
    cast: Cast, saw: Topic, noon: time_machine.Traveller
) -> None:
    give(cast, saw)
    noon.move_to(dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC))
    renewed = give(cast, saw)
    withdraw(renewed, acting=cast.teacher, reason="Saws towards the hand")
    assert missing(cast, dt.date(2026, 12, 1)) == ["saw-frame"]
    assert PermitWithdrawal.objects.count() == 2


def test_a_new_permit_after_a_withdrawal_counts(cast: Cast, saw: Topic) -> None:
    withdraw(give(cast, saw), acting=cast.teacher, reason="No goggles")
    give(cast, saw)
    assert missing(cast) == []
    assert standing(cast, saw) is Standing.IN_FORCE


def test_withdrawing_twice_is_refused(cast: Cast, saw: Topic) -> None:
    permit = give(cast, saw)
    withdraw(permit, acting=cast.teacher, reason="No goggles")
    with pytest.raises(Refused, match="already"):
        withdraw(permit, acting=cast.teacher, reason="No goggles")


@pytest.mark.parametrize("who", ["outsider", "owner"])
def test_only_a_teacher_of_the_school_withdraws(cast: Cast, saw: Topic, who: str) -> None:
    permit = give(cast, saw)
    with pytest.raises(Refused, match="A teacher of the same school"):
        withdraw(permit, acting=getattr(cast, who), reason="x")


def test_a_withdrawal_needs_a_reason(cast: Cast, saw: Topic) -> None:
    with pytest.raises(Refused, match="Say why"):
        withdraw(give(cast, saw), acting=cast.teacher, reason="  ")


def test_permits_are_never_changed(cast: Cast, saw: Topic) -> None:
    permit = give(cast, saw)
    permit.expires_on = TODAY + 999 * DAY
    with pytest.raises(HistoryIsKept):
        permit.save()
    with pytest.raises(HistoryIsKept):
        BenchPermit.objects.all().delete()


def test_another_students_permit_does_not_count(cast: Cast, saw: Topic) -> None:
    give_permit(cast.classmate, saw, acting=cast.teacher, remark="")
    assert missing(cast) == ["saw-frame"]


def test_a_topic_that_the_school_does_not_have_yet_is_missing_not_waved_through(
    cast: Cast,
) -> None:
    assert not Topic.objects.exists()
    assert missing(cast) == ["saw-frame"]


def test_a_topic_out_of_use_asks_for_no_permit_and_takes_none(cast: Cast, saw: Topic) -> None:
    retire(saw, acting=cast.teacher)
    assert missing(cast) == []
    saw.refresh_from_db()
    with pytest.raises(Refused, match="out of use"):
        give(cast, saw)


def test_a_code_that_nobody_knows_is_a_fault_of_the_program(cast: Cast) -> None:
    with pytest.raises(LookupError, match="time-travel"):
        missing_permits(cast.owner, ["saw-frame", "time-travel"], TODAY)


def test_no_codes_need_no_permits(cast: Cast) -> None:
    assert missing_permits(cast.owner, [], TODAY) == []


def test_how_a_student_stands_through_the_year(cast: Cast, saw: Topic) -> None:
    assert standing(cast, saw) is Standing.NONE
    last = give(cast, saw).expires_on
    assert standing(cast, saw, last - 15 * DAY) is Standing.IN_FORCE
    assert standing(cast, saw, last - 14 * DAY) is Standing.ENDS_SOON
    assert standing(cast, saw, last) is Standing.ENDS_SOON
    assert standing(cast, saw, last + DAY) is Standing.EXPIRED


def test_a_reworded_topic_keeps_its_permits_and_says_so(cast: Cast, saw: Topic) -> None:
    give(cast, saw)
    reword(saw, Wording("Saw", ["New"], ["New"], 30), seen_version=1, acting=cast.teacher)
    (one,) = [one for one in standing_of(cast.owner, TODAY) if one.topic == saw]
    assert one.in_force
    assert one.older_wording


def test_the_day_is_the_schools_day(cast: Cast, saw: Topic, noon: time_machine.Traveller) -> None:
    # 02:30 UTC on the 26th is still the 25th in Halifax.
    noon.move_to(dt.datetime(2026, 11, 26, 2, 30, tzinfo=dt.UTC))
    with timezone.override("America/Halifax"):
        assert give(cast, saw).expires_on == TODAY + saw.valid_days * DAY


def give_url(cast: Cast, topic: Topic) -> str:
    return f"{reverse('permit_give')}?course={cast.course.pk}&topic={topic.pk}"


def form(cast: Cast, **more: object) -> dict[str, object]:
    return {
        "students": [cast.owner.pk, cast.classmate.pk],
        "on": "2026-11-25",
        "remark": "own clamp",
        "watched": "on",
    } | more


def test_a_teacher_gives_several_permits_at_once(cast: Cast, saw: Topic, desk: Client) -> None:
    page = desk.get(give_url(cast, saw)).content.decode()
    assert saw.checks[0] in page
    answer = desk.post(give_url(cast, saw), form(cast), follow=True)
    assert "2 permits" in answer.content.decode()
    assert missing(cast) == []
    desk.post(give_url(cast, saw), form(cast))
    assert BenchPermit.objects.count() == 2


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"students": []}, "Tick the students"),
        ({"watched": ""}, "you watched"),
        ({"on": "2026-11-26"}, "in the future"),
        ({"on": "yesterday"}, "valid date"),
        ({"remark": "x" * 201}, "at most 200"),
        ({"students": ["x"]}, "not a valid value"),
    ],
)
def test_a_permit_form_that_cannot_be_gives_nothing(
    cast: Cast, saw: Topic, desk: Client, wrong: dict[str, object], says: str
) -> None:
    page = desk.post(give_url(cast, saw), form(cast, **wrong)).content.decode()
    assert says in page
    assert not BenchPermit.objects.exists()


def test_students_of_other_courses_and_schools_cannot_be_ticked(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    said = form(cast, students=[cast.owner.pk, cast.outside_student.pk])
    assert "not one of the available" in desk.post(give_url(cast, saw), said).content.decode()
    assert not BenchPermit.objects.exists()


@pytest.mark.parametrize(
    "query", ["", "?course=1", "?course=x&topic=1", "?course=²&topic=1", "?course=9e9&topic=-1",
              "?course=99999999999999999999999&topic=1"]
)  # fmt: skip
def test_an_address_without_course_and_topic_is_not_found(
    cast: Cast, desk: Client, query: str
) -> None:
    assert desk.get(reverse("permit_give") + query).status_code == 404


def test_a_teacher_withdraws_in_the_browser_and_the_student_reads_why(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    url = reverse("permit_withdraw", args=[give(cast, saw).pk])
    assert "required" in desk.post(url, {"reason": " "}).content.decode()
    back = reverse("permits", args=[cast.course.pk])
    answer = desk.post(url, {"reason": "No goggles <b>", "back": back})
    assert answer.headers["Location"] == back
    assert "Not in force" in desk.get(url).content.decode()
    desk.force_login(cast.owner)
    assert "No goggles &lt;b&gt;" in desk.get("/safety/").content.decode()


def test_withdrawing_never_leads_to_another_site(cast: Cast, saw: Topic, desk: Client) -> None:
    url = reverse("permit_withdraw", args=[give(cast, saw).pk])
    answer = desk.post(url, {"reason": "No goggles", "back": "https://elsewhere.example/"})
    assert answer.headers["Location"] == reverse("topics")


def test_the_grid_shows_each_standing(cast: Cast, saw: Topic, desk: Client) -> None:
    give(cast, saw)
    grid = reverse("permits", args=[cast.course.pk])
    assert f"Until {TODAY + saw.valid_days * DAY:%-d %b %Y}" in desk.get(grid).content.decode()
    withdraw(BenchPermit.objects.get(), acting=cast.teacher, reason="x")
    assert "Withdrawn 25 Nov 2026" in desk.get(grid).content.decode()


def test_a_student_sees_their_own_permits_only(cast: Cast, saw: Topic, client: Client) -> None:
    give_permit(cast.classmate, saw, acting=cast.teacher, remark="classmates remark")
    give(cast, saw)
    client.force_login(cast.owner)
    page = client.get("/safety/").content.decode()
    assert "own clamp" in page
    assert "classmates remark" not in page
