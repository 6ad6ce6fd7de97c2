"""A neater drawing: one tap mends, another puts back; by mouse, keyboard and without scripts."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.cache import cache
from django.urls import reverse
from playwright.sync_api import Browser, expect

from tests.browser.conftest import Visitor
from tests.core.mending.paper import hand_drawn
from tests.people import Cast
from tests.studio.patterns.making import bring, make_project

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_sides_are_straightened_by_a_tap_and_put_back(visitor: Visitor, cast: Cast) -> None:
    cache.clear()
    pattern = bring(make_project(cast), hand_drawn(), filename="tag.png", dpi=300)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern", args=[pattern.pk]))
    section = page.locator("#neater")
    section.scroll_into_view_if_needed()
    visitor.look("neater-drawing")
    section.get_by_role("button", name="Straighten the 4 sides").click()
    expect(section.get_by_text("sides straightened")).to_be_visible()
    pattern.refresh_from_db()
    assert [entry["why"] for entry in pattern.changes] == ["mend-straight"]

    circle = section.get_by_role("button", name="Make it a circle")
    circle.focus()
    page.keyboard.press("Enter")
    expect(section.get_by_text("made a circle")).to_be_visible()
    visitor.look("neater-drawing-done")
    section.get_by_role("button", name="Undo").click()
    expect(section.get_by_role("button", name="Make it a circle")).to_be_visible()
    pattern.refresh_from_db()
    assert [entry["why"] for entry in pattern.changes] == ["mend-straight"]


def test_a_mend_needs_no_script_and_fits_a_telephone(
    chromium: Browser, live_server: Any, cast: Cast
) -> None:
    cache.clear()
    pattern = bring(make_project(cast), hand_drawn(), filename="tag.png", dpi=300)
    context = chromium.new_context(
        java_script_enabled=False, viewport={"width": 360, "height": 740}, has_touch=True
    )
    visitor = Visitor(context, live_server.url, "telephone")
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern", args=[pattern.pk]))
    page.get_by_role("button", name="Straighten the 4 sides").tap()
    expect(page.locator("#neater").get_by_text("sides straightened")).to_be_visible()
    pattern.refresh_from_db()
    assert len(pattern.changes) == 1
    context.close()
