"""A practice sheet by mouse: to its end, and beside the known answer."""

from __future__ import annotations

import math

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from studio.core.cutting import Placement
from studio.core.practice import BY_CODE
from studio.models import PracticeTry
from tests.browser.barriers import no_barriers
from tests.browser.conftest import Visitor
from tests.people import Cast

from .laying import faults, heard, middle, pull, spot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FLAGS = BY_CODE["flags"]
AWRY_MM = ((0.5, -0.3), (-0.4, 0.5), (0.3, 0.4), (-0.5, -0.4), (0.4, 0.5))
"""By how much a hand misses where each piece is meant to lie."""


def middle_of(p: Placement) -> tuple[float, float]:
    """Of a piece's box, turned with it: what is held of a piece from the tray."""
    x0, y0, x1, y1 = FLAGS.job.wanted_by_id[p.piece].outline.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    c, s = math.cos(math.radians(p.turn_deg)), math.sin(math.radians(p.turn_deg))
    return c * x - s * y + p.x_mm, s * x + c * y + p.y_mm


@pytest.mark.parametrize("visitor", ["desk"], indirect=True)
def test_five_flags_are_pulled_onto_metal_that_they_all_but_fill(
    visitor: Visitor, cast: Cast
) -> None:
    page = visitor.come_in("wren.t")
    visitor.go(reverse("practice"))
    no_barriers(visitor)
    page.get_by_role("link", name="1. Five signal flags").click()
    expect(page.locator("[data-laying].has-script")).to_be_visible()
    for version, (p, (dx, dy)) in enumerate(zip(FLAGS.answer, AWRY_MM, strict=True), start=1):
        piece = page.locator(f'[data-tray="{p.piece} {p.copy}"]')
        piece.click()
        for _ in range(round(p.turn_deg / 90)):
            page.keyboard.press("Shift+Q")
        x, y = middle_of(p)
        pull(page, middle(piece), spot(page, x + dx, y + dy))
        heard(page, version)
    assert faults(page) == 0
    assert PracticeTry.objects.get().whole_at is not None
    visitor.look("practice-sheet")
    page.get_by_role("link", name="Show the known answer").click()
    expect(page.locator(".lead")).to_have_text("Yours is as good as the known answer.")
    no_barriers(visitor)
    visitor.look("practice-compared")
