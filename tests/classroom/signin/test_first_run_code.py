"""An empty installation that others can reach is set up by whoever sees what the server printed."""

from __future__ import annotations

import pytest
from django.test import Client
from time_machine import Traveller

from classroom.forms import school
from classroom.models import School
from classroom.signin.first_run_code import VARIABLE, first_run_code
from tests.clocks import EARLY, stopped_at
from tests.people import Cast

from .first_run import SAID, URL

clock = stopped_at(EARLY, always=True)


CODE = "k7m2x-9qxdt"


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, db: object) -> None:
    """The code is asked for; of six hundred time zones, which take their time, one is offered."""
    monkeypatch.setenv(VARIABLE, CODE)
    monkeypatch.setattr(school, "zones", lambda: [("Europe", [("Europe/Lisbon", "Lisbon")])])


@pytest.mark.django_db
def test_a_server_that_others_can_reach_prints_a_code_while_there_is_no_school() -> None:
    code = first_run_code(True)
    assert code is not None
    assert len(code.replace("-", "")) == 10
    assert code != first_run_code(True)


@pytest.mark.django_db
def test_a_server_for_this_machine_alone_prints_none(settings: object) -> None:
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]  # type: ignore[attr-defined]
    assert first_run_code(False) is None


@pytest.mark.django_db
def test_a_server_behind_a_proxy_is_reached_by_others_too(settings: object) -> None:
    settings.ALLOWED_HOSTS = ["bench.example.org", "localhost"]  # type: ignore[attr-defined]
    assert first_run_code(False) is not None


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "value"), [("BEHIND_TLS", True), ("PROXIES", ("127.0.0.1/32",))])
def test_a_proxy_that_hides_the_name_it_is_reached_by_is_known_by_its_settings(
    name: str, value: object, settings: object
) -> None:
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]  # type: ignore[attr-defined]
    setattr(settings, name, value)
    assert first_run_code(False) is not None


def test_no_code_is_printed_once_there_is_a_school(cast: Cast) -> None:
    assert first_run_code(True) is None


def test_a_code_that_several_machines_share_is_kept(asked: None) -> None:
    assert first_run_code(True) == CODE


@pytest.mark.django_db
def test_without_a_code_the_page_asks_for_none(client: Client) -> None:
    assert "Code from the server" not in client.get(URL).content.decode()
    assert client.post(URL, SAID).status_code == 302
    assert School.objects.count() == 1


@pytest.mark.parametrize("typed", ["", "k7m2x-9qxdv", "k7m2x", "x" * 41, " "])
def test_without_the_right_code_there_is_no_school(asked: None, client: Client, typed: str) -> None:
    page = client.get(URL).content.decode()
    assert "Code from the server" in page
    assert CODE not in page
    answer = client.post(URL, SAID | {"code": typed})
    assert answer.status_code == 200
    assert CODE not in answer.content.decode()
    assert not School.objects.exists()


@pytest.mark.parametrize("typed", [CODE, " K7M2X 9QXDT "])
def test_with_the_code_the_school_is_made_and_the_code_is_worth_nothing_more(
    asked: None, client: Client, typed: str
) -> None:
    assert client.post(URL, SAID | {"code": typed}).status_code == 302
    assert School.objects.count() == 1
    answer = Client().post(URL, SAID | {"code": CODE, "username": "somebody.else"})
    assert answer.headers["Location"] == "/sign-in/"
    assert School.objects.count() == 1


def test_guessing_at_the_code_is_slowed_and_the_pause_does_not_grow_by_trying(
    asked: None, client: Client, clock: Traveller
) -> None:
    for _ in range(20):
        page = client.post(URL, SAID | {"code": "wrong"}).content.decode()
    assert "Wait 1 second and" in page
    assert "Wait 1 second" in client.post(URL, SAID | {"code": CODE}).content.decode()
    assert not School.objects.exists()
    elsewhere = client.post(URL, SAID | {"code": "wrong"}, REMOTE_ADDR="203.0.113.9")
    assert "not the code" in elsewhere.content.decode()
    clock.shift(1)
    assert client.post(URL, SAID | {"code": CODE}).status_code == 302
