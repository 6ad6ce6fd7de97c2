"""A class plan's cuts on the layout table, by mouse, finger and keys, on a desk and on a phone."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from studio.models import Layout
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.layouts.parted import parted_layout

from .laying import heard, pull, spot
from .test_table import DESK

pytestmark = pytest.mark.django_db(transaction=True)


def opened(visitor: Visitor, cast: Cast) -> Layout:
    one = parted_layout(cast)
    visitor.come_in("marit.quay")
    visitor.go(reverse("layout", args=[one.pk]))
    expect(visitor.page.locator("[data-laying].has-script")).to_be_visible()
    return one


def cuts(one: Layout) -> list[dict[str, Any]]:
    return Layout.objects.get(pk=one.pk).cuts


@DESK
def test_cuts_are_pulled_pushed_added_and_taken_away(visitor: Visitor, cast: Cast) -> None:
    one = opened(visitor, cast)
    page = visitor.page
    expect(page.locator("[data-cuts] .laying-cut-box")).to_have_count(2)
    visitor.look("parting-desk")
    pull(page, spot(page, 60, 70), spot(page, 64, 60))
    heard(page, 1)
    assert cuts(one)[0]["from"][0] == pytest.approx(64, abs=0.3)
    visitor.look("parting-pulled")
