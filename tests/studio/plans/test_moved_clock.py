"""The clock of the machine is put right by an hour: no living worker loses its job by that, and no
dead one keeps it.

`time_machine` moves the clock of the wall, in steps of this file's own.
"""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.conf import settings

from studio.core.placing import place
from studio.models import CutPlan, PlacingJob
from studio.running.placing import doing as running
from studio.running.placing import reaping
from studio.steps.plans import lease
from studio.steps.plans.place import propose, propose_together
from tests.clocks import NOON, stopped_at
from tests.people import Cast

from . import making
from .making import job_of

pytestmark = pytest.mark.usefixtures("queued")


clock = stopped_at(NOON)


HOUR = 3600.0
State = PlacingJob.State


@pytest.fixture
def plan(clock: time_machine.Traveller, cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", cost="10.00")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    return propose([project], acting=cast.teacher, seconds=60.0)


def one_lease(more: float = 1.0) -> float:
    return float(settings.PLACING_LEASE_SECONDS) + more


@pytest.mark.parametrize("moved", [HOUR, -HOUR, 2 * 60.0, -2 * 60.0])
def test_living_worker_keeps_its_job_when_the_clock_is_moved(
    plan: CutPlan, clock: time_machine.Traveller, moved: float, queued: list[int]
) -> None:
    assert lease.claim(job_of(plan).pk, "alive")
    for _ in range(lease.MOST_ATTEMPTS + 1):
        clock.shift(moved)
        assert reaping.reap() == 0
        assert lease.claim(job_of(plan).pk, "somebody else") is None
        clock.shift(1)
        assert lease.report(job_of(plan).pk, "alive") is lease.Word.GO_ON
        clock.shift(1)
        assert reaping.reap() == 0
    assert (job_of(plan).attempts, job_of(plan).worker) == (1, "alive")
    assert queued == []


def test_whole_search_ends_with_its_first_worker_though_the_clock_moves_under_it(
    plan: CutPlan, clock: time_machine.Traveller, monkeypatch: pytest.MonkeyPatch
) -> None:
    reports = 0

    def with_moves(*what: Any, on_progress: Any, **how: Any) -> Any:
        def moved(found: Any) -> bool:
            nonlocal reports
            reports += 1
            clock.shift(HOUR if reports % 2 else -HOUR)
            reaping.reap()
            return bool(on_progress(found))

        return place(*what, on_progress=moved, **how)

    monkeypatch.setattr(running, "place", with_moves)
    assert running.run(job_of(plan).pk, "alive", rounds=3)
    assert reports  # the clock did move
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert job_of(plan).attempts == 1


@pytest.mark.parametrize("moved", [HOUR, -HOUR, 24 * HOUR, -24 * HOUR])
def test_job_of_a_dead_worker_is_taken_up_one_lease_later_wherever_the_clock_went(
    plan: CutPlan, clock: time_machine.Traveller, moved: float, queued: list[int]
) -> None:
    assert lease.claim(job_of(plan).pk, "gone")
    clock.shift(moved)
    reaping.reap()
    clock.shift(one_lease())
    assert reaping.reap() == 1
    assert job_of(plan).state == State.QUEUED
    assert queued == [job_of(plan).pk]


@pytest.mark.parametrize("between", [HOUR, 24 * HOUR])
def test_job_of_a_dead_worker_is_taken_up_though_somebody_looks_only_now_and_then(
    plan: CutPlan, clock: time_machine.Traveller, between: float
) -> None:
    assert lease.claim(job_of(plan).pk, "gone")
    clock.shift(between)
    reaping.reap()  # it may have been the clock
    clock.shift(between)
    assert reaping.reap() == 1  # and it was not


def test_worker_that_dies_after_the_clock_was_moved_loses_its_job_one_lease_later(
    plan: CutPlan, clock: time_machine.Traveller
) -> None:
    assert lease.claim(job_of(plan).pk, "alive")
    clock.shift(HOUR)
    assert reaping.reap() == 0
    assert lease.report(job_of(plan).pk, "alive", {"plan": None}) is lease.Word.GO_ON
    clock.shift(one_lease())
    assert reaping.reap() == 1


def test_what_was_found_so_far_is_still_there_after_the_clock_was_moved(
    plan: CutPlan, clock: time_machine.Traveller
) -> None:
    assert lease.claim(job_of(plan).pk, "alive")
    lease.report(job_of(plan).pk, "alive", {"plan": {"found": "something"}, "curve": [[1, 2]]})
    for moved in (HOUR, -HOUR):
        clock.shift(moved)
        reaping.reap()
    found = job_of(plan).progress
    assert (found["plan"], found["curve"]) == ({"found": "something"}, [[1, 2]])


def test_job_that_the_queue_lost_is_found_again_though_the_clock_was_put_back(
    plan: CutPlan, clock: time_machine.Traveller, queued: list[int]
) -> None:
    clock.shift(-HOUR)
    reaping.reap()
    clock.shift(reaping.FORGOTTEN_AFTER.total_seconds() + 1)
    assert reaping.reap() == 1
    assert queued == [job_of(plan).pk]


def test_plan_can_be_asked_for_anew_though_the_clock_was_put_back(
    plan: CutPlan, clock: time_machine.Traveller, cast: Cast
) -> None:
    """The form sent twice within moments is one plan; an hour is no moment."""
    (share,) = plan.shares.all()
    clock.shift(-HOUR)
    assert propose_together([share.project], acting=cast.teacher).pk != plan.pk
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.DROPPED
