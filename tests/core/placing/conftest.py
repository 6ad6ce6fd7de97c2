"""Every test of placing runs beside a racing clock: none may depend on a quiet machine."""

from __future__ import annotations

import pytest

from studio.core.placing.warming import warm_up
from tests.racing import race


@pytest.fixture(autouse=True)
def a_clock_that_races(monkeypatch: pytest.MonkeyPatch) -> None:
    race(monkeypatch)


@pytest.fixture(scope="module")
def warm() -> None:
    """The search is compiled before anything is timed or counted."""
    warm_up()
