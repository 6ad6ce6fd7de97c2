"""A database of the measurement's own on a PostgreSQL server, dropped at the end."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit, urlunsplit


@contextmanager
def new_database(address: str) -> Iterator[str]:
    """The address of a new, empty database beside the one that `address` names.

    The named database itself is only connected to. The role must be allowed to make databases.
    """
    import psycopg
    from psycopg import sql

    name = f"benchledger_load_{os.getpid()}"
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    try:
        yield urlunsplit(urlsplit(address)._replace(path=f"/{name}"))
    finally:
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(
                sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name))
            )
