"""A new term starts from last term's briefs, and a course can be kept as a file."""

from __future__ import annotations

import csv
import io
import zipfile
from decimal import Decimal

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from time_machine import Traveller

from classroom.models import Course
from classroom.refusals import Refused
from inventory.models import Metal
from studio.models import Brief
from studio.steps.briefs.copy import copy_briefs
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, make_it


@pytest.fixture
def spring(cast: Cast) -> Course:
    made = Course.objects.create(
        school=cast.school,
        title="Metals 1",
        section="B",
        term="Spring 2027",
        starts_on=cast.course.ends_on,
        ends_on=cast.course.ends_on,
    )
    made.teachers.add(cast.teacher)
    return made


def test_all_briefs_are_copied_open_and_without_a_due_date(
    world: World, cast: Cast, spring: Course
) -> None:
    Brief.objects.update(
        due_on=cast.course.ends_on, closed_at=timezone.now(), least_bridge_mm=Decimal("1.70")
    )
    (made,) = copy_briefs(cast.course, spring, acting=cast.teacher)
    made.refresh_from_db()
    old = world.brief
    assert (made.title, made.allowance, made.teacher_signs) == (
        old.title,
        old.allowance,
        old.teacher_signs,
    )
    assert made.least_bridge_mm == Decimal("1.70")
    assert (made.due_on, made.closed_at, made.course) == (None, None, spring)
    assert list(made.metals.all()) == [world.metal]
    assert Brief.objects.count() == 2


def test_copying_twice_copies_once(world: World, cast: Cast, spring: Course) -> None:
    copy_briefs(cast.course, spring, acting=cast.teacher)
    with pytest.raises(Refused, match="does not have already"):
        copy_briefs(cast.course, spring, acting=cast.teacher)
    assert Brief.objects.filter(course=spring).count() == 1


def test_metals_off_the_list_are_left_out(world: World, cast: Cast, spring: Course) -> None:
    Metal.objects.update(retired_at=timezone.now())
    (made,) = copy_briefs(cast.course, spring, acting=cast.teacher)
    assert made.metals.count() == 0


def test_a_closed_course_takes_no_briefs(world: World, cast: Cast, spring: Course) -> None:
    spring.closed_at = timezone.now()
    spring.save()
    with pytest.raises(Refused, match="closed"):
        copy_briefs(cast.course, spring, acting=cast.teacher)


def test_briefs_are_copied_on_their_page_from_own_courses_only(
    world: World, cast: Cast, spring: Course
) -> None:
    url = reverse("briefs_copy", args=[spring.pk])
    away = Course.objects.create(
        school=cast.school,
        title="Elsewhere",
        term="T",
        starts_on=spring.starts_on,
        ends_on=spring.ends_on,
    )
    browser = signed_in(cast.teacher)
    refused = browser.post(url, {"source": away.pk})
    assert "Select a valid choice" in refused.content.decode()
    assert browser.post(url, {"source": cast.course.pk}).status_code == 302
    again = browser.post(url, {"source": cast.course.pk})
    assert "does not have already" in again.content.decode()


@pytest.mark.parametrize("name", ["briefs_copy", "course_archive"])
def test_four_people(world: World, cast: Cast, name: str) -> None:
    url = reverse(name, args=[cast.course.pk])
    for person, expected in (
        (cast.teacher, 200),
        (cast.other_teacher, 404),
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.outsider, 404),
    ):
        assert signed_in(person).get(url).status_code == expected, person


def _tables(answer: HttpResponse) -> dict[str, list[list[str]]]:
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        return {
            name: list(csv.reader(io.StringIO(archive.read(name).decode("utf-8-sig"))))
            for name in archive.namelist()
            if name.endswith(".csv")
        }


def test_the_archive_holds_what_the_course_did(world: World, cast: Cast, clock: Traveller) -> None:
    cast.owner.display_name = "=2+3"
    cast.owner.save()
    project = world.project(cast.seat)
    plan = world.issued(project)
    make_it(project, clock, cast)
    close_plan(
        plan, acting=cast.teacher, offcuts_kept=every_offcut(plan), scrap_mass_g=Decimal("2.40")
    )
    tables = _tables(signed_in(cast.teacher).get(reverse("course_archive", args=[cast.course.pk])))
    assert len(tables) == 13
    assert all(len(row) == len(rows[0]) for rows in tables.values() for row in rows)
    assert "'=2+3" in [row[1] for row in tables["students.csv"]]
    assert len(tables["sign-offs.csv"]) > 7
    assert tables["returns.csv"][1][-1] == "2.40"
    charged = sum(Decimal(row[2]) for row in tables["budget.csv"] if row[1] == "charge")
    credited = sum(Decimal(row[2]) for row in tables["budget.csv"] if row[1] == "credit")
    settled = sum(Decimal(row[5]) for row in tables["prices.csv"] if row[2] == "settled")
    assert charged - credited == settled
    area = sum(Decimal(row[3]) for row in tables["metal.csv"][1:])
    used = tables["returns.csv"][1]
    assert float(area) == pytest.approx(-(float(used[1]) - float(used[3])), abs=1)


def test_a_larger_class_takes_as_many_queries(world: World, cast: Cast) -> None:
    url = reverse("course_archive", args=[cast.course.pk])
    world.project(cast.seat)
    browser = signed_in(cast.teacher)
    with CaptureQueriesContext(connection) as few:
        browser.get(url)
    world.project(cast.classmate_seat)
    with CaptureQueriesContext(connection) as more:
        browser.get(url)
    assert len(more) == len(few)
