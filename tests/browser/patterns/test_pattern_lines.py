"""Naming a line of a pattern: by tap, by keyboard, and with scripts switched off."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, expect

from studio.models import Pattern
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.patterns.making import RINGED, bring, make_project

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ON_THE_LINE = """id => {
  const path = document.querySelector(`.pick[data-line="${id}"] .pick-hit`);
  path.scrollIntoView({block: "center"});
  const at = path.getPointAtLength(path.getTotalLength() * 0.3);
  const on = at.matrixTransform(path.getScreenCTM());
  return [on.x, on.y];
}"""


def test_a_line_is_named_by_keyboard_and_by_tap(visitor: Visitor, cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern", args=[pattern.pk]))
    panel = page.locator("[data-line-panel]")
    expect(panel).to_be_hidden()

    page.locator('.pick[data-line="2"]').focus()
    page.keyboard.press("Enter")
    expect(panel.get_by_role("heading", name="Line 2")).to_be_visible()
    expect(panel).to_be_focused()
    assert "?line" not in page.url
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
    expect(page.locator('.pick[data-line="2"]')).to_be_focused()

    page.mouse.click(*page.evaluate(ON_THE_LINE, "2"))
    expect(panel.get_by_role("heading", name="Line 2")).to_be_visible()
    visitor.look("line-panel")
    panel.get_by_role("button", name="window (pierced out)").click()
    expect(page.get_by_text("Checked again: no stops")).to_be_visible()
    pattern.refresh_from_db()
    assert pattern.relabels == {"2": "window"}

    page.get_by_role("button", name="Undo all names").click()
    expect(page.get_by_text("as they were read")).to_be_visible()


def test_a_line_is_named_without_any_script(
    chromium: Browser, live_server: Any, cast: Cast
) -> None:
    pattern = bring(make_project(cast), RINGED)
    context = chromium.new_context(java_script_enabled=False)
    visitor = Visitor(context, live_server.url, "desk")
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern", args=[pattern.pk]) + "?line=2")
    page.get_by_role("button", name="window (pierced out)").click()
    expect(page.get_by_text("Checked again: no stops")).to_be_visible()
    assert Pattern.objects.get().relabels == {"2": "window"}
    context.close()
