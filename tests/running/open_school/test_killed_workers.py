"""Ten times the worker is killed in the middle of placing: every plan ends, and ends once."""

from __future__ import annotations

import os
import signal
from collections import Counter
from typing import Any

import pytest

from tests.running import looking
from tests.running.conftest import PROJECTS, Open
from tests.running.house import House, children_of, is_alive, wait_for

pytestmark = pytest.mark.slow

KILLS, MOST_ATTEMPTS = 10, 3
KEEP_AT_IT = "4"
"""Seconds of search: long enough to be killed in, short enough to end after the last kill."""


def in_the_middle(one: House, spared: set[int]) -> tuple[int, int] | None:
    """A plan that the living worker is at and has found something for, and that worker."""
    workers = one.workers()
    for plan, (state, worker, _, found) in looking.jobs(one).items():
        process = int(worker.split("/")[1]) if worker else 0
        if state == "running" and found and process in workers and plan not in spared:
            return plan, process
    return None


def test_of_plans_whose_worker_is_killed_ten_times_every_one_ends_once(open_school: Open) -> None:
    one, school, teacher = open_school(BENCHLEDGER_PLACING_SECONDS=KEEP_AT_IT)
    for project in school.projects:
        assert teacher.post(school.plan_new, {"projects": [str(project)]}).status == 302
    plans = sorted(looking.plan_states(one))
    assert len(plans) == PROJECTS

    killed: Counter[int] = Counter()
    for _ in range(KILLS):
        # A third death would be the plan's end, by its own rule; the test below is about that.
        spared = {plan for plan, times in killed.items() if times == MOST_ATTEMPTS - 1}
        plan, worker = wait_for(lambda spared=spared: in_the_middle(one, spared))
        os.kill(worker, signal.SIGKILL)
        killed[plan] += 1
        wait_for(lambda worker=worker: not is_alive(worker))

    wait_for(lambda: set(looking.plan_states(one).values()) == {"proposed"})
    wait_for(lambda: not looking.under_way(one))
    assert looking.ended_once(one, plans) == []
    for plan, (state, _, attempts, _) in looking.jobs(one).items():
        assert (state, attempts) == ("done", 1 + killed[plan])

    approved = [teacher.post(f"/plans/{plan}/approve/", {}).status for plan in plans]
    assert set(approved) <= {302, 409}
    states = Counter(looking.plan_states(one).values())
    assert states["approved"] >= 1
    assert states["approved"] + states["proposed"] == PROJECTS
    held = looking.rows(one, "SELECT stock_piece_id FROM studio_planstock WHERE live")
    assert len(held) == len(set(held)) >= states["approved"]
    proved = one.manage("audit_stock")
    assert proved.returncode == 0, proved.stdout


def test_plan_whose_worker_is_killed_a_third_time_is_given_up_once_and_in_words(
    open_school: Open,
) -> None:
    one, school, teacher = open_school(BENCHLEDGER_PLACING_SECONDS="60")
    teacher.post(school.plan_new, {"projects": [str(school.projects[0])]})
    for _ in range(MOST_ATTEMPTS):
        _, worker = wait_for(lambda: in_the_middle(one, set()))
        os.kill(worker, signal.SIGKILL)
        wait_for(lambda worker=worker: not is_alive(worker))
    ((plan, (state, _, attempts, found)),) = wait_for(lambda: given_up(one)).items()
    assert (state, attempts, found) == ("failed", MOST_ATTEMPTS, True)
    told = "SELECT COUNT(*) FROM classroom_history WHERE verb = 'placing-given-up'"
    assert looking.number(one, told) == 1
    assert b"Placing did not come to its end" in teacher.get(f"/plans/{plan}/").body
    # The best plan so far can be kept, and then it has ended like any other.
    assert teacher.post(f"/plans/{plan}/stop/", {}).status == 302
    assert looking.ended_once(one, [plan]) == []


def given_up(one: House) -> dict[int, tuple[Any, ...]] | None:
    found = looking.jobs(one)
    return dict(found) if all(job[0] == "failed" for job in found.values()) else None


def searching(worker: int) -> list[int]:
    return children_of(worker, "studio.core.placing.search_child")


def test_plan_whose_search_is_killed_ends_once_all_the_same_and_the_worker_lives(
    open_school: Open,
) -> None:
    """As the system does with what takes too much memory."""
    # Without trial layouts there is one search, and no doubt which process to kill.
    one, school, teacher = open_school(
        BENCHLEDGER_PLACING_SECONDS="300", BENCHLEDGER_TRIAL_LOOPS="0"
    )
    teacher.post(school.plan_new, {"projects": [str(school.projects[0])]})
    plan, worker = wait_for(lambda: in_the_middle(one, set()))
    (search,) = searching(worker)
    os.kill(search, signal.SIGKILL)
    wait_for(lambda: looking.jobs(one)[plan][2] == 2)
    assert teacher.post(f"/plans/{plan}/stop/", {}).status == 302
    wait_for(lambda: looking.plan_states(one) == {plan: "proposed"})
    ((state, _, attempts, _),) = looking.jobs(one).values()
    assert (state, attempts) == ("done", 2)
    assert looking.ended_once(one, [plan]) == []
    assert one.workers() == [worker]
    assert len(searching(worker)) == 1
