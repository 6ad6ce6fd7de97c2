"""A pattern from nothing: by mouse, by finger at phone width, by keyboard, and by numbers."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from studio.models import Project
from studio.steps.patterns.build import opened
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.building.making import DISC, build
from tests.studio.patterns.making import make_project

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

STAR = {"kind": "star", "role": "window", "diameter": 12, "round_out": 0.5}

MIDDLE = """id => {
  const shape = document.getElementById(id);
  shape.scrollIntoView({block: "center"});
  const box = (shape.querySelector(".grip-own, .handle-seen") ?? shape).getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2];
}"""
LEFT_LEFT_FAR_LEFT = """() => {
  for (const shiftKey of [false, false, true]) {
    const pressed = new KeyboardEvent("keydown", {key: "ArrowLeft", shiftKey, bubbles: true});
    document.activeElement.dispatchEvent(pressed);
  }
}"""  # in one go: on a busy machine single presses may come too slowly to be added up
PX_PER_MM = "() => document.querySelector('[data-paper]').getScreenCTM().a"


def step(project: Project, number: str) -> dict[str, Any]:
    found = opened(project).draft.recipe.step(number)
    return {} if found is None else {**found.values}


def kept(page: Page) -> None:
    expect(page.locator("[data-say]")).to_contain_text("Kept.")
    page.locator("[data-say]").evaluate("say => { say.textContent = ''; }")


def test_a_pendant_is_built_by_hand_and_used(visitor: Visitor, cast: Cast) -> None:
    project = make_project(cast)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("project", args=[project.pk]))
    page.get_by_role("link", name="Build one from shapes").click()
    page.wait_for_url("**/build/")  # until its script has loaded; the page works without it too
    visitor.look("building-empty")
    page.get_by_role("button", name="Disc", exact=True).click()
    kept(page)
    page.get_by_role("button", name="Heart").click()
    kept(page)
    page.get_by_role("button", name="Drill mark").click()
    kept(page)
    expect(page.get_by_text("No finding under the brief’s limits")).to_be_visible()
    visitor.look("building")

    # By mouse: taken hold of, moved 10 mm to the right and 4 mm down, which is a stop.
    x, y = page.evaluate(MIDDLE, "grip-2")
    scale = page.evaluate(PX_PER_MM)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 10 * scale, y + 4 * scale, steps=6)
    expect(page.locator("[data-readout]")).to_contain_text("right 10 mm, up -4 mm")
    page.mouse.up()
    kept(page)
    assert (step(project, "2")["x"], step(project, "2")["y"]) == (10, -4)
    expect(page.get_by_role("link", name="1 stop")).to_be_visible()
    visitor.look("building-stop")

    # By keyboard: two short steps and a long one, sent together; then undone.
    page.locator("#grip-2").focus()
    page.evaluate(LEFT_LEFT_FAR_LEFT)
    kept(page)
    assert step(project, "2")["x"] == 4
    expect(page.locator("#grip-2")).to_be_focused()
    page.keyboard.press("Control+z")
    kept(page)
    assert step(project, "2")["x"] == 10
    page.keyboard.press("Control+Shift+z")
    kept(page)
    assert step(project, "2")["x"] == 4

    # By numbers: a change is kept when the field is left.
    page.locator("#row-2").click()
    width = page.get_by_label("Width", exact=True)
    width.fill("12 mm")
    width.press("Tab")
    kept(page)
    assert step(project, "2")["width"] == 12

    # Nothing is lost when the tab dies.
    page.reload()
    expect(page.locator(".recipe li")).to_have_count(3)
    page.get_by_role("button", name="Use this drawing").click()
    expect(page.get_by_role("heading", name="Pattern 1")).to_be_visible()


def test_size_and_turn_have_handles_for_pointer_and_keys(visitor: Visitor, cast: Cast) -> None:
    project = make_project(cast)
    build(project, DISC, STAR)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_build", args=[project.pk]) + "?item=2")
    x, y = page.evaluate(MIDDLE, "handle-size")
    aside = 4 * page.evaluate(PX_PER_MM)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + aside, y + aside, steps=5)  # the handle lies about 8 mm from the middle
    page.mouse.up()
    kept(page)
    assert 16 < step(project, "2")["diameter"] < 20
    page.locator("#handle-turn").focus()
    page.keyboard.press("Shift+ArrowUp")
    kept(page)
    assert step(project, "2")["turn"] == 15
    page.keyboard.press("ArrowDown")
    kept(page)
    assert step(project, "2")["turn"] == 14
    before = step(project, "2")["diameter"]
    page.locator("#handle-size").focus()
    page.keyboard.press("ArrowUp")
    kept(page)
    assert step(project, "2")["diameter"] == pytest.approx(before + 0.5, abs=0.01)
    page.locator("#grip-2").focus()
    page.keyboard.press("Delete")
    kept(page)
    assert step(project, "2") == {}


def test_a_finger_chooses_moves_and_scrolls(
    chromium: Browser, live_server: Any, cast: Cast
) -> None:
    """360 px wide, touch only: the first tap chooses, then the shape follows the finger."""
    project = make_project(cast)
    build(project, DISC, STAR)
    context = chromium.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    visitor = Visitor(context, live_server.url, "touch")
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_build", args=[project.pk]))
    x, y = page.evaluate(MIDDLE, "grip-2")
    page.touchscreen.tap(x, y)
    expect(page.get_by_role("heading", name="Star")).to_be_visible()
    x, y = page.evaluate(MIDDLE, "grip-2")
    scale = page.evaluate(PX_PER_MM)
    finger = context.new_cdp_session(page)

    def touch(kind: str, *at: float) -> None:
        points = [{"x": at[0], "y": at[1]}] if at else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", x, y)
    for part in (0.3, 0.6, 1.0):
        touch("touchMove", x + 4 * scale * part, y - 3 * scale * part)
    touch("touchEnd")
    kept(page)
    assert (step(project, "2")["x"], step(project, "2")["y"]) == (4, 3)
    visitor.look("building-touch")
    assert visitor.complaints == []
    context.close()


def test_the_second_window_learns_that_the_first_was_quicker(visitor: Visitor, cast: Cast) -> None:
    project = make_project(cast)
    build(project, DISC)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_build", args=[project.pk]))
    build(project, DISC, STAR)  # the other window
    page.get_by_role("button", name="Drill mark").click()
    expect(page.get_by_role("alert")).to_contain_text("changed in another window")
    expect(page.locator(".recipe li")).to_have_count(2)
    page.get_by_role("button", name="Drill mark").click()
    kept(page)
    expect(page.locator(".recipe li")).to_have_count(3)


def test_one_looks_closely_and_stays_there_while_shapes_change(
    visitor: Visitor, cast: Cast
) -> None:
    project = make_project(cast)
    build(project, DISC, {**STAR, "x": 4, "y": 3})
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_build", args=[project.pk]))
    paper = page.locator("[data-paper]")
    whole = page.evaluate(PX_PER_MM)
    page.locator("#row-2").click()
    nearer = page.get_by_role("button", name="Nearer")
    nearer.click()
    nearer.click()
    assert page.evaluate(PX_PER_MM) == pytest.approx(2.25 * whole, rel=0.01)

    # A change draws the picture anew, as near as before, and shows the shape that is chosen.
    page.locator("#grip-2").focus()
    page.keyboard.press("ArrowRight")
    kept(page)
    assert page.evaluate(PX_PER_MM) == pytest.approx(2.25 * whole, rel=0.01)
    assert step(project, "2")["x"] == pytest.approx(4.5)

    # Empty paper is pulled; the shapes stay where they are on it.
    paper.evaluate("drawing => drawing.scrollIntoView({block: 'center'})")
    box = paper.bounding_box()
    assert box is not None
    before = paper.get_attribute("viewBox")
    page.mouse.move(box["x"] + 15, box["y"] + 15)
    page.mouse.down()
    page.mouse.move(box["x"] + 60, box["y"] + 50, steps=4)
    page.mouse.up()
    assert paper.get_attribute("viewBox") != before
    page.get_by_role("button", name="Whole").click()
    assert page.evaluate(PX_PER_MM) == pytest.approx(whole, rel=0.01)
    expect(page.get_by_role("button", name="Whole")).to_be_disabled()
