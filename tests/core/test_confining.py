"""A confined child ends with the worker that started it, however that one ends."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable

import pytest

from studio.core import confining
from studio.core.confining import ROOT, Ended, confined, end_all
from tests.running.house import is_alive

WRONGS = "tests.core.reading.scan.wrongs"
LONG = 600  # seconds of processor time, so that no child here ends by its own bound

PARENT = f"""
import sys, threading, time
sys.path.insert(0, {str(ROOT)!r})
from studio.core import confining
def tell():
    while not confining._RUNNING:
        time.sleep(0.01)
    print(next(iter(confining._RUNNING)).pid, flush=True)
threading.Thread(target=tell, daemon=True).start()
confining.confined({WRONGS!r}, b"forever", seconds={LONG}, memory_bytes=400_000_000)
"""


def in_time(found: Callable[[], object]) -> bool:
    end = time.monotonic() + 60
    while not found() and time.monotonic() < end:
        time.sleep(0.02)
    return bool(found())


def test_work_that_is_cut_short_is_told_apart_from_a_bad_file() -> None:
    said: list[BaseException] = []

    def ask() -> None:
        try:
            confined(WRONGS, b"forever", seconds=LONG, memory_bytes=400_000_000)
        except Exception as error:
            said.append(error)

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    assert in_time(lambda: confining._RUNNING)
    (child,) = confining._RUNNING
    end_all()
    asking.join(timeout=60)
    assert [type(error) for error in said] == [Ended]
    assert child.returncode is not None
    assert not confining._RUNNING
    assert not confining._CUT
    assert confined(WRONGS, b"fine", seconds=60, memory_bytes=400_000_000) == b"fine"


@pytest.mark.skipif(os.name != "posix", reason="The lifeline is a pipe that only POSIX hands on.")
def test_a_child_whose_parent_is_killed_ends_too() -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    try:
        assert is_alive(child)
        parent.kill()
        parent.wait()
        assert in_time(lambda: not is_alive(child))
    finally:
        parent.stdout.close()
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)


@pytest.mark.skipif(os.name != "posix", reason="Only there a process tells itself to end.")
def test_a_word_to_end_for_the_whole_group_is_left_to_the_parent() -> None:
    answer = confined(WRONGS, b"told to end", seconds=60, memory_bytes=400_000_000)
    assert answer == b"told to end"
