"""The worker's loops outlive their database, and put back what they cannot end."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import InterfaceError, OperationalError
from django_tasks_db.models import DBTaskResult

from studio.models import CutPlan, PlacingJob
from studio.running.closing import ENDING
from studio.running.placing import doing as running
from studio.serving import loops
from studio.serving.loops import QueueLoop
from studio.steps.plans import lease
from studio.steps.plans.place import propose
from tests.people import Cast
from tests.studio.plans import making

pytestmark = pytest.mark.usefixtures("database_queue")


@pytest.fixture(autouse=True)
def never_ending() -> Iterator[None]:
    yield
    ENDING.clear()


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    return propose([project], acting=cast.teacher)


@pytest.mark.parametrize("error", [OperationalError("locked"), InterfaceError("gone")])
def test_a_loop_waits_for_a_database_that_is_away_and_goes_on(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loops, "FIRST_PAUSE", 0.01)
    monkeypatch.setattr(loops, "LONGEST_PAUSE", 0.01)
    monkeypatch.setattr(loops.connections, "close_all", lambda: None)
    monkeypatch.setattr(loops, "close_old_connections", lambda: None)
    answers: list[Any] = [error, error, error, True, False]

    def turn() -> bool:
        answer = answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return bool(answer)

    loop = QueueLoop("default", "w", interval=0.01, batch=True)
    monkeypatch.setattr(loop, "turn", turn)
    loop.run()
    assert answers == []


@pytest.mark.django_db
def test_each_queue_has_a_loop_of_its_own() -> None:
    from studio.tasks import place_plan

    place_plan.enqueue(0)
    assert QueueLoop("desk", "w", interval=1, batch=True).turn() is False
    assert QueueLoop("default", "w", interval=1, batch=True).turn() is True
    assert DBTaskResult.objects.get().status == "SUCCESSFUL"


def test_a_worker_that_ends_puts_its_job_back_without_counting_it(plan: CutPlan) -> None:
    ENDING.set()
    asked_again: list[int] = []
    job = plan.placing
    # The test's own transaction never commits, so what would happen then is called here.
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(running.transaction, "on_commit", lambda call: call())
        assert running.run(job.pk, "ends", again=asked_again.append) is False
    job.refresh_from_db()
    assert (job.state, job.attempts, job.worker) == (PlacingJob.State.QUEUED, 0, "")
    assert asked_again == [job.pk]
    ENDING.clear()
    assert making.run(plan) is True
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED


def test_a_search_goes_on_while_the_database_restarts(
    plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = {"report": 0, "finish": 0}
    report, finish = lease.report, lease.finish

    def away(*words: Any, **more: Any) -> Any:
        calls["report"] += 1
        if calls["report"] <= 2:
            raise OperationalError("terminating connection due to administrator command")
        return report(*words, **more)

    def away_at_the_end(*words: Any, **more: Any) -> Any:
        calls["finish"] += 1
        if calls["finish"] <= 2:
            raise InterfaceError("connection already closed")
        return finish(*words, **more)

    monkeypatch.setattr(lease, "report", away)
    monkeypatch.setattr(lease, "finish", away_at_the_end)
    monkeypatch.setattr(running, "PAUSES", (0, 0, 0))
    monkeypatch.setattr(running.connection, "close", lambda: None)
    assert making.run(plan) is True
    assert calls["finish"] == 3
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.placing.error == ""


def no_room(*_: Any, **__: Any) -> Any:
    """As Django passes on what SQLite says."""
    full = sqlite3.OperationalError("database or disk is full")
    raise OperationalError(str(full)) from full


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lease, "finish", no_room)
    monkeypatch.setattr(running, "PAUSES", (0, 0))
    monkeypatch.setattr(running, "PAUSES_FOR_WORDS", (0, 0))
    monkeypatch.setattr(running.connection, "close", lambda: None)


def test_a_plan_that_finds_no_room_on_the_disk_ends_in_those_words(
    plan: CutPlan, full_disk: None
) -> None:
    assert making.run(plan) is False
    plan.placing.refresh_from_db()
    assert plan.placing.state == PlacingJob.State.FAILED
    assert "disk is full" in plan.placing.error


def test_where_no_words_find_room_the_job_waits_and_no_attempt_is_counted(
    plan: CutPlan, full_disk: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lease, "fail", no_room)
    assert making.run(plan) is False
    plan.placing.refresh_from_db()
    assert (plan.placing.state, plan.placing.attempts) == (PlacingJob.State.QUEUED, 0)


def test_a_dead_neighbours_job_is_taken_over_at_once(plan: CutPlan) -> None:
    from studio.running.naming import place_of
    from studio.running.placing.reaping import take_over

    lease.claim(plan.placing.pk, f"{place_of(41)}/some-task")
    assert take_over(4) == 0  # another process, whose number merely begins alike
    assert take_over(41) == 1
    plan.placing.refresh_from_db()
    assert plan.placing.state == PlacingJob.State.QUEUED
