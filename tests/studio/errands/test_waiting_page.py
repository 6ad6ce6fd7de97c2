"""The page that waits: its owner's alone, goes on by itself, can be left, found again, ended."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Errand, Pattern, Project
from studio.running.errands import lease
from studio.running.errands.doing import run
from studio.running.signs import Sign
from tests.people import Cast, signed_in
from tests.studio.patterns.making import make_project, words

from .making import follow, newest, send_pattern, work

HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def errand(own_desk: Client, project: Project) -> Errand:
    send_pattern(own_desk, project)
    return newest()


@pytest.mark.parametrize("page", ["errand", "errand_paper"])
def test_nobody_else_finds_somebodys_errand(cast: Cast, errand: Errand, page: str) -> None:
    address = reverse(page, args=[errand.token])
    for done in (False, True):
        for person in (cast.classmate, cast.teacher, cast.other_teacher, cast.outsider):
            assert signed_in(person).get(address).status_code == 404
        if not done:
            work()
    assert signed_in(cast.owner).get(address).status_code == 302
    assert Client().get(address).url.startswith("/sign-in/")


def test_nobody_else_calls_it_off(cast: Cast, errand: Errand) -> None:
    address = reverse("errand_call_off", args=[errand.token])
    for person in (cast.classmate, cast.teacher, cast.outsider):
        assert signed_in(person).post(address).status_code == 404
    assert signed_in(cast.owner).get(address).status_code == 405
    assert newest().is_open


def test_somebody_elses_errand_tells_nothing_on_ones_own_form(
    cast: Cast, own_desk: Client, errand: Errand, project: Project
) -> None:
    work()
    mate = make_project(cast, project.brief, cast.classmate_seat)
    address = reverse("pattern_upload", args=[mate.pk])
    answer = signed_in(cast.classmate).get(f"{address}?errand={errand.token}")
    assert answer.status_code == 200
    assert "Choose your pattern" in words(answer)
    for odd in ("", "x", "\0", "a/b", "x" * 5000):
        assert (
            own_desk.get(reverse("pattern_upload", args=[project.pk]), {"errand": odd}).status_code
            == 200
        )


def test_the_page_asks_again_by_itself_and_without_scripts_too(
    own_desk: Client, errand: Errand
) -> None:
    page = words(follow(own_desk))
    assert f'hx-get="{reverse("errand", args=[errand.token])}?shown=queued-0"' in page
    assert '<noscript><meta http-equiv="refresh"' in page
    assert follow(own_desk)["Cache-Control"] == "private, no-store"


def test_the_state_is_sent_only_when_it_has_changed(own_desk: Client, errand: Errand) -> None:
    address = reverse("errand", args=[errand.token])
    same = own_desk.get(address, {"shown": "queued-0"}, **HTMX)  # type: ignore[arg-type]
    assert same.status_code == 204
    lease.claim(errand.pk, "desk/1")
    other = own_desk.get(address, {"shown": "queued-0"}, **HTMX)  # type: ignore[arg-type]
    assert "It is your turn" in words(other)
    assert "<html" not in words(other)


def test_when_it_is_done_the_page_is_told_where_to_go_on(own_desk: Client, errand: Errand) -> None:
    work()
    answer = own_desk.get(reverse("errand", args=[errand.token]), **HTMX)  # type: ignore[arg-type]
    back = reverse("pattern_upload", args=[Pattern.objects.get().project_id])
    assert f'data-goes-on="{back}?errand={errand.token}"' in words(answer)
    assert "hx-get" not in words(answer)


def test_called_off_it_changes_nothing_and_its_file_is_gone(
    own_desk: Client,
    errand: Errand,
    project: Project,
    store: Path,
    django_capture_on_commit_callbacks: Any,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        answer = own_desk.post(reverse("errand_call_off", args=[errand.token]), follow=True)
    assert "Called off" in words(answer)
    assert answer.redirect_chain[-1][0] == reverse("pattern_upload", args=[project.pk])
    assert not run(errand.pk, "desk/1")
    assert not Pattern.objects.exists()
    assert not [path for path in store.rglob("*") if path.is_file()]


def test_called_off_while_a_worker_is_at_it_the_worker_changes_nothing(
    own_desk: Client, errand: Errand, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.running.errands.doing import DOERS

    usual = DOERS[Errand.Kind.PATTERN]

    def called_off_meanwhile(one: Errand) -> Any:
        deed = usual(one)
        own_desk.post(reverse("errand_call_off", args=[one.token]))
        return deed

    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, called_off_meanwhile)
    assert not run(errand.pk, "desk/1")
    assert newest().state == Errand.State.OFF
    assert not Pattern.objects.exists()


def test_called_off_too_late_it_goes_on_to_what_came_of_it(
    own_desk: Client, errand: Errand
) -> None:
    work()
    answer = own_desk.post(reverse("errand_call_off", args=[errand.token]), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("pattern", args=[Pattern.objects.get().pk])


def test_the_first_page_and_the_project_lead_back_until_it_was_looked_at(
    own_desk: Client, errand: Errand, project: Project
) -> None:
    address = reverse("errand", args=[errand.token])
    pages = ["/", reverse("project", args=[project.pk])]
    for word in ("Waiting", "Ready"):
        for page in pages:
            shown = words(own_desk.get(page))
            assert f'href="{address}"' in shown
            assert f">{word}</span>" in shown
        work()
    follow(own_desk)
    for page in pages:
        assert f'href="{address}"' not in words(own_desk.get(page))


def test_the_page_speaks_the_persons_language(own_desk: Client, errand: Errand) -> None:
    page = words(own_desk.get(reverse("errand", args=[errand.token]), {"lang": "es"}))
    assert "You are next" not in page
    assert "Ahora te toca" in page


def test_a_page_that_waits_promises_no_worker_that_is_not_there(
    own_desk: Client, errand: Errand, database_queue: None
) -> None:
    page = words(follow(own_desk))
    assert "is not running. Tell your teacher." in page
    assert "in a moment" not in page
    assert "<h1>Your file waits to be read</h1>" in page
    assert "?shown=queued-0-nobody" in page
    Sign().give()
    address = reverse("errand", args=[errand.token])
    again = words(own_desk.get(address, {"shown": "queued-0-nobody"}, **HTMX))  # type: ignore[arg-type]
    assert "It begins in a moment" in again


def test_a_teacher_is_told_how_a_worker_is_started(
    cast: Cast, errand: Errand, database_queue: None
) -> None:
    Errand.objects.filter(pk=errand.pk).update(owner=cast.teacher)
    page = words(signed_in(cast.teacher).get(reverse("errand", args=[errand.token])))
    assert "<code>python3 manage.py serve</code>" in page
    assert "Tell your teacher" not in page
