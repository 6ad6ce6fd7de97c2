"""A confined child ends with the worker that started it, however that one ends."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from studio.core import confining
from studio.core.confining import ROOT, Ended, confined, end_all
from tests.core.holding import held, needs_holding
from tests.core.reading.scan import wrongs
from tests.running.house import is_alive, said_by, wait_for

WRONGS = wrongs.__name__
LONG = 600  # seconds of processor time, so that no child here ends by its own bound
SOON = 60.0  # seconds; a busy machine takes its time

PARENT = f"""
import sys, threading, time
sys.path.insert(0, {str(ROOT)!r})
from studio.core import confining
def tell():
    while not confining._RUNNING:
        time.sleep(0.01)
    print(next(iter(confining._RUNNING)).pid, flush=True)
threading.Thread(target=tell, daemon=True).start()
confining.confined(
    {WRONGS!r}, sys.argv[1].encode(), seconds={LONG}, memory_bytes=400_000_000
)
"""


def begun() -> tuple[threading.Thread, subprocess.Popen[bytes], list[BaseException]]:
    """Somebody waits for a child that never answers: who, for which, and what is raised then."""
    said: list[BaseException] = []

    def ask() -> None:
        try:
            confined(WRONGS, b"forever", seconds=LONG, memory_bytes=400_000_000)
        except Exception as error:
            said.append(error)

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    (child,) = wait_for(lambda: set(confining._RUNNING), SOON)
    return asking, child, said


def test_work_that_is_cut_short_is_told_apart_from_a_bad_file() -> None:
    asking, child, said = begun()
    end_all()
    asking.join(timeout=60)
    assert [type(error) for error in said] == [Ended]
    wait_for(lambda: child.poll() is not None, SOON)
    assert not confining._RUNNING
    assert not confining._CUT
    assert confined(WRONGS, b"fine", seconds=60, memory_bytes=400_000_000) == b"fine"


@pytest.mark.skipif(os.name != "posix", reason="The lifeline is a pipe that only POSIX hands on.")
def test_a_child_whose_parent_is_killed_ends_too() -> None:
    _ends_with_its_parent("forever", lambda: True)


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux sends such a signal.")
def test_it_does_so_too_while_compiled_code_keeps_the_interpreter(tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.mkdir()
    _ends_with_its_parent(wrongs.ALONE.decode() + str(there), lambda: not there.exists())


def _ends_with_its_parent(work: str, has_begun: Callable[[], bool]) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, work], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    try:
        wait_for(has_begun, SOON)
        assert is_alive(child)
        parent.kill()
        parent.wait()
        wait_for(lambda: not is_alive(child), SOON)
    finally:
        parent.stdout.close()
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)


@needs_holding
def test_whoever_is_cut_short_does_not_wait_for_the_end_of_the_child() -> None:
    asking, child, said = begun()
    with held(child):
        end_all()
        asking.join(timeout=60)
        assert [type(error) for error in said] == [Ended]
        assert child.poll() is None
    wait_for(lambda: child.poll() is not None, SOON)


@pytest.mark.skipif(os.name != "posix", reason="Only there a process tells itself to end.")
def test_a_word_to_end_for_the_whole_group_is_left_to_the_parent() -> None:
    answer = confined(WRONGS, b"told to end", seconds=60, memory_bytes=400_000_000)
    assert answer == b"told to end"


CLASS = f"""
import os, sys
sys.path.insert(0, {str(ROOT)!r})
from studio.core.confining import confined
os.nice(int(sys.argv[1]))
print(confined({WRONGS!r}, b"class", seconds=60, memory_bytes=400_000_000).decode())
"""


@pytest.mark.skipif(not hasattr(os, "SCHED_IDLE"), reason="Only Linux has such a class.")
@pytest.mark.parametrize("niceness", [0, 19])
def test_a_child_of_who_gives_way_takes_only_what_nothing_else_wants(niceness: int) -> None:
    """sched(7): SCHED_IDLE is below even the lowest niceness of the usual class."""
    wanted = os.SCHED_IDLE if niceness + os.nice(0) >= 19 else os.SCHED_OTHER
    assert said_by(CLASS, str(niceness)) == f"{wanted}\n"
