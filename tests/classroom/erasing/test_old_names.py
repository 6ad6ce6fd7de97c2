"""Names erased by date: who is due, what goes, and that rows and counts stay."""

from __future__ import annotations

import datetime as dt
import io

import pytest
import time_machine
from django.apps import apps
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from classroom.erasing import due, erase_due
from classroom.models import (
    BenchPermit,
    Course,
    Erasure,
    History,
    Seat,
    SignInCount,
    Topic,
    User,
    record,
)
from classroom.refusals import Refused
from classroom.safety.permits import give_permit
from classroom.safety.topics import seed_topics
from tests.classroom.passing import pass_questions
from tests.clocks import NOON, stopped_at
from tests.people import PASSPHRASE, Cast

clock = stopped_at(NOON, always=True)


# The cast's course ends on 29 January 2027, and names are kept for two years.
DUE = dt.date(2029, 1, 29)
DAY = dt.timedelta(days=1)


@pytest.fixture
def worked(cast: Cast) -> Cast:
    """Both students have passed, and hold a permit."""
    seed_topics(cast.school)
    topic = Topic.objects.get(school=cast.school, code="saw-frame")
    for student in (cast.owner, cast.classmate):
        pass_questions(student, topic)
        give_permit(student, topic, acting=cast.teacher, remark="")
    record(cast.teacher, "note", cast.course, "Wren T and Wren Twist sat together", who=["Wren T"])
    return cast


def later(clock: time_machine.Traveller, day: dt.date = DUE) -> None:
    clock.move_to(dt.datetime.combine(day, dt.time(16), dt.UTC))


def counts() -> dict[str, int]:
    """Rows of every table of the house that a person's work fills."""
    kept = {"History", "Erasure"}
    return {
        model.__name__: model._base_manager.count()
        for label in ("classroom", "inventory", "studio")
        for model in apps.get_app_config(label).get_models()
        if model.__name__ not in kept
    }


def test_a_name_is_due_the_schools_years_after_the_last_course(cast: Cast) -> None:
    assert due(cast.school, DUE - DAY) == []
    assert due(cast.school, DUE) == [cast.classmate, cast.owner]


def test_a_student_with_a_later_course_is_not_due(cast: Cast) -> None:
    later_one = Course.objects.create(
        school=cast.school, title="Metals 2", term="2027", starts_on=DUE, ends_on=DUE + 90 * DAY
    )
    Seat.objects.create(course=later_one, student=cast.owner)
    assert due(cast.school, DUE) == [cast.classmate]


def test_a_student_who_never_had_a_course_and_teachers_are_left_alone(cast: Cast) -> None:
    Seat.objects.filter(student=cast.owner).delete()
    assert due(cast.school, DUE) == [cast.classmate]


def test_a_leap_day_has_a_day_before_it_in_other_years(cast: Cast) -> None:
    assert due(cast.school, dt.date(2028, 2, 29)) == []


def test_the_name_is_gone_everywhere_and_every_row_is_still_there(
    worked: Cast, clock: time_machine.Traveller
) -> None:
    later(clock)
    before = counts()
    gone = erase_due(worked.school, acting=worked.teacher, only=[worked.owner.pk])
    assert gone == [worked.owner]
    assert counts() == before
    person = User.objects.get(pk=worked.owner.pk)
    label = f"Former student {person.pk}"
    assert (person.display_name, person.roster_id, person.is_active) == (label, "", False)
    assert "wren" not in person.username
    assert BenchPermit.objects.filter(student=person).count() == 1
    said = [f"{row.text} {row.detail}" for row in History.objects.all()]
    assert not any("Wren T " in one or "'Wren T'" in one for one in said)
    assert any(label in one for one in said)


def test_other_peoples_names_stay_as_they_are(worked: Cast, clock: time_machine.Traveller) -> None:
    later(clock)
    erase_due(worked.school, acting=None, only=[worked.owner.pk])
    texts = [row.text for row in History.objects.all()]
    assert f"Former student {worked.owner.pk} and Wren Twist sat together" in texts
    assert any("Odd F" in text for text in texts)


def test_a_name_that_two_bear_goes_from_the_own_rows_only(
    worked: Cast, clock: time_machine.Traveller
) -> None:
    User.objects.create_user(
        "wren.2", display_name="Wren T", school=worked.school, role=worked.owner.role
    )
    later(clock)
    erase_due(worked.school, acting=None, only=[worked.owner.pk])
    assert not History.objects.about(worked.owner).filter(text__contains="Wren T").exists()
    assert History.objects.about(worked.course).filter(text__startswith="Wren T and").exists()


def test_who_is_erased_cannot_sign_in_and_the_throttle_forgets_them(
    worked: Cast, clock: time_machine.Traveller, client: Client
) -> None:
    username = worked.owner.username
    client.post("/sign-in/", {"username": username, "password": "wrong-words-10"})
    later(clock)
    assert SignInCount.objects.exclude(account="").exists()
    erase_due(worked.school, acting=None)
    assert not SignInCount.objects.exclude(account="").exists()
    client.post("/sign-in/", {"username": username, "passphrase": PASSPHRASE})
    assert client.get("/").status_code == 302


def test_that_it_was_done_is_on_record_and_doing_it_again_does_nothing(
    worked: Cast, clock: time_machine.Traveller
) -> None:
    later(clock)
    assert len(erase_due(worked.school, acting=worked.teacher)) == 2
    row = Erasure.objects.get(student=worked.owner)
    assert (row.done_by, row.last_course_ended) == (worked.teacher, dt.date(2027, 1, 29))
    assert History.objects.filter(verb="erase-name").count() == 2
    assert erase_due(worked.school, acting=worked.teacher) == []


def test_nobody_is_erased_before_the_day_even_when_asked_for(worked: Cast) -> None:
    assert erase_due(worked.school, acting=worked.teacher, only=[worked.owner.pk]) == []
    assert User.objects.get(pk=worked.owner.pk).display_name == "Wren T"


@pytest.mark.parametrize("who", ["other_teacher", "outsider", "owner"])
def test_only_who_looks_after_the_school_erases(worked: Cast, who: str) -> None:
    with pytest.raises(Refused, match="look after"):
        erase_due(worked.school, acting=getattr(worked, who))


def test_the_command_counts_first_and_erases_in_every_school(
    worked: Cast, clock: time_machine.Traveller
) -> None:
    later(clock)
    out = io.StringIO()
    call_command("erase_names", "--dry-run", stdout=out)
    assert "Saltmarsh Harbour School: 2 names due" in out.getvalue()
    assert not Erasure.objects.exists()
    call_command("erase_names", stdout=out)
    assert "Saltmarsh Harbour School: 2 names erased" in out.getvalue()
    assert "Upriver School: 0 names erased" in out.getvalue()


def test_the_keeper_erases_ticked_names_in_the_browser(
    worked: Cast, clock: time_machine.Traveller, client: Client
) -> None:
    later(clock)
    client.force_login(worked.teacher)
    url = reverse("old_names")
    assert "Wren T" in client.get(url).content.decode()
    page = client.post(url, {"students": ["x", "²", str(worked.outside_student.pk)]}, follow=True)
    assert "Tick at least one" in page.content.decode()
    page = client.post(url, {"students": [str(worked.owner.pk)]}, follow=True)
    said = page.content.decode()
    assert "1 name is erased" in said
    assert "Wren T" not in said
    assert "Odd F" in said
