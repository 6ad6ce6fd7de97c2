"""Printed by the browser instead of as PDF, a true-size sheet is as true and as short."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from tests.people import Cast
from tests.studio.bench.making import make_world
from tests.studio.prints.reading_pdf import (
    BAR_PT,
    MM_PER_PT,
    of_size,
    open_pdf,
    page_size_mm,
    paths_of,
    straight,
)

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_bars_and_pieces_are_true_on_one_page(visitor: Visitor, cast: Cast) -> None:
    world = make_world(cast)
    project = world.at_bench()
    visitor.come_in(cast.owner.username)
    page: Any = visitor.go(reverse("pattern_sheet", args=[project.patterns.get().pk]))
    visitor.look("pattern-sheet")
    reader = open_pdf(page.pdf(prefer_css_page_size=True, print_background=True))
    assert len(reader.pages) == 1
    assert page_size_mm(reader.pages[0]) == pytest.approx((210.0, 297.0), abs=0.5)
    paths = paths_of(reader.pages[0], reader)
    by = 0.05 * MM_PER_PT
    assert straight(paths, BAR_PT * MM_PER_PT, upright=False, by=by)
    assert straight(paths, BAR_PT * MM_PER_PT, upright=True, by=by)
    assert of_size(paths, 30.0, 20.0)
