"""Looks into an installation's database from outside, as plain SQL on SQLite and PostgreSQL."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import Any

from .house import House


def rows(house: House, sql: str) -> list[tuple[Any, ...]]:
    """What the query finds; nothing of the app's own is used, and nothing is held afterwards."""
    url = house.environment.get("DATABASE_URL", "")
    if url.startswith("postgres"):
        import psycopg

        with psycopg.connect(url) as connection:
            return list(connection.execute(sql).fetchall())
    file = house.var / "benchledger.sqlite3"
    with closing(sqlite3.connect(file, timeout=60)) as connection:
        return list(connection.execute(sql).fetchall())


def number(house: House, sql: str) -> int:
    return int(rows(house, sql)[0][0])


def change(house: House, sql: str) -> None:
    url = house.environment.get("DATABASE_URL", "")
    if url.startswith("postgres"):
        import psycopg

        with psycopg.connect(url) as connection:
            connection.execute(sql)
        return
    file = house.var / "benchledger.sqlite3"
    with closing(sqlite3.connect(file, timeout=60)) as connection, connection:
        connection.execute(sql)


def jobs(house: House) -> dict[int, tuple[str, str, int, bool]]:
    """State, worker, attempts, and whether a plan has been found, by the plan's number."""
    sql = "SELECT plan_id, state, worker, attempts, progress FROM studio_placingjob"
    return {
        plan: (state, worker, attempts, bool(_read(progress).get("plan")))
        for plan, state, worker, attempts, progress in rows(house, sql)
    }


def _read(progress: Any) -> dict[str, Any]:
    return dict(json.loads(progress) if isinstance(progress, str) else progress or {})


def plan_states(house: House) -> dict[int, str]:
    return dict(rows(house, "SELECT id, state FROM studio_cutplan"))


def under_way(house: House) -> int:
    """Tasks that the queue in the database says are being done."""
    sql = "SELECT COUNT(*) FROM django_tasks_database_dbtaskresult WHERE status = 'RUNNING'"
    return number(house, sql)


def ended_once(house: House, plans: list[int]) -> list[str]:
    """What is wrong with these plans, each of which should be proposed, and exactly once."""
    wrong = []
    states, working = plan_states(house), jobs(house)
    for plan in plans:
        if states.get(plan) != "proposed":
            wrong.append(f"plan {plan} is {states.get(plan)}, its job {working.get(plan)}")
        told = number(
            house,
            "SELECT COUNT(*) FROM classroom_history "
            f"WHERE verb = 'placed' AND subject = 'cutplan:{plan}'",
        )
        if told != 1:
            wrong.append(f"plan {plan} was placed {told} times by its history")
        shares = number(house, f"SELECT COUNT(*) FROM studio_planproject WHERE plan_id = {plan}")
        quotes = number(house, f"SELECT COUNT(*) FROM studio_quote WHERE plan_id = {plan}")
        if shares != quotes:
            wrong.append(f"plan {plan} has {quotes} quotes for {shares} projects")
    if len(states) != len(set(plans)):
        wrong.append(f"{len(states)} plans where {len(plans)} were asked for")
    reserved = number(house, "SELECT COUNT(*) FROM studio_planstock")
    if reserved:
        wrong.append(f"{reserved} stock pieces are reserved, and nobody has approved anything")
    return wrong
