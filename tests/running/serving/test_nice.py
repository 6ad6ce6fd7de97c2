"""How far background work steps back, asked of a real process."""

from __future__ import annotations

import json
import os

import pytest

from tests.running.house import said_by

pytestmark = pytest.mark.skipif(
    not hasattr(os, "sched_getscheduler"), reason="Only Linux tells of classes."
)

SAYS = """
import json, os, subprocess, sys
from studio.serving.nice import be_nice
be_nice()
ask = "import json, os; print(json.dumps([os.nice(0), os.sched_getscheduler(0)]))"
child = subprocess.run([sys.executable, "-c", ask], capture_output=True, check=True).stdout
print(json.dumps([[os.nice(0), os.sched_getscheduler(0)], json.loads(child)]))
"""


def said_with(nice: str) -> list[list[int]]:
    """Niceness and class of a process that steps back, and of one that it starts."""
    said = said_by(SAYS, seconds=60, environment={"BENCHLEDGER_NICE": nice})
    found: list[list[int]] = json.loads(said)
    return found


def test_work_in_the_background_steps_back_and_is_never_starved() -> None:
    """In the idle class a worker that holds the database's one lock would hold up every page."""
    assert said_with("") == [[19, os.SCHED_OTHER]] * 2


def test_a_lesser_niceness_is_kept_to() -> None:
    assert said_with(str(max(7, os.nice(0)))) == [[max(7, os.nice(0)), os.SCHED_OTHER]] * 2
