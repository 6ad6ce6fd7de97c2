"""A student's record: what was signed, answered and given, to print and as a table."""

from __future__ import annotations

import csv
import hashlib
import io
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from time_machine import Traveller

from classroom.models import Topic
from classroom.safety.guardians import record_signatures
from classroom.safety.permits import give_permit, withdraw
from studio.models import BenchStep, Project
from studio.telling.records.student_record import record_of
from tests.classroom.passing import fail_questions, pass_questions

from .making import World, do_steps, give_permits


@pytest.fixture
def worked(world: World, clock: Traveller) -> Project:
    """A failed and a passed attempt, a permit given and withdrawn, a form, and some steps."""
    cast = world.cast
    project = world.at_bench()
    topic = Topic.objects.get(school=cast.school, code="drill-press")
    fail_questions(cast.owner, topic)
    clock.shift(180)
    pass_questions(cast.owner, topic)
    permit = give_permit(cast.owner, topic, acting=cast.teacher, remark="=own clamp")
    record_signatures([cast.owner], signed_on=permit.given_at.date(), acting=cast.teacher)
    clock.shift(60)
    withdraw(permit, acting=cast.teacher, reason="Key left in the chuck")
    give_permits(cast, cast.owner)
    clock.shift(60)
    do_steps(project, "dry", clock, cast)
    return project


def table(client: Client, world: World, lang: str = "en") -> list[list[str]]:
    url = reverse("student_record_csv", args=[world.cast.seat.pk])
    answer = client.get(f"{url}?lang={lang}")
    return list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_the_record_holds_every_kind_of_row_in_order(world: World, worked: Project) -> None:
    entries = record_of(world.cast.seat)
    assert [one.at for one in entries] == sorted(one.at for one in entries)
    assert {one.kind for one in entries} >= {
        "questions",
        "bench permit",
        "permit withdrawn",
        "guardian form",
        "step started",
        "step done",
    }


def test_a_sign_off_names_the_wording_that_was_signed(world: World, worked: Project) -> None:
    step = BenchStep.objects.get(project=worked, kind="prepare")
    started = next(one for one in record_of(world.cast.seat) if one.kind == "step started")
    assert started.wording == f"{step.wording_sha[:12]} (en)"
    assert hashlib.sha256(started.detail.encode()).hexdigest() == step.wording_sha
    assert started.by == "Wren T"


def test_the_table_says_what_was_asked_and_answered(
    world: World, worked: Project, client: Client
) -> None:
    client.force_login(world.cast.teacher)
    rows = table(client, world)
    attempts = [row for row in rows if row[1] == "questions"]
    assert [row[3] for row in attempts] == ["4 / 5, not passed", "5 / 5, passed"]
    assert attempts[0][6].count("(not right)") == 1
    assert attempts[1][6].count("(right)") == 5


def test_nothing_in_the_table_is_run_as_a_formula(
    world: World, worked: Project, client: Client
) -> None:
    client.force_login(world.cast.teacher)
    assert all(not cell.startswith(("=", "+", "@")) for row in table(client, world) for cell in row)


def test_it_prints_in_both_languages(world: World, worked: Project, client: Client) -> None:
    client.force_login(world.cast.teacher)
    url = reverse("student_record", args=[world.cast.seat.pk])
    for language, word in (("en", "Record: Wren T"), ("es", "Registro: Wren T")):
        answer = client.get(f"{url}?as=pdf&lang={language}")
        assert word in PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert table(client, world, "es")[0][0] == "Cuándo"


@pytest.mark.parametrize("page", ["student_record", "student_record_csv"])
@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("teacher", 200),
        ("owner", 200),
        ("classmate", 404),
        ("other_teacher", 404),
        ("outsider", 404),
        ("outside_student", 404),
    ],
)
def test_the_teacher_and_the_student_alone_see_it(
    world: World, client: Client, page: str, who: str, status: int
) -> None:
    client.force_login(getattr(world.cast, who))
    assert client.get(reverse(page, args=[world.cast.seat.pk])).status_code == status


def test_a_long_record_asks_no_more_queries(
    world: World, worked: Project, clock: Traveller, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(6):
        short = record_of(world.cast.seat)
    do_steps(worked, "remove", clock, world.cast)
    with django_assert_num_queries(6):
        assert len(record_of(world.cast.seat)) > len(short)
