"""What several tests of layouts begin with."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from shapely.geometry import box

from inventory.models import StockPiece
from studio.models import Pattern
from studio.running.layouts import judging
from tests.people import Cast
from tests.studio.patterns.making import BAR, bring, make_brief, make_metal, make_project, mine
from tests.studio.plans import making
from tests.studio.plans.conftest import plan

__all__ = ["plan"]


@pytest.fixture(autouse=True)
def _nothing_in_mind() -> Iterator[None]:
    """No judgement of another test's layout, whose row had the same number."""
    judging.forget()
    yield
    judging.forget()


@pytest.fixture
def sheet(cast: Cast) -> StockPiece:
    """A sheet of 150 × 90 mm, at 0.001 a square millimetre."""
    return making.stock(make_metal(cast), "CU-1", box(0, 0, 150, 90), cost="13.50")


@pytest.fixture
def draft(cast: Cast, sheet: StockPiece, evidence: Any) -> Pattern:
    """The owner's pattern: a bar of 40 × 20 mm, not handed in."""
    return mine(bring(make_project(cast, make_brief(cast, sheet.metal)), BAR))
