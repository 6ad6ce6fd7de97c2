"""A tablet at the bench, by touch: two students sign one after the other, on a bad network."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from studio.models import Project, SignOff, TabletDeed
from tests.people import PASSPHRASE, Cast, make_cast
from tests.studio.bench.making import World, give_permits, make_world

from .barriers import no_barriers
from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def world(transactional_db: Any) -> World:
    return make_world(make_cast())


@pytest.fixture
def cast(world: World) -> Cast:
    return world.cast


@pytest.fixture
def pair(world: World) -> list[Project]:
    made = [world.project(world.cast.seat), world.project(world.cast.classmate_seat)]
    world.issued(*made)
    for project in made:
        give_permits(world.cast, project.student)
    return made


def make_tablet(visitor: Visitor, cast: Cast) -> None:
    visitor.come_in("marit.quay")
    visitor.go(f"/courses/{cast.course.pk}/bench/")
    visitor.look("class-bench")
    visitor.page.get_by_role("button", name="Make this device a bench tablet").click()
    visitor.page.get_by_role("button", name="Make it a bench tablet").click()
    expect(visitor.page.get_by_role("heading", name="Who are you?")).to_be_visible()


def test_two_students_sign_one_after_the_other(
    visitor: Visitor, cast: Cast, pair: list[Project]
) -> None:
    page = visitor.page
    make_tablet(visitor, cast)
    visitor.look("tablet-names")
    no_barriers(visitor)
    for name in ("Wren T", "Odd F"):
        for button, said in (("Start this step", "is started"), ("I sign this step", "is signed")):
            page.get_by_role("link", name=re.compile(name)).click()
            expect(page.get_by_role("heading", name=name)).to_be_visible()
            visitor.look(f"tablet-step-{button[0]}")
            no_barriers(visitor)
            page.get_by_label("Your passphrase").fill(PASSPHRASE)
            page.get_by_role("button", name=button).click()
            expect(page.get_by_role("heading", name="Who are you?")).to_be_visible()
            expect(page.get_by_role("status")).to_contain_text(f"“Prepare the metal” {said}")
    visitor.look("tablet-signed")
    assert SignOff.objects.filter(kind="done").count() == 2
    page.goto(f"{visitor.base}/projects/{pair[0].pk}/bench/")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def test_a_wrong_passphrase_is_said_and_the_right_one_goes_on(
    visitor: Visitor, cast: Cast, pair: list[Project]
) -> None:
    page = visitor.page
    make_tablet(visitor, cast)
    page.get_by_role("link", name=re.compile("Wren T")).click()
    page.get_by_label("Your passphrase").fill("wrong-words-10")
    page.get_by_role("button", name="Start this step").click()
    expect(page.get_by_role("status")).to_contain_text("does not go with this name")
    expect(page.get_by_label("Your passphrase")).to_be_empty()
    visitor.look("tablet-wrong")
    page.get_by_label("Your passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Start this step").click()
    expect(page.get_by_role("heading", name="Who are you?")).to_be_visible()


def test_an_answer_lost_on_the_way_is_asked_for_again_and_counts_once(
    visitor: Visitor, cast: Cast, pair: list[Project]
) -> None:
    page = visitor.page
    make_tablet(visitor, cast)
    page.get_by_role("link", name=re.compile("Wren T")).click()
    lost: list[str] = []

    def lose(route: Route) -> None:
        """First the request is lost on the way there, then the answer on the way back."""
        if len(lost) == 1:
            route.fetch()
        if len(lost) < 2:
            lost.append(route.request.post_data or "")
            route.abort("internetdisconnected")
        else:
            route.continue_()

    page.route("**/sign/", lose)
    page.get_by_label("Your passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Start this step").dblclick()
    expect(page.get_by_text("No answer from the network")).to_be_visible()
    visitor.look("tablet-no-network")
    expect(page.get_by_role("heading", name="Who are you?")).to_be_visible()
    assert TabletDeed.objects.count() == 1
    assert SignOff.objects.filter(kind="started").count() == 1
    visitor.complaints[:] = [one for one in visitor.complaints if "ERR_INTERNET" not in one]


def test_it_works_without_scripts(visitor: Visitor, cast: Cast, pair: list[Project]) -> None:
    make_tablet(visitor, cast)
    plain = visitor.page.context.browser.new_context(  # type: ignore[union-attr]
        java_script_enabled=False, storage_state=visitor.page.context.storage_state()
    )
    page = plain.new_page()
    page.goto(f"{visitor.base}/tablet/")
    page.get_by_role("link", name=re.compile("Wren T")).click()
    page.get_by_label("Your passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Start this step").click()
    expect(page.get_by_role("status")).to_contain_text("is started")
    plain.close()


def leave_alone(page: Page) -> None:
    """Until the page warns; a scroll that is still under way when it begins counts as a touch."""
    warning = page.get_by_text("Going back to the names")
    for _ in range(24):
        page.clock.run_for(10_000)
        if warning.is_visible():
            return
    raise AssertionError("the page never warned")


def test_a_page_left_alone_warns_and_goes_back_to_the_names(
    visitor: Visitor, cast: Cast, pair: list[Project]
) -> None:
    page = visitor.page
    make_tablet(visitor, cast)
    page.clock.install()
    page.get_by_role("link", name=re.compile("Wren T")).click()
    page.get_by_label("Your passphrase").fill("half a pass")
    leave_alone(page)
    page.keyboard.press("Shift")  # somebody is there after all
    expect(page.get_by_text("Going back to the names")).to_have_count(0)
    leave_alone(page)
    page.clock.run_for(25_000)
    expect(page.get_by_role("heading", name="Who are you?")).to_be_visible()
