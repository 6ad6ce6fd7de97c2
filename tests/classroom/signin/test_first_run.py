"""A fresh installation: every page leads to the first run, and it happens once."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from classroom import setting_up
from classroom.models import History, School, Topic, User
from classroom.refusals import Refused
from classroom.safety.texts import TOPICS
from tests.people import Cast

from .first_run import SAID, URL


@pytest.mark.django_db
@pytest.mark.parametrize("where", ["course_list", "topics", "own_account", "sign_in"])
def test_every_page_leads_to_the_first_run_while_there_is_no_school(
    client: Client, where: str
) -> None:
    assert client.get(reverse(where)).headers["Location"] == URL


@pytest.mark.django_db
def test_the_first_run_makes_the_school_and_its_keeper_and_signs_in(client: Client) -> None:
    assert client.get(URL).status_code == 200
    answer = client.post(URL, SAID, follow=True)
    school = School.objects.get()
    teacher = User.objects.get()
    assert (school.name, school.currency, school.units) == (SAID["name"], "EUR", "in")
    assert (school.paper, school.time_zone) == ("letter", "Europe/Lisbon")
    assert (teacher.username, teacher.is_teacher, teacher.keeps_school) == (
        "marit.quay",
        True,
        True,
    )
    assert teacher.check_password(SAID["new"])
    assert answer.wsgi_request.user == teacher
    assert Topic.objects.filter(school=school).count() == len(TOPICS)
    assert History.objects.about(school).get().actor == teacher


@pytest.mark.django_db
def test_a_second_click_makes_no_second_school(client: Client) -> None:
    client.post(URL, SAID)
    answer = client.post(URL, SAID | {"username": "somebody.else"})
    assert answer.status_code == 302
    assert School.objects.count() == User.objects.count() == 1


def test_there_is_no_first_run_once_a_school_exists(cast: Cast, client: Client) -> None:
    assert client.get(URL).headers["Location"] == reverse("sign_in")
    client.force_login(cast.owner)
    assert client.get(URL).headers["Location"] == reverse("first_page")


@pytest.mark.django_db
def test_of_two_first_runs_at_once_one_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    # Both have looked and found the house empty before either has saved.
    monkeypatch.setattr(setting_up, "is_fresh", lambda: True)
    said = {"display_name": "T", "passphrase": "four-words-1"}
    setting_up.set_up(School(name="School 1"), username="t1", **said)
    with pytest.raises(Refused, match="Sign in instead"):
        setting_up.set_up(School(name="School 2"), username="t2", **said)
    assert School.objects.get().name == "School 1"
    assert User.objects.get().username == "t1"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("name", " \u200b ", "required"),
        ("name", "\u2066\u202e", "at least one letter"),
        ("currency", "12", "Three capital letters"),
        ("time_zone", "Mars/Olympus", "valid choice"),
        ("username", "two words", "Small letters"),
        ("again", "another-one-42", "differ"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_half_saved(
    client: Client, field: str, value: str, says: str
) -> None:
    answer = client.post(URL, SAID | {field: value})
    assert answer.status_code == 200
    assert says in answer.content.decode()
    assert not School.objects.exists()
    assert not User.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("passphrase", "says"),
    [
        ("tide-4", "too short"),
        ("marit.quay", "too similar"),
        ("password1234", "too common"),
        ("x" * 201, "at most 200"),
    ],
)
def test_a_weak_passphrase_is_refused(client: Client, passphrase: str, says: str) -> None:
    answer = client.post(URL, SAID | {"new": passphrase, "again": passphrase})
    assert says in answer.content.decode()
    assert not School.objects.exists()


def test_nobody_gets_a_time_zone_by_not_looking(client: Client, db: None) -> None:
    page = client.get("/first-run/").content.decode()
    assert '<option value="" selected>' in page
    assert '<optgroup label="Europe">' in page
    client.post("/first-run/", SAID | {"time_zone": ""})
    assert not School.objects.exists()
