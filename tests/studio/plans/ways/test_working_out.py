"""Other ways of a proposed plan are worked out by workers, and survive them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from studio.core.cutting import job_from_json, plan_from_json
from studio.core.verifying import faults
from studio.models import CutPlan, WayTry
from studio.running.ways import doing, reaping
from studio.steps.plans import way_words as words
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.quote import planned_total
from studio.steps.plans.ways import ask, lease
from tests.people import Cast

from .. import making as plans
from .making import ROUNDS, try_of, work_out

Way, State = CutPlan.Way, WayTry.State


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Ways as they are queued again."""
    found: list[int] = []
    monkeypatch.setattr(reaping, "queue", lambda row: found.append(row.pk))
    return found


def test_a_shared_plan_asks_for_its_other_ways(parted: CutPlan) -> None:
    rows = {row.way: row for row in parted.way_tries.all()}
    assert set(rows) == {Way.PARTED, Way.SAWN, Way.PASSED}
    own = rows[Way.PARTED]
    assert own.state == State.DONE
    assert own.answer == parted.answer
    assert own.money == planned_total(parted)
    assert [rows[way].state for way in (Way.SAWN, Way.PASSED)] == [State.QUEUED] * 2
    assert rows[Way.SAWN].job["parting"] == "saw"
    assert "parting" not in rows[Way.PASSED].job
    for way in (Way.SAWN, Way.PASSED):  # the same pieces on the same metal
        for name in ("pieces", "metal", "gap_mm", "kerf_mm"):
            assert rows[way].job[name] == parted.job[name]


def test_one_students_plan_has_no_ways(cast: Cast, plan: CutPlan) -> None:
    assert plan.way == Way.ALONE
    assert not plan.way_tries.exists()


def test_without_a_shear_it_says_why_metal_is_not_parted(cast: Cast) -> None:
    plan = plans.shared_plan(cast)
    assert plan.way == Way.SAWN
    row = try_of(plan, Way.PARTED)
    assert (row.state, row.told) == (State.IMPOSSIBLE, words.NO_SHEAR)
    assert not work_out(plan, Way.PARTED)


def test_a_worker_works_out_what_passing_on_comes_to(parted: CutPlan) -> None:
    assert work_out(parted, Way.PASSED)
    row = try_of(parted, Way.PASSED)
    assert (row.state, row.unplaced) == (State.DONE, 0)
    assert row.money is not None
    assert row.consumed_mm2 is not None
    own = try_of(parted, Way.PARTED)
    assert own.consumed_mm2 is not None
    # undivided metal can be laid as it is parted, so it never takes more
    assert row.consumed_mm2 <= own.consumed_mm2 + Decimal("0.01")
    assert not work_out(parted, Way.PASSED)  # it is done


def test_sawn_apart_is_judged_with_its_cuts(parted: CutPlan) -> None:
    assert work_out(parted, Way.SAWN)
    row = try_of(parted, Way.SAWN)
    assert row.answer is not None
    job, answer = job_from_json(row.job), plan_from_json(row.answer)
    assert faults(job, answer.placements, answer.cuts) == ()
    assert len({(blank.metal, blank.part) for blank in answer.blanks}) == 2


def test_a_killed_workers_way_is_queued_again_three_times_at_most(
    parted: CutPlan, queued: list[int]
) -> None:
    pk = try_of(parted, Way.PASSED).pk
    for attempt in range(1, lease.MOST_ATTEMPTS + 1):
        row = lease.claim(pk, f"worker-{attempt}")
        assert row is not None
        assert lease.claim(pk, "another") is None
        assert reaping.reap() == 0  # it lives
        WayTry.objects.filter(pk=pk).update(lease_until=timezone.now() - dt.timedelta(seconds=1))
        assert reaping.reap() == 1
    row = try_of(parted, Way.PASSED)
    assert (row.state, row.told) == (State.FAILED, words.LOST)
    assert queued == [pk] * (lease.MOST_ATTEMPTS - 1)


def test_what_a_worker_without_the_lease_finds_is_ignored(
    parted: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    pk = try_of(parted, Way.PASSED).pk
    search = doing.place

    def taken_meanwhile(*args: object, **more: object) -> object:
        found = search(*args, **more)  # type: ignore[arg-type]
        WayTry.objects.filter(pk=pk).update(worker="another")
        return found

    monkeypatch.setattr(doing, "place", taken_meanwhile)
    assert not doing.run(pk, "worker-1", rounds=ROUNDS)
    row = try_of(parted, Way.PASSED)
    assert (row.state, row.worker, row.answer) == (State.RUNNING, "another", None)


def test_a_worker_that_ends_puts_it_back(parted: CutPlan, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doing, "ENDING", Told())
    assert not work_out(parted, Way.PASSED)
    row = try_of(parted, Way.PASSED)
    assert (row.state, row.attempts, row.worker) == (State.QUEUED, 0, "")


class Told:
    """As the event of a worker that was told to end."""

    def is_set(self) -> bool:
        return True


def test_nothing_is_worked_out_for_a_dropped_plan(cast: Cast, parted: CutPlan) -> None:
    drop_plan(parted, acting=cast.teacher)
    assert not work_out(parted, Way.PASSED)
    assert reaping.reap() == 0


def test_a_fault_is_told_and_asked_for_once_more(
    cast: Cast, parted: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_args: object, **_more: object) -> None:
        raise ValueError("broken")

    monkeypatch.setattr(doing, "place", broken)
    assert not work_out(parted, Way.PASSED)
    assert try_of(parted, Way.PASSED).told == words.FAULT
    asked: list[int] = []
    monkeypatch.setattr(ask, "queue", lambda row: asked.append(row.pk))
    for _ in range(2):
        ask.work_out_again(parted, Way.PASSED)
    row = try_of(parted, Way.PASSED)
    assert (row.state, row.told, asked) == (State.QUEUED, "", [row.pk])
