"""Looking closely at a picture: by buttons, keys, wheel, mouse and two fingers."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page

from .modules_alone import page_beside_modules

pytestmark = pytest.mark.browser

PICTURE = '<svg id="p" viewBox="0 -50 100 50" width="400" height="200" tabindex="0"></svg>'
"""100 by 50 mm, four pixels to the millimetre, its lower left corner at 0, 0."""
STAGE = f"""<style>
body {{ margin: 0; height: 3000px; }}
svg {{ display: block; touch-action: pan-y; }}
</style>
<div id="stage">{PICTURE}<button data-zoom="in">+</button><button data-zoom="out">-</button>
<button data-zoom="whole">Whole</button></div>"""

BEGIN = """async farthest => {
  const { PictureView } = await import("./picture_view.js");
  const picture = () => document.getElementById("p");
  const taken = () => window.takes;
  const pinching = () => { window.pinched = true; };
  const page = { picture, farthest, taken, pinching };
  window.view = new PictureView(document.getElementById("stage"), page);
}"""


def seen(page: Page) -> list[float]:
    """Left, low, wide and high, in millimetres, y upwards."""
    left, top, wide, high = map(float, (page.get_attribute("#p", "viewBox") or "").split())
    return [left, -top - high, wide, high]


def begin(page: Page, farthest: int = 1) -> None:
    page.evaluate(BEGIN, farthest)


def test_buttons_keys_wheel_and_mouse_show_the_part_one_wants(chromium: Browser) -> None:
    with page_beside_modules(chromium, STAGE) as page:
        begin(page)
        nearer, further, whole = (
            page.locator(f"[data-zoom={word}]") for word in ("in", "out", "whole")
        )
        assert nearer.is_enabled()
        assert not further.is_enabled()
        assert not whole.is_enabled()
        page.mouse.move(100, 50)
        page.mouse.wheel(0, -100)  # scrolls the page as long as nobody has come nearer
        assert seen(page) == [0, 0, 100, 50]

        nearer.click()
        assert seen(page) == pytest.approx([100 / 6, 50 / 6, 100 / 1.5, 50 / 1.5])
        page.keyboard.press("0")  # the picture has no focus: not for it
        assert whole.is_enabled()
        page.evaluate("scrollTo(0, 0)")
        before = page.evaluate("view.at(100, 50)")
        page.mouse.move(100, 50)
        page.mouse.wheel(0, -100)
        page.wait_for_function("view.share < 0.6")
        assert page.evaluate("view.at(100, 50)") == pytest.approx(before)  # under the pointer

        left, low, wide, _ = seen(page)
        page.mouse.down()
        page.mouse.move(103, 52)  # so little is a tap
        assert seen(page)[:2] == [left, low]
        page.mouse.move(140, 90, steps=2)
        page.mouse.up()
        moved = [left - 40 * wide / 400, low + 40 * wide / 400]
        assert seen(page)[:2] == pytest.approx(moved)
        page.evaluate("window.takes = true")  # a pointer that holds something pulls no paper
        page.mouse.down()
        page.mouse.move(300, 90)
        page.mouse.up()
        assert seen(page)[:2] == pytest.approx(moved)

        page.locator("#p").focus()
        page.keyboard.press("0")
        assert seen(page) == [0, 0, 100, 50]
        for _ in range(20):
            page.keyboard.press("+")
        assert seen(page)[2] == pytest.approx(1.5)
        assert not nearer.is_enabled()
        page.keyboard.press("-")
        assert nearer.is_enabled()


def test_another_picture_is_shown_as_near_and_never_beside_its_paper(chromium: Browser) -> None:
    with page_beside_modules(chromium, STAGE) as page:
        begin(page)
        page.evaluate("view.zoom(4, [100, 50])")
        assert seen(page) == pytest.approx([75, 37.5, 25, 12.5])
        page.evaluate("view.pan(-500, 0)")
        assert seen(page) == pytest.approx([75, 37.5, 25, 12.5])
        page.evaluate(
            """other => {
              document.getElementById("p").outerHTML = other;
              view.renew();
            }""",
            PICTURE.replace("0 -50 100 50", "0 -40 80 40"),
        )
        assert seen(page) == pytest.approx([60, 30, 20, 10])
        page.evaluate("view.zoom(1 / 100)")
        assert seen(page) == pytest.approx([0, 0, 80, 40])
        page.evaluate("view.reveal([200, 10])")  # what lies beside it is seen when it is asked for
        page.evaluate("view.zoom(2, [200, 10])")
        assert seen(page) == pytest.approx([180, 0, 40, 20])


def test_two_fingers_come_nearer_from_the_whole_picture(chromium: Browser) -> None:
    with page_beside_modules(chromium, STAGE, has_touch=True) as page:
        begin(page, farthest=6)
        finger = page.context.new_cdp_session(page)

        def touch(kind: str, *places: tuple[float, float]) -> None:
            points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
            finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        between = page.evaluate("view.at(200, 100)")
        touch("touchStart", (180, 100))
        touch("touchStart", (180, 100), (220, 100))
        touch("touchMove", (160, 100), (240, 100))
        touch("touchMove", (140, 110), (260, 110))
        touch("touchEnd")
        assert page.evaluate("view.share") == pytest.approx(1 / 3)
        assert page.evaluate("view.at(200, 110)") == pytest.approx(between)
        assert page.evaluate("window.pinched")
        assert not page.evaluate("view.isPinched")
