"""The last steps of a restore: files first and out again where the database does not go in."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from . import databases, evidence, sqlite
from .fitting import tables_with_rows
from .refusals import Unusable, one_line

MOVED: Final = ".restoring-moved.json"
SERVING: Final = "Stop the server and its workers first, then bring the backup in."
SOMEBODY: Final = "Somebody has just set up a school here; nothing is written over."
BUSY_SECONDS: Final = 5


@contextmanager
def files_moved_in(place: Path, root: Path) -> Iterator[None]:
    """Move the laid-down files in; out again where what follows fails."""
    names = sorted(entry.name for entry in place.iterdir())
    (root / MOVED).write_text(json.dumps(names), encoding="utf-8")
    moved = []
    try:
        for name in names:
            _clear_empty_folders(root / name)
            (place / name).rename(root / name)
            moved.append(name)
        yield
    except BaseException:
        for name in moved:
            _remove(root / name)
        (root / MOVED).unlink(missing_ok=True)
        raise


def _clear_empty_folders(top: Path) -> None:
    """Folders without a file may stand in the way; nothing else does."""
    for here, _, _ in os.walk(top, topdown=False):
        with contextlib.suppress(OSError):
            Path(here).rmdir()


def clear_what_a_killed_run_left() -> None:
    root = evidence.folder()
    note = root / MOVED
    try:
        names = json.loads(note.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        names = []
    for name in names if isinstance(names, list) else []:
        if isinstance(name, str) and Path(name).name == name and name not in {"", ".", ".."}:
            _remove(root / name)
    note.unlink(missing_ok=True)
    for place in (root, Path(settings.VAR_DIR)):
        for left in place.glob(f"{evidence.RESTORING}-*"):
            _remove(left)


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def move_database_in(database: Path) -> None:
    if connection.vendor == "postgresql":
        _empty_tables_give_way()
        from .postgresql import bring_back

        try:
            bring_back(database)
        except BaseException:
            call_command("migrate", interactive=False, verbosity=0)  # as empty as it was
            raise
        return
    live = sqlite.live_file()
    with databases.no_connection(), alone_with(live):
        # Into the same folder first: only there a rename is one step.
        beside = live.with_name(live.name + ".restored")
        try:
            shutil.copyfile(database, beside)
            beside.chmod(0o600)
            with beside.open("rb") as copied:
                os.fsync(copied.fileno())
            beside.replace(live)
        finally:
            beside.unlink(missing_ok=True)


@contextmanager
def alone_with(live: Path) -> Iterator[None]:
    """Nobody else has the file open, it is empty still, and nobody may begin to write."""
    with closing(sqlite3.connect(live, isolation_level=None, timeout=BUSY_SECONDS)) as old:
        try:
            old.execute("PRAGMA journal_mode=DELETE")
            old.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            raise Unusable(f"{live} is in use. {SERVING}") from error
        tables = [str(name) for (name,) in old.execute("SELECT name FROM sqlite_master")]
        if tables_with_rows(old.cursor(), tables):
            raise Unusable(SOMEBODY)
        yield


def _empty_tables_give_way() -> None:
    """Drop the tables of the empty installation, unless somebody has just begun to use them."""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{BUSY_SECONDS}s'")
            there = connection.introspection.table_names(cursor)
            managed = sorted(
                {
                    model._meta.db_table
                    for model in apps.get_models(include_auto_created=True)
                    if model._meta.managed
                }
                & set(there)
            )
            quoted = ", ".join(connection.ops.quote_name(name) for name in managed)
            if managed:
                cursor.execute(f"LOCK TABLE {quoted} IN ACCESS EXCLUSIVE MODE")
                if tables_with_rows(cursor, there):
                    raise Unusable(SOMEBODY)
                cursor.execute(f"DROP TABLE {quoted} CASCADE")
            cursor.execute("DROP TABLE IF EXISTS django_migrations CASCADE")
    except DatabaseError as error:
        raise Unusable(f"The database is in use ({one_line(str(error), 80)}). {SERVING}") from error
