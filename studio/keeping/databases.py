"""What keeping needs of a database, whichever it is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection

from .snapshots import Snapshot


def kind() -> str:
    return connection.vendor


def snapshot(to: Path) -> Snapshot:
    """Copy the live database to the file `to`, while everybody goes on working.

    Raises NotKept, or OSError and the database's own errors.
    """
    if connection.vendor == "postgresql":
        from .postgresql import snapshot as copied
    else:
        from .sqlite import snapshot as copied
    return copied(to)


def bytes_in_all() -> int:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_database_size(current_database())")
            return int(cursor.fetchone()[0])
    from .sqlite import live_file

    return live_file().stat().st_size


def holds_school() -> bool:
    """Asked in plain SQL, as the tables may be those of an earlier version."""
    with connection.cursor() as cursor:
        if "classroom_school" not in connection.introspection.table_names(cursor):
            return False
        cursor.execute("SELECT 1 FROM classroom_school LIMIT 1")
        return cursor.fetchone() is not None


@contextmanager
def no_connection() -> Iterator[None]:
    """Within it, this process has no connection to the database."""
    connection.close()
    try:
        yield
    finally:
        connection.close()
