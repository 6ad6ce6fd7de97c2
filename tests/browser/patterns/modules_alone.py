"""A page that holds nothing but what a test puts there, beside the script modules of ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from playwright.sync_api import Browser, Page, Route

PLACE = "http://modules.test/"


@contextmanager
def page_beside_modules(chromium: Browser, body: str = "", **context: Any) -> Iterator[Page]:
    """There `import("./correcting/lines.js")` gives the module; no server is asked."""

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(PLACE)
        if name:
            route.fulfill(path=settings.BASE_DIR / "static" / "js" / name)
        else:
            page = f"<!doctype html><title>Modules</title>{body}"
            route.fulfill(body=page, content_type="text/html; charset=utf-8")

    opened = chromium.new_context(**context)
    try:
        page = opened.new_page()
        page.route(f"{PLACE}**", answer)
        page.goto(PLACE)
        yield page
    finally:
        opened.close()
