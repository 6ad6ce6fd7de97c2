"""The search in a process of its own, which stays warm from one job to the next.

Whoever asks may hold leases, rows and a database's lock, so it must not wait for processors; the
search holds nothing and can take what is left over (`studio.core.confining`). It cannot take its
caller along either: what dies in there is told as `Died`, and the next job gets a new process.

Both sides say one JSON object a line. The process: `{"plan": …}` at every word of progress (null
where it is the one before, or none yet), which is answered by `true` to go on or `false` to stop;
then `{"found": …}`, or `{"fault": traceback}`.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import queue
import subprocess
import threading
import time
from collections.abc import Callable
from typing import Any

from studio.core.confining import LOOK_SECONDS, Ended, child_of, was_cut
from studio.core.cutting.formats import job_to_json, plan_from_json
from studio.core.cutting.job import Job, Measures, Plan

PROCESS = f"{__package__}.search_child"
MEMORY_BYTES = 6_000_000_000  # address space, of which libraries and compiled code take most
WORD_SECONDS = 2.0
"""Whoever waits gets a word so often, however little of the processors the search is given."""
HUNG_SECONDS = 900.0
"""So long after its time was over a search that has not ended never will."""
_ENVIRONMENT = ("NUMBA_CACHE_DIR", "HOME", "USERPROFILE", "LOCALAPPDATA", "NUMBA_NUM_THREADS")

NOTHING_YET = Plan((), (), Measures(), (), seed=0, seconds=0.0, rounds=0)


class Died(Exception):
    """The process ended in the middle of the search, had to be ended, or could not be started."""


class Fault(Exception):
    """The search ended in an exception, whose traceback this is."""


class Searching:
    """One process that places, one job at a time. Raises Died where none can be started."""

    def __init__(self) -> None:
        self._lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._words: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        environment = {name: os.environ[name] for name in _ENVIRONMENT if name in os.environ}
        with contextlib.ExitStack() as house:
            try:
                self._child: subprocess.Popen[bytes] = house.enter_context(
                    child_of(PROCESS, (-1, MEMORY_BYTES, -1), environment, stderr=None)
                )
                for end in (self._listen, self._speak):
                    threading.Thread(target=end, name="placing", daemon=True).start()
            except (OSError, RuntimeError) as without:  # no memory, no process or no thread
                raise Died(f"no process for the search: {without}") from without
            self._house = house.pop_all()

    def _listen(self) -> None:
        assert self._child.stdout is not None
        with contextlib.suppress(OSError, ValueError):
            for line in self._child.stdout:
                if line.endswith(b"\n"):  # else it died over it
                    self._lines.put(line)
        self._lines.put(b"")

    def _speak(self) -> None:
        """A pipe holds less than a large job, and who does not read yet may be hardly running."""
        assert self._child.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            while word := self._words.get():
                self._child.stdin.write(word)
                self._child.stdin.flush()

    @property
    def is_alive(self) -> bool:
        return self._child.poll() is None

    def say(self, word: object) -> None:
        self._words.put(json.dumps(word).encode() + b"\n")

    def heard(self, seconds: float) -> dict[str, Any] | None:
        """The next word, or None where none came in time. Raises Ended as soon as it is cut short,
        as a process that is killed is not gone at once on a busy machine."""
        last = time.monotonic() + seconds
        while not was_cut(self._child):
            left = last - time.monotonic()
            try:
                line = self._lines.get(timeout=min(LOOK_SECONDS, max(0.0, left)))
            except queue.Empty:
                if left <= 0.0:
                    return None
                continue
            if not line:
                raise self._gone()
            word: dict[str, Any] = json.loads(line)
            return word
        raise Ended

    def _gone(self) -> Exception:
        if was_cut(self._child):
            return Ended()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._child.wait(timeout=5)
        return Died(f"the search's process ended with status {self._child.returncode}")

    def end(self) -> None:
        self._words.put(b"")
        self._house.close()


_FREE: list[Searching] = []
"""Processes that wait for a job. One caller takes one; several at once have one each."""


def get_ready() -> None:
    """Begin to load and compile, so that the first job need not wait for that."""
    with contextlib.suppress(Died):
        _FREE.append(Searching())


def place(
    job: Job,
    *,
    seconds: float | None = None,
    seed: int = 1,
    rounds: int | None = None,
    on_progress: Callable[[Plan], bool] | None = None,
    first_within: float = 0.0,
) -> Plan:
    """As `studio.core.placing.place`, in another process.

    `on_progress` gets an empty plan besides where nothing was to be said for two seconds, so that
    its caller can say it is alive and hears at once of what ends it. Raises Died, Fault, and Ended
    where `confining.end_all` cut the search short.
    """
    searching = _taken()
    try:
        plan = _asked(
            searching,
            {
                "job": job_to_json(job),
                "seconds": seconds,
                "seed": seed,
                "rounds": rounds,
                "first_within": first_within,
            },
            on_progress or (lambda _: True),
            None if seconds is None else max(seconds, first_within) + HUNG_SECONDS,
        )
    except BaseException:
        searching.end()
        raise
    _FREE.append(searching)
    return plan


def _taken() -> Searching:
    while True:
        try:
            searching = _FREE.pop()
        except IndexError:
            return Searching()
        if searching.is_alive:
            return searching
        searching.end()


def _asked(
    searching: Searching,
    asked: dict[str, Any],
    on_progress: Callable[[Plan], bool],
    longest: float | None,
) -> Plan:
    began = time.monotonic()
    plan = NOTHING_YET
    go_on = True
    searching.say(asked)
    while longest is None or time.monotonic() - began <= longest:
        word = searching.heard(WORD_SECONDS)
        if word is None:
            go_on = on_progress(NOTHING_YET) and go_on
        elif "found" in word:
            return plan_from_json(word["found"])
        elif "fault" in word:
            raise Fault(word["fault"])
        else:
            plan = plan if word["plan"] is None else plan_from_json(word["plan"])
            go_on = on_progress(plan) and go_on
            searching.say(go_on)
    raise Died(f"the search did not end within {longest:.0f} s")


@atexit.register
def end_the_free() -> None:
    """Every process that has no job ends."""
    with contextlib.suppress(IndexError):
        while True:
            _FREE.pop().end()
