"""The pages on which pieces are added to metal in use: what is free, refusals, who may see them."""

from __future__ import annotations

from unittest.mock import patch

import pytest
from django.test import Client

from classroom.models import User
from studio.models import CutPlan, Project
from tests.people import Cast
from tests.studio.bench.making import World, make_world
from tests.studio.plans.added import add, added_and_issued, another, laid, start


def browser_of(person: User) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def world(cast: Cast) -> World:
    return make_world(cast, sheets=1)


@pytest.fixture
def first(world: World) -> Project:
    return world.project(world.cast.seat)


@pytest.fixture
def base(world: World, first: Project) -> CutPlan:
    return world.issued(first)


def test_the_project_that_waits_leads_to_the_metal_at_the_bench(
    world: World, base: CutPlan
) -> None:
    more = another(world)
    browser = browser_of(world.cast.owner)
    page = browser.get(f"/projects/{more.pk}/").content.decode()
    assert f'href="/projects/{more.pk}/add/"' in page
    add_page = browser.get(f"/projects/{more.pk}/add/").content.decode()
    assert "Place my pieces on this metal" in add_page
    assert base.touched_codes[0] in add_page
    with patch("studio.steps.plans.adding.place_plan"):
        answer = browser.post(f"/projects/{more.pk}/add/", {"plan": base.pk})
    added = CutPlan.objects.get(adds_to=base)
    assert answer["Location"] == f"/plans/{added.pk}/"
    assert added.created_by == world.cast.owner


def test_without_metal_at_the_bench_nothing_leads_there(world: World) -> None:
    more = another(world)
    page = browser_of(world.cast.owner).get(f"/projects/{more.pk}/").content.decode()
    assert f"/projects/{more.pk}/add/" not in page
    assert "No metal of this project" in (
        browser_of(world.cast.owner).get(f"/projects/{more.pk}/add/").content.decode()
    )


def test_sawn_metal_says_why_not(world: World, base: CutPlan, first: Project) -> None:
    start(first, "saw")
    more = another(world)
    page = browser_of(world.cast.teacher).get(f"/projects/{more.pk}/add/").content.decode()
    assert "Bring back what is left first" in page
    assert "on this metal</button>" not in page


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("owner", 302),
        ("teacher", 302),
        ("classmate", 404),
        ("other_teacher", 404),
        ("outsider", 404),
        ("outside_student", 404),
    ],
)
def test_only_the_student_and_the_courses_teachers_add(
    world: World, base: CutPlan, who: str, status: int
) -> None:
    more = another(world)
    with patch("studio.steps.plans.adding.place_plan"):
        answer = browser_of(getattr(world.cast, who)).post(
            f"/projects/{more.pk}/add/", {"plan": base.pk}
        )
    assert answer.status_code == status
    assert CutPlan.objects.filter(adds_to=base).count() == (status == 302)


@pytest.mark.parametrize("plan", ["", "x", "-1", "9" * 40, "0", "²"])
def test_metal_that_is_none_is_refused(world: World, base: CutPlan, plan: str) -> None:
    more = another(world)
    answer = browser_of(world.cast.owner).post(f"/projects/{more.pk}/add/", {"plan": plan})
    assert answer.status_code in (404, 409, 422)
    assert not CutPlan.objects.filter(adds_to=base).exists()


def test_both_pages_lead_to_each_other_and_only_the_first_takes_metal_back(
    world: World, base: CutPlan
) -> None:
    _, plan = added_and_issued(world, base)
    teacher = browser_of(world.cast.teacher)
    page = teacher.get(f"/plans/{plan.pk}/").content.decode()
    assert f'href="/plans/{base.pk}/"' in page
    assert f"/plans/{plan.pk}/return/" not in page
    first_page = teacher.get(f"/plans/{base.pk}/").content.decode()
    assert f'href="/plans/{plan.pk}/"' in first_page
    assert f"/plans/{base.pk}/return/" in first_page


@pytest.mark.parametrize("person", ["teacher", "owner"])
def test_the_placement_sheet_draws_faint_what_lies_there(
    world: World, base: CutPlan, person: str
) -> None:
    plan = laid(add(base, another(world), world.cast.owner))
    browser = browser_of(getattr(world.cast, person))
    answer = browser.get(f"/print/placement/{plan.pk}/?view=page")
    assert answer.status_code == 200
    page = answer.content.decode()
    assert page.count(" d-lying") == 2  # the piece, and what the key says of it
    assert " d-lying" not in browser.get(f"/print/placement/{base.pk}/?view=page").content.decode()
    assert browser.get(f"/plans/{plan.pk}/").status_code == 200
    assert browser.get(f"/plans/{plan.pk}/plan.svg").status_code == 200
