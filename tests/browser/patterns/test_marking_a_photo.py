"""A coin is marked in a photo: by mouse, by keyboard, and by numbers with scripts switched off."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from studio.models import Pattern, Project
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.patterns.making import make_project

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PX = 300 / 25.4
COIN_MM = 23.25  # 1 euro, Council Regulation (EC) 975/98
ON_SCREEN = """([x, y]) => {
  const stage = document.querySelector("[data-stage]");
  const at = new DOMPoint(x, y).matrixTransform(stage.getScreenCTM());
  return [at.x, at.y];
}"""


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A square of 30 mm in ink and a coin with its middle at 60, 25 mm."""
    page = np.full((round(50 * PX), round(80 * PX)), 245, np.uint8)
    one, other = (round(5 * PX), round(10 * PX)), (round(35 * PX), round(40 * PX))
    cv2.rectangle(page, one, other, 20, 6, cv2.LINE_AA)
    middle, reach = (round(60 * PX), round(25 * PX)), round(COIN_MM / 2 * PX)
    cv2.circle(page, middle, reach, 130, -1, cv2.LINE_AA)
    file = tmp_path / "tag.png"
    file.write_bytes(cv2.imencode(".png", page)[1].tobytes())
    return file


def bring(visitor: Visitor, project: Project, photo: Path) -> Page:
    page = visitor.come_in("wren.t")
    visitor.go(reverse("pattern_upload", args=[project.pk]))
    page.set_input_files("input[type=file]", str(photo))
    page.get_by_role("button", name="Read the pattern").click()
    expect(page.get_by_role("heading", name="How large is the drawing?")).to_be_visible()
    return page


def drag(page: Page, name: str, x_mm: float, y_mm: float) -> None:
    mark = page.get_by_role("button", name=name)
    mark.scroll_into_view_if_needed()
    box: Any = mark.locator(".mark-dot").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(*page.evaluate(ON_SCREEN, [x_mm * PX, y_mm * PX]), steps=4)
    page.mouse.up()


def test_a_coin_is_marked_by_mouse_and_keys(visitor: Visitor, cast: Cast, photo: Path) -> None:
    page = bring(visitor, make_project(cast), photo)
    page.select_option("select[name=thing]", "eur-100")
    expect(page.get_by_label("How long it is")).to_be_hidden()
    drag(page, "middle of the coin", 60, 25)
    drag(page, "rim of the coin", 60 + COIN_MM / 2, 25)
    rim = page.locator("input[name=x2]")
    before = float(rim.input_value())
    page.get_by_role("button", name="rim of the coin").focus()
    page.keyboard.press("Shift+ArrowRight")
    assert float(rim.input_value()) > before + 5
    page.keyboard.press("Shift+ArrowLeft")
    assert float(rim.input_value()) == pytest.approx(before, abs=0.2)
    visitor.look("marking")
    page.get_by_role("button", name="Read with this size").click()
    expect(page.get_by_text("Your file was read")).to_be_visible()
    (piece,) = Pattern.objects.get().drawing.pieces
    assert piece.size_mm[0] == pytest.approx(30.0, abs=0.2)
