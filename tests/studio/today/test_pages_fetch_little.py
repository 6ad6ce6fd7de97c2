"""The pages that are read most fetch no drawing and no plan that they only name.

A scan's lines and a plan's job are hundreds of kilobytes each; read and unpacked for every
project in a list, they made the first pages slow for everybody.
"""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.models import User
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, make_world
from tests.studio.patterns.making import handed_in, make_project
from tests.studio.plans.making import a_class

LINES = {"studio_pattern.tracing", "studio_pattern.changes"}
DRAWING = {"studio_pattern.drawing_json"}
JOB = {"studio_cutplan.job", "studio_placingjob.progress"}
BROUGHT = r'(?:^SELECT (?:DISTINCT )?|, )"(\w+)"\."(\w+)"(?=,| AS |$)'
ANSWER = {"studio_cutplan.answer"}


@pytest.fixture
def world(cast: Cast) -> World:
    """A pattern that waits for the teacher, a plan to approve, one to issue, one at the bench."""
    world = make_world(cast)
    handed_in(make_project(cast))
    to_approve, to_issue = a_class(cast, 2)
    world.plan([world.project(to_approve)])
    world.approved(world.project(to_issue))
    world.issued(world.project(cast.seat), sheets=world.sheets[1:])
    return world


def fetched(user: User, path: str) -> set[str]:
    """The columns that the page's queries bring, as table.column; what the database compares in
    its own place is not brought."""
    client = signed_in(user)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(path).status_code == 200
    columns: set[str] = set()
    for query in queries.captured_queries:
        asked = query["sql"].partition(" FROM ")[0]
        columns |= {".".join(pair) for pair in re.findall(BROUGHT, asked)}
    return columns


def test_a_students_first_page_fetches_states_and_no_drawings(world: World) -> None:
    columns = fetched(world.cast.owner, "/")
    assert {"studio_pattern.state", "studio_cutplan.state"} <= columns
    assert not columns & (LINES | DRAWING | JOB | ANSWER)


def test_a_teachers_first_page_fetches_states_and_no_drawings(world: World) -> None:
    columns = fetched(world.cast.teacher, "/")
    assert {"studio_pattern.state", "studio_cutplan.state"} <= columns
    assert not columns & (LINES | DRAWING | JOB | ANSWER)


def test_a_project_page_fetches_the_drawing_it_shows_and_not_the_plans_job(world: World) -> None:
    project = world.cast.owner.seats.get().projects.get(stage="bench")
    columns = fetched(world.cast.owner, reverse("project", args=[project.pk]))
    assert columns >= DRAWING
    assert not columns & (LINES | JOB)


def test_the_table_of_a_class_fetches_thumbnails_and_no_plan(world: World) -> None:
    columns = fetched(world.cast.teacher, reverse("brief", args=[world.brief.pk]))
    assert columns >= DRAWING | {"studio_cutplan.state"}
    assert not columns & (LINES | JOB | ANSWER)
