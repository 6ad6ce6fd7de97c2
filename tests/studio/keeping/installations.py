"""Installations of their own beside the tests' one, each with its folders and its database."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.utils.crypto import get_random_string

Said = subprocess.CompletedProcess[str]


def command(folder: Path, *words: object, url: str = "", **more: str) -> Said:
    """Run `manage.py` in the installation whose data lie in `folder`."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("BENCHLEDGER_", "DJANGO_", "DATABASE_"))
    }
    place = {"BENCHLEDGER_VAR": str(folder), "BENCHLEDGER_PREPARE": "0"}
    return subprocess.run(
        [sys.executable, "manage.py", *map(str, words)],
        cwd=settings.BASE_DIR,
        env=kept | place | ({"DATABASE_URL": url} if url else {}) | more,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


@contextmanager
def empty_database() -> Iterator[str]:
    """The address of an empty database of the tests' kind; "" is SQLite in the folder."""
    if connection.vendor != "postgresql":
        yield ""
        return
    name = f"keeping_{get_random_string(10, 'abcdefghijklmnopqrstuvwxyz')}"
    own = connection.settings_dict
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    try:
        who = f"{own['USER']}:{own['PASSWORD']}" if own["PASSWORD"] else own["USER"]
        yield f"postgres://{who}@{own['HOST'] or '127.0.0.1'}:{own['PORT'] or 5432}/{name}"
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")
