"""Trial layouts as a worker makes them, in one round each and without a clock."""

from __future__ import annotations

from typing import Any

import pytest

from studio.models import Pattern, TrialLayout
from studio.running.trials import doing, others, wishes
from studio.running.trials.wishes import Effort
from tests.people import Cast
from tests.studio.bench.making import World
from tests.studio.patterns.making import BAR, bring, make_project

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
