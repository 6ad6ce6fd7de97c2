"""Walks every address of the house against the one permission table."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from classroom.permissions import POLICY, Action
from tests.people import Cast, signed_in

OPEN_PAGES = {"sign_in", "first_run", "sign_out", "health"}
"""The only addresses that people who are not signed in may use."""

TABLET_PAGES = {"tablet", "tablet_seat", "tablet_sign"}
"""They ask for no person but for a device that a teacher has made a bench tablet."""


def addresses(found: Any = None, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in get_resolver().url_patterns if found is None else found:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, route)
        else:
            yield route, pattern


def sample(route: str) -> str:
    """The route with a number, or a word, in place of each of its arguments."""
    filled = re.sub(r"<(?:int:)?[a-z_]*(?:pk|number|id)>", "1", route)
    return "/" + re.sub(r"<[^>]+>", "x", filled)


ALL = sorted(addresses(), key=lambda pair: pair[0])
OWN = [(route, p) for route, p in ALL if p.name not in OPEN_PAGES | TABLET_PAGES]
AT_TABLETS = [(route, p) for route, p in ALL if p.name in TABLET_PAGES]


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
