"""Walks every address that names somebody's work, as people whose work it is not."""

from __future__ import annotations

import re
from typing import Any

from django.test import Client

from classroom.models import User

from ..people import Cast, signed_in
from .addresses import BY_FOLDER, OF_NO_COURSE, OWN, filled

COURSE_WORK = [
    route
    for route, _ in OWN
    if re.search(r"<int:(course|project|pattern|plan|brief|seat)_pk>", route)
    or re.match(rf"({'|'.join(BY_FOLDER)})/<int:pk>", route)
]
FOR_CLASSMATES = {"briefs/<int:pk>/", "briefs/<int:brief_pk>/start/"}


def browser_of(person: User) -> Client:
    client = signed_in(person)
    client.raise_request_exception = False  # what a page makes of it is no matter here
    return client


def answers(client: Client, address: str, *methods: str) -> dict[str, int]:
    asked: Any = {"get": client.get, "post": client.post}
    found = {}
    for method in methods or asked:
        answer = asked[method](address)
        found[method] = answer.status_code
        if answer.streaming:
            b"".join(answer.streaming_content)  # read to its end, a file is closed
    return found


def folder_of(route: str) -> str:
    """All in front of its plain number; where it has none, up to its first argument and with it."""
    before, number, _ = route.partition("/<int:pk>")
    return before if number else re.sub(r"(<[^>]+>).*", r"\1", route)


def test_every_address_with_an_argument_is_walked_or_says_why_not() -> None:
    told = [route for route, _ in OWN if "<" in route and route not in COURSE_WORK]
    assert {folder_of(route) for route in told} == set(OF_NO_COURSE)


def test_another_teacher_and_another_school_find_nothing_of_a_course(
    cast: Cast, numbers: dict[str, int]
) -> None:
    strangers = {str(one): browser_of(one) for one in (cast.other_teacher, cast.outsider)}
    let_in = [
        (name, route, answer)
        for route in COURSE_WORK
        for name, client in strangers.items()
        if not set((answer := answers(client, filled(route, numbers))).values()) <= {403, 404, 405}
    ]
    assert let_in == []


def test_a_classmate_reaches_the_brief_and_nothing_of_somebody_elses_project(
    cast: Cast, numbers: dict[str, int]
) -> None:
    classmate = browser_of(cast.classmate)
    let_in = [
        (route, answer)
        for route in COURSE_WORK
        if route not in FOR_CLASSMATES
        and not set((answer := answers(classmate, filled(route, numbers))).values())
        <= {403, 404, 405}
    ]
    assert let_in == []


def test_the_same_addresses_are_there_for_those_whose_work_it_is(
    cast: Cast, numbers: dict[str, int]
) -> None:
    theirs = [browser_of(person) for person in (cast.teacher, cast.owner)]
    for route in COURSE_WORK:
        address = filled(route, numbers)
        assert any(answers(client, address, "get")["get"] not in {403, 404} for client in theirs), (
            f"{route}: nobody finds it, so a refusal would prove nothing"
        )
