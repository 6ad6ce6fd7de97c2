"""A machine that others use: Back shows nothing of who has signed out, and loses nothing before."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Error, Page

from tests.people import Cast

from .conftest import CHROMIUM, FLAGS, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def visitor(chromium: Browser, live_server: Any) -> Iterator[Visitor]:
    """Somebody with a browser as people have it: it keeps whole pages in memory for Back.

    A driven browser is told not to; from the session's own only the driver is used.
    """
    own = chromium.browser_type.launch(
        executable_path=CHROMIUM,
        args=list(FLAGS),
        ignore_default_args=["--disable-back-forward-cache"],
    )
    yield Visitor(own.new_context(viewport={"width": 1280, "height": 900}), live_server.url, "desk")
    own.close()


def back(page: Page) -> None:
    """Press Back. A page out of the memory tells the driver nothing, so the page is asked."""
    before = page.evaluate("location.href")
    page.evaluate("() => { setTimeout(() => history.back(), 0) }")
    until = time.monotonic() + 60
    while time.monotonic() < until:
        page.wait_for_timeout(100)
        try:
            href, state = page.evaluate("[location.href, document.readyState]")
        except Error:
            continue  # between two pages
        if href != before and state == "complete":
            return
    raise AssertionError("Back led nowhere.")


def test_back_after_signing_out_shows_nothing_of_the_person(visitor: Visitor, cast: Cast) -> None:
    page = visitor.sign_in("marit.quay")
    page.wait_for_url(visitor.base + "/")
    visitor.go(reverse("class_list", args=[cast.course.pk]))
    assert "Wren T" in page.content()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/")
    page.wait_for_load_state()
    back(page)
    assert "Wren T" not in page.evaluate("document.body.innerText")
    assert "/sign-in/?next=" in page.evaluate("location.href")


def test_back_while_signed_in_keeps_a_half_filled_form(visitor: Visitor, cast: Cast) -> None:
    page = visitor.sign_in("marit.quay")
    page.wait_for_url(visitor.base + "/")
    visitor.go(reverse("course_new"))
    page.locator("#id_title").fill("Metals 2")
    page.get_by_role("link", name="Benchledger").click()
    page.wait_for_url(visitor.base + "/")
    page.wait_for_load_state()
    back(page)
    assert page.evaluate("document.getElementById('id_title').value") == "Metals 2"
