"""A busy machine, made at will: to the search the clock runs a thousand times as fast.

What is bounded by rounds comes out the same on it; what leans on seconds fails on every machine.
"""

from __future__ import annotations

import time

import pytest

from studio.core.placing import search

SPEED = 1000.0


class RacingClock:
    """Stands in for the module `time` where the search asks for it."""

    sleep = staticmethod(time.sleep)

    @staticmethod
    def monotonic() -> float:
        """Seconds, in a thousandth of their time."""
        return SPEED * time.monotonic()


class CountedClock:
    """A clock on which every look takes a second, however long it takes in truth."""

    sleep = staticmethod(time.sleep)

    def __init__(self) -> None:
        self.looks = 0

    def monotonic(self) -> float:
        self.looks += 1
        return float(self.looks)


def race(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the search's clock race until the test ends."""
    monkeypatch.setattr(search, "time", RacingClock)
