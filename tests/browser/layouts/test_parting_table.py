"""A class plan's cuts on the layout table: by mouse, finger, keys and forms, on a desk and on a
phone."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, expect

from studio.models import Layout
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.layouts.parting.making import AS_LAID, parted_layout

from .laying import DESK, PHONE, heard, pull, spot

pytestmark = pytest.mark.django_db(transaction=True)


def opened(visitor: Visitor, cast: Cast, **more: Any) -> Layout:
    one = parted_layout(cast, **more)
    visitor.come_in("marit.quay")
    visitor.go(reverse("layout", args=[one.pk]))
    expect(visitor.page.locator("[data-laying].has-script")).to_be_visible()
    return one


def cuts(one: Layout) -> list[dict[str, Any]]:
    return Layout.objects.get(pk=one.pk).cuts


def spots(one: Layout) -> dict[str, float]:
    return {p["piece"]: p["x_mm"] for p in Layout.objects.get(pk=one.pk).placements}


@DESK
def test_cuts_are_pulled_drawn_and_undone(visitor: Visitor, cast: Cast) -> None:
    one = opened(visitor, cast)
    page = visitor.page
    expect(page.locator("[data-cuts] .laying-cut-box")).to_have_count(2)
    visitor.look("parting-desk")

    # Pulled, it stays parallel, and the cut behind it reaches the new rim.
    pull(page, spot(page, 60, 70), spot(page, 56, 60))
    heard(page, 1)
    first, second = cuts(one)
    assert first["from"][0] == first["to"][0] == pytest.approx(56, abs=0.3)
    assert second["from"][0] == first["from"][0]
    expect(page.locator("[data-say]")).to_contain_text("from the left edge")

    # Pulled near a piece it catches as near as a cut may be: 1 mm from it.
    start, left = first["from"][0], Layout.objects.get(pk=one.pk)
    fish = max(
        (p.lay(left.asked.wanted_by_id[p.piece].outline) for p in left.laid),
        key=lambda piece: float(piece.bounds[0]),
    )
    pull(page, spot(page, start, 75), spot(page, fish.bounds[0] - 1.3, 70))
    heard(page, 2)
    assert cuts(one)[0]["from"][0] == pytest.approx(fish.bounds[0] - 1.0, abs=1e-3)
    expect(page.locator("[data-fault-none]")).to_be_visible()

    # Over the piece it is a fault, told and listed.
    pull(page, spot(page, cuts(one)[0]["from"][0], 75), spot(page, fish.bounds[0] + 8, 70))
    heard(page, 3)
    expect(page.locator("[data-fault-list]")).to_contain_text("Cut 1 goes through B")
    visitor.look("parting-fault")
    page.get_by_role("button", name="Undo").click()
    heard(page, 4)
    expect(page.locator("[data-fault-none]")).to_be_visible()

    # A new one is drawn through the part that the mouse shows.
    page.get_by_role("button", name="New cut, level").click()
    pull(page, spot(page, 100, 60), spot(page, 100, 70))
    heard(page, 5)
    third = cuts(one)[2]
    assert (third["part"], third["from"][1]) == (2, pytest.approx(70, abs=0.3))
    expect(page.locator("[data-part-names]")).to_contain_text("left over")
    page.get_by_role("button", name="Take the cut away").click()
    heard(page, 6)
    assert len(cuts(one)) == 2
    assert visitor.complaints == []


@DESK
def test_pieces_keep_away_from_cuts_and_go_together(visitor: Visitor, cast: Cast) -> None:
    one = opened(visitor, cast)
    page = visitor.page
    before = spots(one)
    # The owner's piece is pulled against the cut above it, and stops 1 mm below.
    tag = one.laid[0].lay(one.asked.wanted_by_id[one.laid[0].piece].outline)
    x, y = tag.bounds[0] + 2, tag.bounds[1] + 2
    pull(page, spot(page, x, y), spot(page, x, y + 50 - tag.bounds[3] - 0.4))
    heard(page, 1)
    now = Layout.objects.get(pk=one.pk).laid
    lies = next(p for p in now if p.piece == one.laid[0].piece)
    top = lies.lay(one.asked.wanted_by_id[lies.piece].outline).bounds[3]
    assert top == pytest.approx(49.0, abs=0.01)
    expect(page.locator("[data-fault-none]")).to_be_visible()

    # A cut that is moved with what lies beyond it takes the other student's piece along.
    page.locator("[data-cut-form]").get_by_label("With what lies beyond").check()
    pull(page, spot(page, 60, 80), spot(page, 63, 80))
    heard(page, 2)
    after = spots(one)
    moved = {name: round(after[name] - before[name], 2) for name in before}
    gone = cuts(one)[0]["from"][0] - 60
    assert sorted(moved.values())[-1] == pytest.approx(gone, abs=0.02)
    assert visitor.complaints == []


@DESK
def test_all_pieces_of_a_student_move_together(visitor: Visitor, cast: Cast) -> None:
    one = parted_layout(cast, copies=2)
    page = visitor.come_in("marit.quay")
    visitor.go(reverse("layout", args=[one.pk]))
    expect(page.locator("[data-laying].has-script")).to_be_visible()
    page.get_by_label("Move all pieces of a student together").check()
    before = {(p.piece, p.copy): (p.x_mm, p.y_mm) for p in one.laid}
    mine = [p for p in one.laid if p.piece == one.laid[0].piece]
    x, y = mine[0].lay(one.asked.wanted_by_id[mine[0].piece].outline).bounds[:2]
    pull(page, spot(page, x + 2, y + 2), spot(page, x + 5, y + 3))
    heard(page, 1)
    after = {(p.piece, p.copy): (p.x_mm, p.y_mm) for p in Layout.objects.get(pk=one.pk).laid}
    shifts = {
        key: (round(after[key][0] - before[key][0], 3), round(after[key][1] - before[key][1], 3))
        for key in before
    }
    own = {shifts[p.piece, p.copy] for p in mine}
    assert len(mine) == 2
    assert len(own) == 1
    assert next(iter(own))[0] == pytest.approx(3, abs=0.3)
    assert {by for key, by in shifts.items() if key[0] != mine[0].piece} == {(0.0, 0.0)}
    page.get_by_role("button", name="Undo").click()
    heard(page, 2)
    assert spots(one) == {p: x for (p, _copy), (x, _y) in before.items()}
    assert visitor.complaints == []


@DESK
def test_everything_is_done_by_keys_and_forms(visitor: Visitor, cast: Cast) -> None:
    one = opened(visitor, cast)
    page = visitor.page
    page.locator("[data-drawing]").focus()
    page.keyboard.press("c")
    expect(page.locator("[data-say]")).to_contain_text("cut 1: 60.0 mm from the left edge")
    for key in ("ArrowRight", "Shift+ArrowRight", "ArrowLeft", "Shift+ArrowLeft", "ArrowRight"):
        page.keyboard.press(key)
    heard(page, 1)
    assert cuts(one)[0]["from"][0] == pytest.approx(61.0)
    page.keyboard.press("c")
    page.keyboard.press("Delete")
    heard(page, 2)
    assert len(cuts(one)) == 1
    page.keyboard.press("u")
    page.keyboard.press("u")
    heard(page, 4)
    assert cuts(one) == AS_LAID

    form = page.locator("[data-cut-form]")
    form.get_by_label("Cut", exact=True).select_option(index=0)
    form.get_by_label("Distance (mm)").fill("61.5")
    form.get_by_label("from the").select_option(label="right edge")
    form.get_by_role("button", name="Move the cut", exact=True).click()
    heard(page, 5)
    assert cuts(one)[0]["from"][0] == 58.5
    part = page.locator("[data-part-form]")
    part.get_by_label("Blank or part left over").select_option(
        label="blank of A, 58.5 mm × 50.0 mm"
    )
    part.get_by_label("Height (mm)").fill("48")
    part.get_by_role("button", name="Give it this size").click()
    heard(page, 6)
    assert cuts(one)[1]["from"][1] == 48.0
    form.get_by_label("Distance (mm)").fill("500")
    form.get_by_role("button", name="Move the cut", exact=True).click()
    expect(page.locator("[data-refusal]")).to_contain_text("miss the part")

    # One student's blank alone, and all of it again.
    page.get_by_role("button", name="Look at this one alone").click()
    expect(page.locator("[data-drawing].is-alone")).to_be_visible()
    expect(page.locator("[data-piece].is-faint")).to_have_count(1)
    visitor.look("parting-alone")
    page.locator("[data-drawing]").focus()
    page.keyboard.press("i")
    expect(page.locator("[data-piece].is-faint")).to_have_count(0)
    visitor.complaints.clear()  # of the refusal that the network tab shows


def test_a_finger_pulls_a_cut_on_a_phone(chromium: Browser, live_server: Any, cast: Cast) -> None:
    context = chromium.new_context(**PHONE)
    visitor = Visitor(context, live_server.url, "touch")
    one = opened(visitor, cast)
    page = visitor.page
    page.locator("[data-frame]").scroll_into_view_if_needed()
    finger = context.new_cdp_session(page)

    def touch(kind: str, *at: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(at)]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, y = spot(page, 60, 75)
    end = spot(page, 54, 75)
    touch("touchStart", (x, y))
    for step in range(1, 9):
        touch("touchMove", (x + (end[0] - x) * step / 8, y))
    touch("touchEnd")
    heard(page, 1)
    assert cuts(one)[0]["from"][0] == pytest.approx(54, abs=1.0)
    visitor.look("parting-phone")

    # Two fingers come nearer and move no cut.
    x, y = spot(page, 54, 75)
    touch("touchStart", (x, y))
    touch("touchStart", (x, y), (x + 60, y + 10))
    for step in range(1, 6):
        touch("touchMove", (x - 4 * step, y), (x + 60 + 4 * step, y + 10))
    touch("touchEnd")
    assert page.locator("[data-drawing].is-near").count() == 1
    heard(page, 1)
    assert visitor.complaints == []
    context.close()


def test_cuts_are_typed_without_a_script(chromium: Browser, live_server: Any, cast: Cast) -> None:
    one = parted_layout(cast, parting="saw", parting_margin_mm=2.0, strip_least_mm=5.0)
    context = chromium.new_context(java_script_enabled=False, viewport=PHONE["viewport"])
    visitor = Visitor(context, live_server.url, "plain")
    page = visitor.come_in("marit.quay")
    visitor.go(reverse("layout", args=[one.pk]))
    visitor.look("parting-plain")
    page.locator("[data-cut-form]").get_by_label("Distance (mm)").fill("58")
    page.get_by_role("button", name="Move the cut", exact=True).click()
    expect(page.locator(".laying-cut")).to_have_count(3)  # two, and the sign among the words
    assert cuts(one)[0]["from"][0] == 58.0
    page.locator("[data-part-form]").get_by_label("Distance (mm)").fill("15")
    page.get_by_role("button", name="Cut here").click()
    expect(page.locator(".laying-cut")).to_have_count(4)
    assert visitor.complaints == []
    context.close()
