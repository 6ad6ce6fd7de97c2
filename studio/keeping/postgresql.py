"""PostgreSQL: copied by pg_dump and brought back by pg_restore, which must be on PATH.

pg_dump works on the very snapshot in which the rows are counted and the files' names are read.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, Final

from django.db import connection

from . import evidence
from .refusals import NotKept, Unusable, one_line
from .snapshots import Snapshot
from .sqlite import count_faults

_COPY: Final = re.compile(rb'COPY (?:"?\w+"?\.)?"?(\w+)"? \(.*\) FROM stdin;\n')
_END: Final = b"\\.\n"
INSTALL: Final = "install PostgreSQL's client programs (Debian: postgresql-client)"


def snapshot(to: Path) -> Snapshot:
    program = _program("pg_dump")
    if program is None:
        raise NotKept(f"pg_dump is not found on this machine; {INSTALL}.")
    with _one_moment() as (ask, moment):
        tables = {name: _rows(ask, name) for name in _tables(ask)}
        taken = Snapshot(
            file=to,
            kind="postgresql",
            tables=tables,
            migrations=_migrations(ask) if "django_migrations" in tables else (),
            named=evidence.named(ask, _columns(ask)),
        )
        arguments, environment = _where()
        done = subprocess.run(
            [
                program,
                *("--format=custom", "--no-owner", "--no-privileges", "--no-password"),
                *(f"--snapshot={moment}", f"--file={to}"),
                *arguments,
            ],
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            check=False,
        )
    if done.returncode:
        raise NotKept(f"pg_dump could not copy the database: {_said(done.stderr)}.")
    return taken


def faults(file: Path, expected: dict[str, int]) -> list[str]:
    """What is wrong with a dump, found by reading it whole. Raises Unusable without pg_restore."""
    program = _program("pg_restore")
    if program is None:
        raise Unusable(f"A PostgreSQL backup is proved by pg_restore, which is missing; {INSTALL}.")
    with (
        file.open("rb") as dump,
        subprocess.Popen(
            [program, "--file=-"], stdin=dump, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        ) as reading,
    ):
        assert reading.stdout is not None
        assert reading.stderr is not None
        found = _counted(reading.stdout)
        said = reading.stderr.read()
    if reading.returncode:
        return [f"The database in it is damaged: {_said(said)}."]
    return count_faults(found, expected)


def bring_back(file: Path) -> None:
    """Put the dump's tables in the place of the installation's empty ones.

    The dump goes in whole or not at all. Raises Unusable, or NotKept when it did not go in.
    """
    program = _program("pg_restore")
    if program is None:
        raise Unusable(f"pg_restore is not found on this machine; {INSTALL}.")
    arguments, environment = _where()
    done = subprocess.run(
        [
            program,
            *("--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges"),
            *("--no-password", f"--dbname={arguments[-1]}", *arguments[:-1], str(file)),
        ],
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        check=False,
    )
    if done.returncode:
        raise NotKept(f"pg_restore could not bring the database in: {_said(done.stderr)}.")


def _counted(sql: IO[bytes]) -> dict[str, int]:
    """Rows of each table in a dump written out as SQL."""
    found: dict[str, int] = {}
    table = ""
    for line in sql:
        if table:
            if line == _END:
                table = ""
            else:
                found[table] += 1
        elif line.startswith(b"COPY ") and (begun := _COPY.fullmatch(line)):
            table = begun[1].decode()
            found[table] = 0
    return found


@contextmanager
def _one_moment() -> Iterator[tuple[evidence.Ask, str]]:
    """A connection of its own whose every question is answered as of one moment."""
    own = connection.copy()
    try:
        with own.cursor() as cursor:
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            moment = str(cursor.fetchone()[0])

            def ask(sql: str) -> Iterable[tuple[Any, ...]]:
                cursor.execute(sql)
                return list(cursor.fetchall())

            yield ask, moment
    finally:
        own.close()


def _tables(ask: evidence.Ask) -> list[str]:
    rows = ask(
        "SELECT tablename FROM pg_tables WHERE schemaname = current_schema() ORDER BY tablename"
    )
    return [str(name) for (name,) in rows]


def _columns(ask: evidence.Ask) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    rows = ask(
        "SELECT table_name, column_name FROM information_schema.columns "
        "WHERE table_schema = current_schema()"
    )
    for table, column in rows:
        found.setdefault(str(table), set()).add(str(column))
    return found


def _rows(ask: evidence.Ask, table: str) -> int:
    quoted = connection.ops.quote_name(table)
    return next(int(count) for (count,) in ask(f"SELECT count(*) FROM {quoted}"))  # noqa: S608


def _migrations(ask: evidence.Ask) -> tuple[tuple[str, str], ...]:
    rows = ask("SELECT app, name FROM django_migrations ORDER BY id")
    return tuple((str(app), str(name)) for app, name in rows)


def _where() -> tuple[list[str], dict[str, str]]:
    """Arguments that name the database (its name last), and the environment with the rest."""
    from django.db.backends.postgresql.client import DatabaseClient

    arguments, more = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    return arguments[1:], {**os.environ, **(more or {}), "LC_ALL": "C"}


def _program(name: str) -> str | None:
    return shutil.which(name)


def _said(error: bytes) -> str:
    lines = [line for line in error.decode(errors="replace").splitlines() if line.strip()]
    return one_line(" ".join(lines[:3])) or "it said nothing"
