"""What a fresh browser asks for, with static files collected as an installation has them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.handlers.wsgi import WSGIHandler
from django.test.testcases import LiveServerThread
from django.urls import reverse
from playwright.sync_api import Browser, Page, Request, expect

from tests.house.collecting import collected_into
from tests.people import Cast
from tests.studio.building.making import DISC, build
from tests.studio.layouts.making import begun
from tests.studio.patterns.making import make_project

from .sessions import session_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST = {"sign-in": 6, "first page": 6, "project": 7, "building": 7, "correcting": 8, "layout": 7}
"""The page, its sheet, htmx, the house's script, the house's mark twice (page and tab), and where
the page has them a script of its own and a picture (of an empty shelf, of the paper)."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with collected_into(tmp_path_factory.mktemp("collected")):
        yield


@pytest.fixture
def address(folder: None, transactional_db: None) -> Iterator[str]:
    """The app as `serve` has it: its own middleware gives out the collected files."""

    def no_other(handler: WSGIHandler) -> WSGIHandler:
        return handler

    server = LiveServerThread("127.0.0.1", no_other)
    server.daemon = True
    server.start()
    server.is_ready.wait()
    assert server.error is None
    yield f"http://127.0.0.1:{server.port}"
    server.terminate()


Ask = Callable[[str, str], tuple[Page, list[str]]]


@pytest.fixture
def ask(chromium: Browser, address: str) -> Iterator[Ask]:
    """Open a page in a browser that has nothing yet but, perhaps, somebody's session."""
    open_ones: list[Any] = []
    complaints: list[str] = []

    def opened(path: str, username: str = "") -> tuple[Page, list[str]]:
        context = chromium.new_context()
        if username:
            context.add_cookies([session_of(username, address)])
        open_ones.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        asked: list[str] = []

        def note(request: Request) -> None:
            if not request.url.startswith("data:"):
                asked.append(request.url)

        page.on("request", note)
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        return page, asked

    yield opened
    for context in open_ones:
        context.close()
    assert complaints == [], "the browser complained"


def test_a_fresh_browser_asks_for_little(cast: Cast, ask: Ask) -> None:
    project = make_project(cast)
    for name, path, who in (
        ("sign-in", reverse("sign_in"), ""),
        ("first page", reverse("first_page"), "marit.quay"),
        ("project", reverse("project", args=[project.pk]), "wren.t"),
    ):
        _, asked = ask(path, who)
        assert len(asked) <= MOST[name], (name, asked)


def test_the_building_page_runs_its_joined_script(cast: Cast, ask: Ask) -> None:
    project = make_project(cast)
    page, asked = ask(reverse("pattern_build", args=[project.pk]), "wren.t")
    assert len(asked) <= MOST["building"], asked
    page.get_by_role("button", name="Disc", exact=True).click()
    expect(page.locator("[data-say]")).to_contain_text("Kept.")


def test_the_correcting_page_runs_its_joined_script(cast: Cast, ask: Ask) -> None:
    pattern = build(make_project(cast), DISC)
    page, asked = ask(reverse("pattern_correct", args=[pattern.pk]), "wren.t")
    assert len(asked) <= MOST["correcting"], asked
    expect(page.locator("[data-correcting]")).to_have_class("correcting has-script")


def test_the_layout_table_runs_its_joined_script(cast: Cast, ask: Ask) -> None:
    page, asked = ask(reverse("layout", args=[begun(cast).pk]), "wren.t")
    assert len(asked) <= MOST["layout"], asked
    expect(page.locator("[data-laying]")).to_have_class("laying has-script")
    expect(page.locator("[data-tray]")).to_have_count(2)
