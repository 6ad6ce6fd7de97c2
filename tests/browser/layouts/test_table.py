"""The layout table by mouse, finger and keys, with a network lost, and without a script."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, expect

from studio.models import Layout
from studio.steps.layouts.change import put
from tests.browser.barriers import no_barriers
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.layouts.making import begun, lay

from .laying import (
    DESK,
    OFFCUT,
    PHONE,
    SIX,
    faults,
    fresh,
    heard,
    in_tray,
    middle,
    pull,
    spot,
    table,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MOST_PULLS = 20

PLACES = {
    "A1": (20.5, 9.5),
    "A2": (20.5, 28.2),
    "A3": (54.4, 8.6),
    "A4": (12, 47.5),
    "A5": (81, 9.6),
    "A6": (48.2, 24),
}
"""About where a person lets go of each piece's middle, a little beside the place that is meant."""


@DESK
def test_six_pieces_are_pulled_onto_an_offcut(visitor: Visitor, cast: Cast) -> None:
    one = table(visitor, cast)
    page = visitor.page
    pulls = 0
    for label, place in PLACES.items():
        pull(page, middle(in_tray(page, label)), spot(page, *place))
        pulls += 1
        heard(page, pulls)
    assert pulls <= MOST_PULLS
    assert faults(page) == 0
    expect(page.locator("[data-tray]")).to_have_count(0)
    laid = {p["piece"].rpartition("/")[2]: p for p in fresh(one).placements}
    assert len(laid) == len(SIX)
    assert (laid["1"]["x_mm"], laid["1"]["y_mm"]) == pytest.approx((0, 0), abs=0.01)
    expect(page.locator("[data-figure=shared] .laying-value")).not_to_have_text("0.0 mm")
    expect(page.locator("[data-say]")).to_contain_text("A6 laid")
    no_barriers(visitor)
    visitor.look("layout-table")

    # Held off, it stays where it is let go, and the fault is shown where it is.
    page.keyboard.down("Alt")
    pull(page, spot(page, *PLACES["A3"]), spot(page, 45, 14))
    page.keyboard.up("Alt")
    heard(page, pulls + 1)
    expect(page.locator("[data-faults] .laying-fault").first).to_be_attached()
    expect(page.locator("[data-fault]").first).to_contain_text("A3")
    page.get_by_role("button", name="Undo").click()
    heard(page, pulls + 2)
    assert faults(page) == 0
    # Back to the tray by hand.
    pull(page, spot(page, *PLACES["A6"]), middle(page.locator("[data-tray-box]")))
    expect(in_tray(page, "A6")).to_be_visible()
    heard(page, pulls + 3)
    assert len(fresh(one).placements) == len(SIX) - 1


def test_a_piece_is_moved_and_turned_by_fingers(
    chromium: Browser, live_server: Any, cast: Cast
) -> None:
    context = chromium.new_context(**PHONE)
    visitor = Visitor(context, live_server.url, "touch")
    one = table(visitor, cast)
    page = visitor.page
    put(fresh(one), [lay(one, 0, 20, 20)], acting=cast.owner)
    page.reload()
    page.locator("[data-frame]").scroll_into_view_if_needed()
    finger = context.new_cdp_session(page)

    def touch(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, y = spot(page, 40, 29)
    touch("touchStart", (x, y))
    touch("touchMove", (x + 10, y))
    touch("touchMove", (x + 30, y - 10))
    touch("touchStart", (x + 30, y - 10), (x + 110, y - 10))
    for far in (20, 40, 60, 80):
        touch("touchMove", (x + 30, y - 10), (x + 110 - far, y - 10 - far))
    touch("touchEnd", (x + 30, y - 10))
    touch("touchEnd")
    heard(page, 2)
    (place,) = fresh(one).placements
    assert place["turn_deg"] == pytest.approx(90)
    assert page.evaluate("document.querySelector('.is-near')") is None  # it came no nearer
    # From the tray, upwards into the picture.
    x, y = middle(in_tray(page, "A6"))
    end = spot(page, 80, 20)
    touch("touchStart", (x, y))
    touch("touchMove", (x, y - 30))
    touch("touchMove", end)
    touch("touchEnd")
    heard(page, 3)
    assert len(fresh(one).placements) == 2
    visitor.look("layout-touch")
    assert visitor.complaints == []
    context.close()


@DESK
def test_everything_is_done_by_keys(visitor: Visitor, cast: Cast) -> None:
    one = table(visitor, cast)
    page = visitor.page
    page.locator("[data-drawing]").focus()
    for version in range(1, len(SIX) + 1):
        page.keyboard.press("n")
        page.keyboard.press("l")
        heard(page, version)
    assert faults(page) == 0
    before = fresh(one).placements[-1]
    for key in ("ArrowRight", "Shift+ArrowUp", "Control+ArrowRight", "q"):
        page.keyboard.press(key)
    heard(page, 7)  # at rest, one change for all
    after = fresh(one).placements[-1]
    assert after["turn_deg"] == pytest.approx((before["turn_deg"] - 90) % 360)
    page.keyboard.press("u")
    heard(page, 8)
    assert fresh(one).placements[-1] == before
    page.keyboard.press("s")
    heard(page, 9)
    assert fresh(one).pinned == [[before["piece"], 0]]
    page.keyboard.press("t")  # it stays
    page.keyboard.press("p")
    page.keyboard.press("t")
    heard(page, 10)
    expect(page.locator("[data-say]")).to_contain_text("A5 is back in the tray.")
    page.locator("[data-places] summary").click()
    page.get_by_label("Lay it", exact=True).select_option(index=1)
    page.locator("[data-places] button").click()
    heard(page, 11)
    assert len(fresh(one).placements) == len(SIX)
    page.get_by_label("Across (mm)").fill("1")
    page.get_by_label("Turn (°)").fill("12.5")
    page.get_by_role("button", name="Lay it at these numbers").click()
    heard(page, 12)
    assert fresh(one).placements[-1]["turn_deg"] == pytest.approx(12.5)


@DESK
def test_what_was_done_without_a_network_is_sent_after_loading_anew(
    visitor: Visitor, cast: Cast
) -> None:
    one = table(visitor, cast)
    page = visitor.page
    page.route("**/change/", lambda route: route.abort())
    pull(page, middle(in_tray(page, "A1")), spot(page, *PLACES["A1"]))
    expect(page.locator("[data-refusal]")).to_contain_text("kept here")
    assert fresh(one).placements == []
    page.unroute("**/change/")
    page.reload()
    heard(page, 1)
    assert len(fresh(one).placements) == 1
    visitor.complaints.clear()  # of the network that was away

    # Another window has moved a piece meanwhile: this one is told, and shows it.
    put(fresh(one), [lay(one, 2, 60, 2)], acting=cast.owner)
    pull(page, middle(in_tray(page, "A6")), spot(page, *PLACES["A6"]))
    expect(page.locator("[data-refusal]")).to_contain_text("changed meanwhile")
    expect(page.locator("[data-piece]")).to_have_count(2)
    put(fresh(one), [lay(one, 1, 2, 30)], acting=cast.owner)
    page.evaluate("dispatchEvent(new Event('focus'))")
    expect(page.locator("[data-piece]")).to_have_count(3)
    heard(page, 3)


def test_pieces_are_laid_without_a_script(chromium: Browser, live_server: Any, cast: Cast) -> None:
    one: Layout = begun(cast, *SIX, metal=OFFCUT)
    context = chromium.new_context(java_script_enabled=False, viewport=PHONE["viewport"])
    visitor = Visitor(context, live_server.url, "plain")
    page = visitor.come_in("wren.t")
    visitor.go(reverse("layout", args=[one.pk]))
    page.get_by_role("button", name="Lay it there").click()
    expect(page.locator("[data-piece]")).to_have_count(1)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("[data-piece]")).to_have_count(0)
    visitor.look("layout-plain")
    assert visitor.complaints == []
    context.close()
