"""A real Chromium, at desk and at phone width, against the running app."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect, sync_playwright

from tests.people import PASSPHRASE

from .sessions import session_of

# Playwright's fixtures keep an event loop in the thread in which Django's ORM is called.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or ""
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PATIENCE_MS = 120_000
"""How long a page or a part of it may take on a busy machine; a quiet one is never kept waiting."""
WIDTHS = {"desk": (1280, 900), "phone": (360, 740)}
SHOTS = os.environ.get("BENCHLEDGER_SHOTS", "")
"""A folder for a picture of every page that the walks come to, for looking at."""


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    if not CHROMIUM:
        pytest.skip("Chromium is not installed here.")
    expect.set_options(timeout=PATIENCE_MS)
    with _driver() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield running
        running.close()


@contextmanager
def _driver() -> Iterator[Playwright]:
    """Playwright's driver; a machine that lacks one of its libraries (libatomic1) is told so."""
    starting = sync_playwright()
    try:
        playwright = starting.start()
    except Exception as error:
        pytest.skip(f"The browser's driver does not start here: {error}")
    try:
        yield playwright
    finally:
        playwright.stop()


class Visitor:
    """Somebody at a screen: signs in, goes about, and complains about what a browser hides."""

    def __init__(self, context: BrowserContext, base: str, where: str) -> None:
        self.page: Page = context.new_page()
        self.base = base
        self.where = where
        self.complaints: list[str] = []
        self.page.on("console", self._hear)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _hear(self, message: Any) -> None:
        if message.type in {"error", "warning"} and "the server responded" not in message.text:
            self.complaints.append(message.text)

    def go(self, path: str) -> Page:
        self.page.goto(self.base + path)
        return self.page

    def sign_in(self, username: str) -> Page:
        self.go("/sign-in/")
        self.page.get_by_label("User name").fill(username)
        self.page.get_by_label("Passphrase").fill(PASSPHRASE)
        self.page.get_by_role("button", name="Sign in").click()
        return self.page

    def come_in(self, username: str) -> Page:
        """Signed in already: for walks that are not about the door."""
        self.page.context.add_cookies([session_of(username, self.base)])
        return self.page

    def look(self, name: str) -> None:
        """Nothing sticks out sideways; keep a picture when somebody wants to look."""
        self.page.wait_for_load_state()  # a click may have left it between two pages
        wide = self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 1, f"{name}: the page is {wide} px wider than the {self.where}"
        if SHOTS:
            Path(SHOTS).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=f"{SHOTS}/{name}-{self.where}.png", full_page=True)


@pytest.fixture(params=list(WIDTHS))
def visitor(request: Any, chromium: Browser, live_server: Any) -> Iterator[Visitor]:
    width, height = WIDTHS[request.param]
    context = chromium.new_context(
        viewport={"width": width, "height": height}, accept_downloads=True
    )
    context.set_default_timeout(PATIENCE_MS)
    somebody = Visitor(context, live_server.url, request.param)
    yield somebody
    complaints = somebody.complaints
    context.close()
    assert complaints == [], "the browser complained"
