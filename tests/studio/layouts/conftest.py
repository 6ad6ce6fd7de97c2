"""What several tests of layouts begin with."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from shapely.geometry import box

from inventory.models import StockPiece
from studio.models import Layout, Pattern, TrialLayout
from studio.running.layouts import judging
from studio.running.trials import doing, others, wishes
from studio.running.trials.wishes import Effort
from tests.people import Cast
from tests.studio.bench.making import World
from tests.studio.patterns.making import BAR, bring, make_brief, make_metal, make_project, mine
from tests.studio.plans import making
from tests.studio.plans.conftest import plan

from .laying import layout

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


@pytest.fixture
def own(draft: Pattern, sheet: StockPiece) -> Layout:
    """The owner's try that counts, its bar in the corner of the sheet."""
    return layout(draft.project, [sheet], at=(0.0, 0.0))


ONE_ROUND = Effort(seconds=None, rounds=1)


@pytest.fixture
def one_round(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.TRIALS = True
    monkeypatch.setattr(doing, "FIRST", ONE_ROUND)
    monkeypatch.setattr(others, "FIRST", ONE_ROUND)
    for wish in wishes.EFFORT:
        rounds = 3 if wish == TrialLayout.Wish.IMPROVE else 1  # the first is what lies already
        monkeypatch.setitem(wishes.EFFORT, wish, Effort(seconds=None, rounds=rounds))


@pytest.fixture
def pattern(cast: Cast, world: World, one_round: None, evidence: Any) -> Pattern:
    """The owner's bar of 40 × 20 mm, just brought; two sheets of its metal are on the rack."""
    return bring(make_project(cast, world.brief), BAR)
