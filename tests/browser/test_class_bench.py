"""The teacher's page of the bench: who asks, who waits until when, and several signed at once."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Route, expect

from studio.models import BenchStep, Project, SignOff
from studio.steps.bench.sign import check_step, sign_done, start_step
from tests.studio.bench.making import World, give_permits, make_world, step_of

from ..people import make_cast
from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def pair(transactional_db: Any) -> tuple[World, list[Project]]:
    world = make_world(make_cast())
    world.brief.teacher_signs = ["prepare"]
    world.brief.save()
    made = [world.project(world.cast.seat), world.project(world.cast.classmate_seat)]
    world.issued(*made)
    for project in made:
        give_permits(world.cast, project.student)
        start_step(step_of(project, "prepare"), acting=project.student)
        sign_done(step_of(project, "prepare"), acting=project.student)
    return world, made


def test_two_sign_offs_are_looked_at_and_signed_at_once(
    visitor: Visitor, pair: tuple[World, list[Project]]
) -> None:
    world, _ = pair
    visitor.come_in("marit.quay")
    page = visitor.go(f"/courses/{world.cast.course.pk}/bench/")
    for name in ("Wren T", "Odd F"):
        page.get_by_label(re.compile(f"Looked at: Prepare the metal of {name}")).check()
    visitor.look("class-bench-ticked")
    page.get_by_role("button", name="Sign the ticked steps").click()
    expect(page.get_by_text("2 steps checked.")).to_be_visible()
    expect(page.get_by_text("Nobody asks for a check.")).to_be_visible()
    assert SignOff.objects.filter(kind="checked").count() == 2
    assert not BenchStep.objects.filter(kind="prepare", done_at=None).exists()
    visitor.look("class-bench-signed")


def test_a_waiting_time_stands_after_every_reload_for_student_and_teacher(
    visitor: Visitor, pair: tuple[World, list[Project]]
) -> None:
    world, projects = pair
    mine, student = projects[0], world.cast.owner
    check_step(step_of(mine, "prepare"), acting=world.cast.teacher)
    start_step(step_of(mine, "adhere"), acting=student)
    sign_done(step_of(mine, "adhere"), acting=student)
    visitor.come_in(student.username)
    page = visitor.go(f"/projects/{mine.pk}/bench/")
    page.get_by_role("button", name="Start the waiting time: 20 min").click()
    until = page.locator(".bench-bar time").inner_text()
    assert re.fullmatch(r"\d\d:\d\d", until)
    page.reload()
    assert page.locator(".bench-bar time").inner_text() == until
    expect(page.get_by_role("button", name=re.compile("I sign"))).to_have_count(0)
    visitor.look("bench-waiting")
    page.get_by_role("button", name="Sign out").click()
    visitor.come_in("marit.quay")
    page = visitor.go(f"/courses/{world.cast.course.pk}/bench/")
    expect(page.get_by_text(f"until {until}")).to_be_visible()


def test_a_student_on_a_phone_with_a_bad_network_starts_once(
    visitor: Visitor, pair: tuple[World, list[Project]]
) -> None:
    world, projects = pair
    check_step(step_of(projects[0], "prepare"), acting=world.cast.teacher)
    visitor.come_in(world.cast.owner.username)
    page = visitor.go(f"/projects/{projects[0].pk}/bench/")
    lost: list[str] = []

    def lose(route: Route) -> None:
        """The request arrives, but its answer is lost."""
        if lost:
            route.continue_()
            return
        route.fetch()
        lost.append(route.request.url)
        route.abort("internetdisconnected")

    page.route("**/start/", lose)
    page.get_by_role("button", name="Start this step").dblclick()
    expect(page.get_by_text("No answer from the network")).to_be_visible()
    visitor.look("bench-no-network")
    expect(page.get_by_role("button", name="Done: I sign this step")).to_be_visible()
    expect(page.get_by_text("“Stick the pattern on” is started.").first).to_be_visible()
    assert SignOff.objects.filter(kind="started", step__kind="adhere").count() == 1
    visitor.complaints[:] = [one for one in visitor.complaints if "ERR_INTERNET" not in one]
