"""Walks every address of the house against the one permission table."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import URLPattern

from classroom.permissions import POLICY, Action
from tests.people import Cast, signed_in

from .addresses import ALL, AT_TABLETS, OPEN_PAGES, OWN, TABLET_PAGES, sample


def test_the_walk_finds_the_house() -> None:
    assert len(ALL) > 60


@pytest.mark.parametrize(("route", "pattern"), ALL, ids=[route for route, _ in ALL])
def test_every_view_is_marked_with_its_action(route: str, pattern: URLPattern) -> None:
    assert hasattr(pattern.callback, "action"), f"{route} has no @requires mark"
    action = pattern.callback.action
    if getattr(pattern.callback, "for_tablets", False):
        assert pattern.name in TABLET_PAGES, f"{route} is open to bench tablets"
    elif action is None:
        assert pattern.name in OPEN_PAGES, f"{route} is open to everybody"
    else:
        assert action in POLICY


@pytest.mark.parametrize(("route", "pattern"), OWN, ids=[route for route, _ in OWN])
def test_people_who_are_not_signed_in_are_sent_to_the_sign_in_page(
    route: str, pattern: URLPattern, cast: Cast
) -> None:
    for method in ("get", "post"):
        answer = getattr(Client(), method)(sample(route))
        assert answer.status_code == 302, f"{method} {route}: {answer.status_code}"
        assert answer.url.startswith("/sign-in/")


@pytest.mark.parametrize(("route", "pattern"), OWN, ids=[route for route, _ in OWN])
def test_the_wrong_role_is_refused_by_every_view(
    route: str, pattern: URLPattern, cast: Cast
) -> None:
    roles = POLICY[pattern.callback.action]
    for person in (cast.teacher, cast.owner):
        if person.role in roles:
            continue
        client = signed_in(person)
        for method in ("get", "post"):
            answer = getattr(client, method)(sample(route))
            assert answer.status_code == 403, f"{method} {route} by a {person.role}"


@pytest.mark.parametrize(("route", "pattern"), AT_TABLETS, ids=[route for route, _ in AT_TABLETS])
def test_a_device_that_is_no_bench_tablet_is_refused_whoever_holds_it(
    route: str, pattern: URLPattern, cast: Cast
) -> None:
    assert pattern.callback.for_tablets
    for person in (None, cast.teacher, cast.owner, cast.outsider):
        client = Client()
        if person is not None:
            client.force_login(person, backend="classroom.signin.PassphraseBackend")
        for method in ("get", "post"):
            answer = getattr(client, method)(sample(route))
            assert answer.status_code == 403, f"{method} {route} by {person}"
            assert "Not a bench tablet" in answer.content.decode()


def test_every_action_has_its_row_in_the_policy() -> None:
    assert set(POLICY) == set(Action)
