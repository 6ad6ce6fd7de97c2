"""The database is away in the middle of everything: pages come back, the worker goes on by itself,
and no plan is lost."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing

import pytest

from tests.running import looking, postgres
from tests.running.conftest import Open
from tests.running.filling import School, fill
from tests.running.house import House, wait_for
from tests.running.visiting import Visitor

pytestmark = pytest.mark.slow

HELD_SECONDS = 25.0
"""Longer than a connection to SQLite waits by itself (20 s)."""
AWAY_SECONDS = 6.0
SEARCH = "8"


def ask_for_plan(teacher: Visitor, school: School, number: int) -> None:
    form = {"projects": [str(school.projects[number])]}
    assert teacher.post(school.plan_new, form).status == 302


def at_work(one: House) -> bool:
    return any(state == "running" and found for state, _, _, found in looking.jobs(one).values())


def all_proposed(one: House, count: int) -> bool:
    states = list(looking.plan_states(one).values())
    return states == ["proposed"] * count


def still_the_same_and_no_plan_lost(
    one: House, school: School, teacher: Visitor, worker: list[int]
) -> None:
    """After the fault: the first plan ends, a new one too, by the worker that was there before."""
    wait_for(lambda: all_proposed(one, 1))
    ask_for_plan(teacher, school, 1)
    wait_for(lambda: all_proposed(one, 2))
    wait_for(lambda: not looking.under_way(one))
    assert looking.ended_once(one, sorted(looking.plan_states(one))) == []
    assert one.workers() == worker
    wait_for(one.is_well)


def test_sqlite_held_by_another_process_for_25_seconds_loses_nothing(open_school: Open) -> None:
    one, school, teacher = open_school(BENCHLEDGER_PLACING_SECONDS=SEARCH)
    worker = one.workers()
    ask_for_plan(teacher, school, 0)
    wait_for(lambda: at_work(one))
    file = one.var / "benchledger.sqlite3"
    with closing(sqlite3.connect(file, timeout=60, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        held_until = time.monotonic() + HELD_SECONDS
        # Whoever only reads does not notice.
        while time.monotonic() < held_until:
            assert teacher.get("/plans/").status == 200
            time.sleep(0.5)
        holder.execute("ROLLBACK")
    still_the_same_and_no_plan_lost(one, school, teacher, worker)


def test_form_that_is_sent_while_sqlite_is_held_is_saved_whole_or_not_at_all(
    open_school: Open,
) -> None:
    one, school, teacher = open_school()
    sums = "SELECT COUNT(*) FROM inventory_budgetentry"
    before = looking.number(one, sums)
    form = {"direction": "in", "amount": "5.00", "reason": "a gift"}
    file = one.var / "benchledger.sqlite3"
    with closing(sqlite3.connect(file, timeout=60, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        teacher.ask("POST", school.allot, form)
        time.sleep(HELD_SECONDS)
        holder.execute("ROLLBACK")
    status = teacher.hear().status
    saved = looking.number(one, sums) - before
    assert (status == 302) == (saved == 1), (status, saved)
    assert saved in (0, 1)
    assert teacher.post(school.allot, form).status == 302
    assert looking.number(one, sums) == before + saved + 1
    assert one.manage("audit_stock").returncode == 0


@pytest.fixture
def cluster() -> Iterator[postgres.Cluster]:
    pytest.importorskip("psycopg", reason="PostgreSQL belongs to a district's installation.")
    with postgres.cluster() as found:
        yield found


@pytest.mark.postgres
def test_postgresql_restarted_under_work_loses_nothing(
    open_school: Open, cluster: postgres.Cluster
) -> None:
    one, _, _ = open_school(
        start=False, BENCHLEDGER_PLACING_SECONDS=SEARCH, DATABASE_URL=cluster.url
    )
    school = fill(one, projects=2)
    one.open()
    with Visitor(one, school.session) as teacher:
        worker = one.workers()
        assert teacher.get("/plans/").status == 200
        ask_for_plan(teacher, school, 0)
        wait_for(lambda: at_work(one))
        cluster.stop()
        assert one.health()["database"] != "ok"
        # A page says that it could not be made, and the server answers the next one.
        assert teacher.get("/plans/").status >= 500
        time.sleep(AWAY_SECONDS)
        cluster.start()
        wait_for(lambda: teacher.get("/plans/").status == 200)
        still_the_same_and_no_plan_lost(one, school, teacher, worker)
