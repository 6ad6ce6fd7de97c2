"""Somebody at the layout table: pieces pulled about in a browser, and what the server knows."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect
from shapely.geometry import Polygon, box

from studio.models import Layout
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.layouts.making import begun

OFFCUT = Polygon([(0, 0), (96, 0), (96, 40), (84, 58), (0, 58)])
SIX = (
    box(0, 0, 40, 18),
    box(0, 0, 40, 18),
    box(0, 0, 26, 16),
    Polygon([(0, 0), (22, 0), (22, 8), (12, 18), (0, 18)]),
    Polygon([(0, 0), (24, 0), (0, 18)]),
    box(0, 0, 12, 10),
)
"""Two bars, a plate, a plate with a corner off, a sail and a tag; the offcut has room for all."""

DESK = pytest.mark.parametrize("visitor", ["desk"], indirect=True)
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
}

ON_SCREEN = """([x, y]) => {
  const drawing = document.querySelector("[data-drawing]");
  const metal = document.querySelector("[data-stock]");
  const place = new DOMPoint(x, -y).matrixTransform(metal.getScreenCTM());
  return [place.x, place.y];
}"""


def table(visitor: Visitor, cast: Cast, *outlines: Polygon, **more: Any) -> Layout:
    """The owner's layout, opened on their screen; every piece is in the tray."""
    one = begun(cast, *(outlines or SIX), metal=more.pop("metal", OFFCUT), **more)
    visitor.come_in("wren.t")
    visitor.go(reverse("layout", args=[one.pk]))
    expect(visitor.page.locator("[data-laying].has-script")).to_be_visible()
    return one


SHOWN = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"


def heard(page: Page, version: int) -> None:
    """The server has heard everything, and the layout is at this version."""
    laying = page.locator("[data-laying]")
    expect(laying).to_have_attribute("data-version", str(version))
    expect(laying).to_have_attribute("data-busy", "false")


def spot(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a place of the first stock piece (millimetres, y upwards) lies on the screen."""
    across, down = page.evaluate(ON_SCREEN, [x, y])
    return across, down


def middle(part: Locator) -> tuple[float, float]:
    part.page.evaluate(SHOWN)  # what stands beside the picture is made anew a frame later
    part.scroll_into_view_if_needed()
    found = part.bounding_box()
    assert found
    return found["x"] + found["width"] / 2, found["y"] + found["height"] / 2


def in_tray(page: Page, label: str) -> Locator:
    return page.locator("[data-tray]").filter(has_text=label)


def pull(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    """By mouse, in a few steps."""
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move((start[0] + end[0]) / 2, (start[1] + end[1]) / 2, steps=2)
    page.mouse.move(*end, steps=3)
    page.mouse.up()


def fresh(layout: Layout) -> Layout:
    return Layout.objects.get(pk=layout.pk)


def faults(page: Page) -> int:
    return page.locator("[data-fault]").count()
