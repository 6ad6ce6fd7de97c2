"""SQLite: copied by its own online backup, proved by opening the copy.

In WAL mode the copy reads one snapshot and holds up no writer. The copy is put into the plain
journal mode, so that it is one file.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from django.db import connection

from . import evidence
from .refusals import NotKept, one_line
from .snapshots import Snapshot

PATIENCE: Final = 60.0
"""Seconds that a copy waits for a lock."""


def live_file() -> Path:
    return Path(str(connection.settings_dict["NAME"]))


def snapshot(to: Path) -> Snapshot:
    try:
        with (
            closing(
                sqlite3.connect(_address(live_file(), "rw"), uri=True, timeout=PATIENCE)
            ) as live,
            closing(sqlite3.connect(to, isolation_level=None)) as copy,
        ):
            live.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.DatabaseError as error:
        if "disk is full" in str(error):
            raise
        raise NotKept(
            f"The database {live_file()} cannot be copied: {one_line(str(error))}."
        ) from error
    with reading(to) as copy:
        tables = counts(copy)
        return Snapshot(
            file=to,
            kind="sqlite",
            tables=tables,
            migrations=migrations(copy, tables),
            named=named(copy),
        )


@contextmanager
def reading(file: Path) -> Iterator[sqlite3.Connection]:
    """Open a copy that nobody else has open, and never change it or believe what it defines."""
    with closing(sqlite3.connect(_address(file, "ro&immutable=1"), uri=True)) as copy:
        copy.execute("PRAGMA trusted_schema=OFF")
        copy.execute("PRAGMA cell_size_check=ON")
        yield copy


def faults(file: Path, expected: dict[str, int]) -> list[str]:
    """What is wrong with a copy, in sentences; `expected` are the rows of each table."""
    try:
        with reading(file) as copy:
            said = [str(row[0]) for row in copy.execute("PRAGMA integrity_check(5)")]
            if said != ["ok"]:
                return [f"The database in it is damaged: {one_line('; '.join(said))}."]
            odd = copy.execute("SELECT 1 FROM sqlite_master WHERE type IN ('trigger', 'view')")
            if odd.fetchone():
                return ["The database in it has triggers or views; Benchledger makes none."]
            return count_faults(counts(copy), expected)
    except (sqlite3.DatabaseError, UnicodeDecodeError, ValueError) as error:
        return [f"The database in it cannot be opened: {one_line(str(error))}."]


def count_faults(found: dict[str, int], expected: dict[str, int]) -> list[str]:
    return [
        f"The database in it has {found.get(table, 0)} rows in {table}; "
        f"{expected.get(table, 0)} were kept."
        for table in sorted({*found, *expected})
        if found.get(table) != expected.get(table)
    ][:20]


def counts(copy: sqlite3.Connection) -> dict[str, int]:
    return {
        table: int(copy.execute(f'SELECT count(*) FROM "{_quoted(table)}"').fetchone()[0])  # noqa: S608
        for table in _tables(copy)
    }


def named(copy: sqlite3.Connection) -> set[str]:
    columns = {
        table: {str(row[1]) for row in copy.execute(f'PRAGMA table_info("{_quoted(table)}")')}
        for table in _tables(copy)
    }

    def ask(sql: str) -> Iterable[tuple[Any, ...]]:
        return copy.execute(sql)

    return evidence.named(ask, columns)


def migrations(copy: sqlite3.Connection, tables: Iterable[str]) -> tuple[tuple[str, str], ...]:
    if "django_migrations" not in tables:
        return ()
    rows = copy.execute("SELECT app, name FROM django_migrations ORDER BY id")
    return tuple((str(app), str(name)) for app, name in rows)


def _tables(copy: sqlite3.Connection) -> list[str]:
    rows = copy.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' "
        "ESCAPE '\\' ORDER BY name"
    )
    return [str(name) for (name,) in rows]


def _quoted(name: str) -> str:
    return name.replace('"', '""')


def _address(file: Path, mode: str) -> str:
    return f"file:{quote(str(file.absolute()))}?mode={mode}"
