"""Several people, or one impatient one, click at the same moment: one deed, no half ones."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from .race import AT_ONCE, run

ONE_OF_THEM = {"done": 1, "refused": AT_ONCE - 1}


def on_sqlite(folder: Path) -> dict[str, dict[str, int]]:
    """In a process and a file of its own: the tests' database in memory takes one writer only."""
    environment = os.environ | {
        "BENCHLEDGER_VAR": str(folder),
        "DATABASE_URL": f"sqlite:///{folder / 'race.sqlite3'}",
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "PYTHONPATH": str(settings.BASE_DIR),
    }
    done = subprocess.run(
        [sys.executable, "-m", "tests.classroom.race"],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    found: dict[str, dict[str, int]] = json.loads(done.stdout.splitlines()[-1])
    return found


@pytest.mark.django_db(transaction=True)
def test_of_six_clicks_at_once_one_counts(tmp_path: Path) -> None:
    found = on_sqlite(tmp_path) if connection.vendor == "sqlite" else run()
    assert found == {
        "first run": ONE_OF_THEM,
        "class list": ONE_OF_THEM,
        "cards": ONE_OF_THEM,
        "questions": {"done": AT_ONCE},  # each gets the one attempt
        "permit": {"done": AT_ONCE},  # each gets the one permit
        "withdrawal": ONE_OF_THEM,
        "rows": {"schools": 1, "people": 3, "seats": 2, "attempts": 1, "permits": 1},
    }
