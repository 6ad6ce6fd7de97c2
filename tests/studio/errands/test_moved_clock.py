"""The clock of the machine is put right by an hour: no living worker loses its errand by that, no
dead one keeps it, and nobody waits for ever.

`time_machine` moves the clock of the wall, in steps of this file's own.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.conf import settings

from studio.models import Errand
from studio.running.errands import lease, reaping
from studio.running.errands.doing import DOERS, run
from studio.running.errands.reaping import reap
from studio.running.errands.starting import NewErrand, start
from tests.clocks import NOON, stopped_at
from tests.people import Cast

clock = stopped_at(NOON)


HOUR = 3600.0
State = Errand.State


@pytest.fixture
def errand(clock: time_machine.Traveller, cast: Cast) -> Errand:
    return start(cast.owner, NewErrand(Errand.Kind.PATTERN, "a.svg", "/", data=b"<svg/>"))


def as_stored(errand: Errand) -> Errand:
    return Errand.objects.get(pk=errand.pk)


def one_lease(more: float = 1.0) -> float:
    return float(settings.ERRAND_LEASE_SECONDS) + more


def a_move_beyond_two_leases() -> float:
    return 2 * one_lease()


@pytest.mark.parametrize("moved", [HOUR, -HOUR, 24 * HOUR, -24 * HOUR])
def test_living_worker_keeps_its_errand_when_the_clock_is_moved(
    errand: Errand, clock: time_machine.Traveller, moved: float
) -> None:
    assert lease.claim(errand.pk, "alive")
    for _ in range(lease.MOST_ATTEMPTS + 1):
        clock.shift(moved)
        assert reap() == 0
        assert lease.claim(errand.pk, "somebody else") is None
        clock.shift(1)
        assert lease.renew(errand.pk, "alive")
        clock.shift(1)
        assert reap() == 0
    kept = as_stored(errand)
    assert (kept.state, kept.worker, kept.attempts) == (State.RUNNING, "alive", 1)


@pytest.mark.parametrize("direction", [1, -1])
def test_living_worker_keeps_its_errand_when_the_clock_is_moved_by_little_more_than_leases(
    errand: Errand, clock: time_machine.Traveller, direction: int
) -> None:
    assert lease.claim(errand.pk, "alive")
    clock.shift(direction * a_move_beyond_two_leases())
    assert reap() == 0
    assert lease.renew(errand.pk, "alive")
    assert reap() == 0
    assert as_stored(errand).worker == "alive"


@pytest.mark.parametrize("moved", [HOUR, -HOUR])
def test_nobody_claims_an_errand_under_way_before_somebody_has_looked_after_it(
    errand: Errand, clock: time_machine.Traveller, moved: float
) -> None:
    """A second message of the queue may come right after the clock was moved."""
    assert lease.claim(errand.pk, "alive")
    clock.shift(moved)
    assert lease.claim(errand.pk, "somebody else") is None
    assert lease.renew(errand.pk, "alive")


@pytest.mark.parametrize("moved", [HOUR, -HOUR])
def test_whole_errand_ends_with_its_first_worker_though_the_clock_moves_under_it(
    errand: Errand,
    clock: time_machine.Traveller,
    moved: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def with_a_move(errand: Errand) -> Callable[[], dict[str, Any]]:
        clock.shift(moved)
        reap()
        assert not run(errand.pk, "somebody else")
        return lambda: {"went": "/"}

    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, with_a_move)
    assert run(errand.pk, "alive")
    ended = as_stored(errand)
    assert (ended.state, ended.worker, ended.attempts) == (State.DONE, "alive", 1)


@pytest.mark.parametrize("moved", [HOUR, -HOUR, 24 * HOUR, -24 * HOUR])
def test_errand_of_a_dead_worker_is_taken_up_one_lease_later_wherever_the_clock_went(
    errand: Errand, clock: time_machine.Traveller, moved: float
) -> None:
    assert lease.claim(errand.pk, "gone")
    clock.shift(moved)
    assert reap() == 0
    clock.shift(one_lease())
    assert reap() == 1
    assert as_stored(errand).state == State.QUEUED
    assert lease.claim(errand.pk, "another")


@pytest.mark.parametrize("between", [HOUR, 24 * HOUR])
def test_errand_of_a_dead_worker_is_taken_up_though_somebody_looks_only_now_and_then(
    errand: Errand, clock: time_machine.Traveller, between: float
) -> None:
    assert lease.claim(errand.pk, "gone")
    clock.shift(between)
    assert reap() == 0  # it may have been the clock
    clock.shift(between)
    assert reap() == 1  # and it was not


def test_worker_that_dies_after_the_clock_was_moved_loses_its_errand_one_lease_later(
    errand: Errand, clock: time_machine.Traveller
) -> None:
    assert lease.claim(errand.pk, "alive")
    clock.shift(HOUR)
    assert reap() == 0
    assert lease.renew(errand.pk, "alive")
    clock.shift(one_lease())
    assert reap() == 1


def test_errand_that_the_queue_lost_is_found_again_though_the_clock_was_put_back(
    errand: Errand,
    clock: time_machine.Traveller,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:
    queued: list[int] = []
    monkeypatch.setattr(reaping.do_errand.__class__, "enqueue", lambda _, pk: queued.append(pk))
    with django_capture_on_commit_callbacks(execute=True):
        clock.shift(-HOUR)
        reap()
        assert as_stored(errand).queued_at == NOON - dt.timedelta(seconds=HOUR)
        assert reap() == 0  # the wait is counted anew, and is not over
    queued.clear()
    with django_capture_on_commit_callbacks(execute=True):
        clock.shift(reaping.FORGOTTEN_AFTER.total_seconds() + 1)
        assert reap() == 1
    assert queued == [errand.pk]
