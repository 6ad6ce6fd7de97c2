"""Walks every address that names somebody's work, as people whose work it is not."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import Client

from classroom.models import BenchPermit, User
from studio.steps.patterns.paper import keep_paper
from tests.studio.bench.making import World, give_permits, make_world

from ..people import Cast
from .test_every_address_is_guarded import OWN

BY_FOLDER = {
    "courses": "course",
    "seats": "seat",
    "briefs": "brief",
    "projects": "project",
    "patterns": "pattern",
    "plans": "plan",
    "steps": "step",
    "safety/permits": "permit",
}
"""What the plain `pk` of an address under this folder is the number of."""

COURSE_WORK = [
    route
    for route, _ in OWN
    if re.search(r"<int:(course|project|pattern|plan|brief|seat)_pk>", route)
    or re.match(rf"({'|'.join(BY_FOLDER)})/<int:pk>", route)
]
FOR_CLASSMATES = {"briefs/<int:pk>/", "briefs/<int:brief_pk>/start/"}


@pytest.fixture
def numbers(cast: Cast) -> dict[str, int]:
    """The primary key of one of each kind of thing, all of them the owner's or the teacher's."""
    world: World = make_world(cast)
    project = world.at_bench()
    (permit,) = give_permits(cast, cast.owner, "saw-frame")
    assert isinstance(permit, BenchPermit)
    share = project.plan_shares.get()
    share.pattern.file.save("tag.svg", ContentFile(b"<svg/>"))
    keep_paper(share.pattern, b"the small picture of a sheet")
    step = project.bench_steps.first()
    assert step is not None
    return {
        "course": cast.course.pk,
        "seat": cast.seat.pk,
        "brief": project.brief_id,
        "project": project.pk,
        "pattern": share.pattern_id,
        "plan": share.plan_id,
        "step": step.pk,
        "permit": permit.pk,
    }


def filled(route: str, numbers: dict[str, int]) -> str:
    named = re.sub(r"<int:([a-z]+)_pk>", lambda found: str(numbers[found[1]]), route)
    for folder, kind in BY_FOLDER.items():
        if named.startswith(f"{folder}/<int:pk>"):
            named = named.replace("<int:pk>", str(numbers[kind]))
    named = re.sub(r"<slug:[a-z]+>", "svg", named)
    assert "<" not in named, f"say what the numbers of {route} are"
    return f"/{named}"


def answers(person: User, address: str, *methods: str) -> dict[str, int]:
    client = Client(raise_request_exception=False)  # what a page makes of it is no matter here
    client.force_login(person, backend="classroom.signin.PassphraseBackend")
    asked: Any = {"get": client.get, "post": client.post}
    found = {}
    for method in methods or asked:
        answer = asked[method](address)
        found[method] = answer.status_code
        if answer.streaming:
            b"".join(answer.streaming_content)  # read to its end, a file is closed
    return found


def test_the_walk_finds_the_work() -> None:
    assert len(COURSE_WORK) > 40


def test_another_teacher_and_another_school_find_nothing_of_a_course(
    cast: Cast, numbers: dict[str, int]
) -> None:
    let_in = [
        (str(person), route, answer)
        for route in COURSE_WORK
        for person in (cast.other_teacher, cast.outsider)
        if not set((answer := answers(person, filled(route, numbers))).values()) <= {403, 404, 405}
    ]
    assert let_in == []


def test_a_classmate_reaches_the_brief_and_nothing_of_somebody_elses_project(
    cast: Cast, numbers: dict[str, int]
) -> None:
    let_in = [
        (route, answer)
        for route in COURSE_WORK
        if route not in FOR_CLASSMATES
        and not set((answer := answers(cast.classmate, filled(route, numbers))).values())
        <= {403, 404, 405}
    ]
    assert let_in == []


def test_the_same_addresses_are_there_for_those_whose_work_it_is(
    cast: Cast, numbers: dict[str, int]
) -> None:
    for route in COURSE_WORK:
        address = filled(route, numbers)
        found = {answers(person, address, "get")["get"] for person in (cast.teacher, cast.owner)}
        assert found - {403, 404}, f"{route}: nobody finds it, so a refusal would prove nothing"
