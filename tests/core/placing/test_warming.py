"""Compiled loops: whoever needs only some does not wait for all."""

from __future__ import annotations

import threading

import pytest

from studio.core.cutting import Job, Wanted
from studio.core.placing import place, warming
from studio.core.placing.strips import rounds as strips
from tests.core.placing.jobs import sheet, square


@pytest.mark.slow
def test_a_plan_does_not_wait_for_the_loops_of_strips(monkeypatch: pytest.MonkeyPatch) -> None:
    warming.warm_up()  # so that no other thread is still at it
    let_go = threading.Event()
    for name in ("_warm", "_plans_warm"):
        monkeypatch.setattr(warming, name, threading.Event())
    monkeypatch.setattr(warming, "_helper", None)
    monkeypatch.setattr(strips, "rehearse", let_go.wait)
    try:
        plan = place(Job((sheet(),), (Wanted("q", square(9), 4),)), rounds=8)
        assert plan.rounds == 8
        assert warming.is_warm(strips=False)
        assert not warming.is_warm()
    finally:
        let_go.set()
        assert warming._helper is not None
        warming._helper.join()
    assert warming.is_warm()
