"""Correcting lines: by mouse, by keyboard, by finger on a phone, and with scripts switched off."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from studio.models import Pattern
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.patterns.making import bring, make_project, svg

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

GAPPED = svg(
    '<path d="M5 5H45V25H5Z"/><path d="M10.6 10H20V20H10V10.4"/><circle cx="33" cy="15" r="0.5"/>'
)
"""A bar, a window whose line does not quite close (line 2), and a small hole (line 3)."""

PLACE = """([x, y]) => {
  const drawing = document.querySelector("[data-drawing]");
  const place = new DOMPoint(x, -y).matrixTransform(drawing.getScreenCTM());
  return [place.x, place.y];
}"""


def spot(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a place of the drawing (millimetres, y upwards) lies on the screen."""
    page.locator("[data-drawing]").scroll_into_view_if_needed()
    across, down = page.evaluate(PLACE, [x, y])
    return across, down


def corner(pattern: Pattern, line: int, index: int) -> tuple[float, float]:
    pattern.refresh_from_db()
    return pattern.traced.lines[line].points[index]


def checked(page: Page, count: int, pattern: Pattern) -> None:
    """The server has heard everything: it knows so many changes."""
    expect(page.locator("[data-correcting]")).to_have_attribute("data-count", str(count))
    expect(page.locator("[data-say]")).to_contain_text("Checked again")
    pattern.refresh_from_db()
    assert len(pattern.changes) == count


def test_a_line_is_corrected_by_mouse_and_by_keyboard(visitor: Visitor, cast: Cast) -> None:
    pattern = bring(make_project(cast), GAPPED)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern", args=[pattern.pk]))
    page.get_by_role("link", name="Correct the lines").first.click()
    page.wait_for_url("**/correct/")
    drawing = page.locator("[data-drawing]")

    left, low = corner(pattern, 0, 0)
    page.mouse.click(*spot(page, left + 12, low))
    expect(page.get_by_role("heading", name="Line 1")).to_be_visible()
    page.mouse.move(*spot(page, left, low))
    page.mouse.down()
    page.mouse.move(*spot(page, left - 1, low - 1), steps=4)
    page.mouse.move(*spot(page, left - 3, low - 2), steps=4)
    page.mouse.up()
    checked(page, 1, pattern)
    assert corner(pattern, 0, 0) == pytest.approx((left - 3, low - 2), abs=0.3)
    visitor.look("correcting")

    dragged = corner(pattern, 0, 0)
    drawing.focus()
    page.keyboard.press("Escape")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    checked(page, 2, pattern)
    assert corner(pattern, 0, 0) == pytest.approx((dragged[0] + 0.1, dragged[1] + 1.0))

    page.keyboard.press("Control+z")
    checked(page, 1, pattern)
    page.get_by_role("button", name="Do again").click()
    checked(page, 2, pattern)
    assert corner(pattern, 0, 0) == pytest.approx((dragged[0] + 0.1, dragged[1] + 1.0))

    page.locator("#id-x").fill("2")
    page.locator("#id-y").fill("3,5")
    page.get_by_role("button", name="Move it there").click()
    checked(page, 3, pattern)
    assert corner(pattern, 0, 0) == (2.0, 3.5)


def test_a_gap_is_closed_and_opened_again(visitor: Visitor, cast: Cast) -> None:
    pattern = bring(make_project(cast), GAPPED)
    assert pattern.drawing.window_count == 0
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_correct", args=[pattern.pk]))
    page.get_by_role("button", name="Close 0.72 mm in line 2").click()
    checked(page, 1, pattern)
    assert pattern.drawing.window_count == 1
    expect(page.get_by_role("heading", name="Gaps")).to_be_hidden()
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.get_by_role("heading", name="Gaps")).to_be_visible()
    checked(page, 0, pattern)
    assert pattern.drawing.window_count == 0


def test_a_hole_is_drilled_by_its_number_and_a_new_one_put(visitor: Visitor, cast: Cast) -> None:
    pattern = bring(make_project(cast), GAPPED)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_correct", args=[pattern.pk]) + "?line=3")
    page.get_by_label("Drill", exact=True).first.select_option(label="#52 (1.61 mm)")
    page.get_by_role("button", name="Set", exact=True).click()
    checked(page, 1, pattern)
    (mark,) = pattern.drawing.pieces[0].drill_marks
    assert mark.diameter_mm == pytest.approx(1.6129)
    page.get_by_role("button", name="New drill mark").click()
    page.mouse.click(*spot(page, 40, 30))
    expect(page.get_by_role("heading", name="Line 4")).to_be_visible()
    checked(page, 2, pattern)
    assert len(pattern.drawing.pieces[0].drill_marks) == 2


def test_what_the_server_refuses_goes_back_and_is_said_in_words(
    visitor: Visitor, cast: Cast
) -> None:
    pattern = bring(make_project(cast), GAPPED)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_correct", args=[pattern.pk]) + "?line=3")
    page.get_by_label("or across (mm)").fill("0.01")
    page.get_by_role("button", name="Set", exact=True).click()
    expect(page.locator("[data-refusal]")).to_contain_text("between 0.2 and")
    expect(page.locator("[data-now-across]")).to_contain_text("1.00 mm")
    pattern.refresh_from_db()
    assert pattern.changes == []


def test_two_windows_do_not_overwrite_each_other(visitor: Visitor, cast: Cast) -> None:
    pattern = bring(make_project(cast), GAPPED)
    page = visitor.come_in("wren.t")
    address = reverse("pattern_correct", args=[pattern.pk])
    visitor.go(address)
    other = page.context.new_page()
    other.goto(visitor.base + address)
    other.get_by_role("button", name="Close 0.72 mm in line 2").click()
    expect(other.locator("[data-say]")).to_contain_text("Checked again")
    page.get_by_role("button", name="Close 0.72 mm in line 2").click()
    expect(page.locator("[data-refusal]")).to_contain_text("changed meanwhile")
    expect(page.get_by_role("heading", name="Gaps")).to_be_hidden()
    pattern.refresh_from_db()
    assert len(pattern.changes) == 1


def test_a_point_is_pulled_by_a_finger_on_a_phone(
    chromium: Browser, live_server: Any, cast: Cast
) -> None:
    pattern = bring(make_project(cast), GAPPED)
    context = chromium.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    visitor = Visitor(context, live_server.url, "touch")
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_correct", args=[pattern.pk]))
    right, high = corner(pattern, 0, 2)
    page.touchscreen.tap(*spot(page, right - 12, high))
    expect(page.get_by_role("heading", name="Line 1")).to_be_visible()
    finger = context.new_cdp_session(page)

    def touch(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y} for x, y in places]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    start, end = spot(page, right, high), spot(page, right - 4, high - 3)
    touch("touchStart", (start[0] + 8, start[1] + 8))
    for step in range(1, 6):
        way = [a + (b - a) * step / 5 + 8 for a, b in zip(start, end, strict=True)]
        touch("touchMove", (way[0], way[1]))
    expect(page.locator("[data-glass]")).to_be_visible()
    visitor.look("correcting-glass")
    touch("touchEnd")
    checked(page, 1, pattern)
    assert corner(pattern, 0, 2) == pytest.approx((right - 4, high - 3), abs=0.3)
    expect(page.locator("[data-glass]")).to_be_hidden()

    # Two fingers come nearer.
    before = page.evaluate("document.querySelector('[data-drawing]').viewBox.baseVal.width")
    x, y = spot(page, right - 20, high - 10)
    touch("touchStart", (x - 20, y), (x + 20, y))
    touch("touchMove", (x - 40, y), (x + 40, y))
    touch("touchMove", (x - 60, y), (x + 60, y))
    touch("touchEnd")
    after = page.evaluate("document.querySelector('[data-drawing]').viewBox.baseVal.width")
    assert after < before / 1.5
    visitor.look("correcting-near")
    assert visitor.complaints == []
    context.close()


def test_lines_are_corrected_without_any_script(
    chromium: Browser, live_server: Any, cast: Cast
) -> None:
    pattern = bring(make_project(cast), GAPPED)
    context = chromium.new_context(java_script_enabled=False)
    visitor = Visitor(context, live_server.url, "desk")
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_correct", args=[pattern.pk]))
    page.get_by_role("button", name="Close 0.72 mm in line 2").click()
    expect(page.get_by_text("Checked again: ")).to_be_visible()
    visitor.go(reverse("pattern_correct", args=[pattern.pk]) + "?line=3")
    page.get_by_label("or across (mm)").fill("2")
    page.get_by_role("button", name="Set", exact=True).click()
    page.get_by_role("button", name="drill mark for a ring").click()
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.get_by_text("Checked again: ")).to_be_visible()
    visitor.look("correcting-no-script")
    pattern.refresh_from_db()
    assert len(pattern.changes) == 2
    assert pattern.relabels == {}
    assert pattern.drawing.window_count == 1
    context.close()


def test_what_was_undone_is_done_again_after_the_page_was_loaded_anew(
    visitor: Visitor, cast: Cast
) -> None:
    pattern = bring(make_project(cast), GAPPED)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_correct", args=[pattern.pk]))
    page.get_by_role("button", name="Close ").click()
    checked(page, 1, pattern)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("[data-correcting]")).to_have_attribute("data-count", "0")
    page.reload()
    page.get_by_role("button", name="Do again").click()
    checked(page, 1, pattern)
    page.reload()
    expect(page.get_by_role("button", name="Do again")).to_be_hidden()
