"""Runs a piece of work on a hostile file in a process that may die without taking us along.

Where the platform can (all but Windows), the child also bounds its own processor time, memory
and file sizes before it imports anything; the time limit holds everywhere. Workers do this, not
web processes (`studio/errands`): a worker gives way to pages, so by the clock a child may take
several times its processor time on a busy machine.

No child outlives us: a worker that ends has `end_all` end them, and one that is killed takes them
along by a pipe whose other end is ours alone (not on Windows, where their own limits end them).
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
_AT_ONCE = threading.BoundedSemaphore(2)
_PATIENCE = 6.0  # times the processor time, by the clock

_RUNNING: set[subprocess.Popen[bytes]] = set()
_CUT: set[subprocess.Popen[bytes]] = set()
_LOCK = threading.Lock()

# Kept as text so that the limits stand before the first import of anything large. A word to end
# that the whole group of processes hears is for the parent, which then ends the child: a child
# that heard it too would look like a damaged file. The lifeline is never written to, so reading
# it comes back only when the parent is gone.
_BOOT = """
import _signal, _thread, os, sys
root, module, seconds, memory = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
lifeline = int(sys.argv[5])
for name in ("SIGTERM", "SIGINT", "SIGHUP"):
    if hasattr(_signal, name):
        _signal.signal(getattr(_signal, name), _signal.SIG_IGN)
def watch():
    try:
        os.read(lifeline, 1)
    finally:
        os._exit(1)
if lifeline >= 0:
    _thread.stack_size(262144)
    _thread.start_new_thread(watch, ())
    _thread.stack_size(0)
try:
    import resource
except ImportError:
    pass
else:
    for kind, most in (
        (resource.RLIMIT_CPU, seconds), (resource.RLIMIT_AS, memory),
        (resource.RLIMIT_FSIZE, 0), (resource.RLIMIT_CORE, 0),
    ):
        hard = resource.getrlimit(kind)[1]
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        try:
            resource.setrlimit(kind, (most, most))
        except (ValueError, OSError):
            pass
sys.path.insert(0, root)
import importlib
importlib.import_module(module).main(sys.stdin.buffer, sys.stdout.buffer)
"""


class Ended(Exception):
    """The work was cut short by `end_all`, which says nothing about the file.

    Not a `Stopped`, so that no reader makes a refusal of it: the work is to be done again.
    """


class Stopped(Exception):
    """The work did not come to an end; `why` is "time", "busy" or "died"."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def confined(
    module: str,
    request: bytes,
    *,
    seconds: int,
    memory_bytes: int,
    environment: dict[str, str] | None = None,
) -> bytes:
    """What `module.main(stdin, stdout)` writes when it is given `request`.

    Raises Stopped when the child needs more than `seconds`, dies, or cannot start in time, and
    Ended when `end_all` cut it short.
    """
    kept = {
        name: os.environ[name]
        for name in ("PATH", "SYSTEMROOT", "LANG", "TEMP", "TMP", "LD_LIBRARY_PATH")
        if name in os.environ
    }
    threads = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "2", "PYTHONDONTWRITEBYTECODE": "1"}
    if not _AT_ONCE.acquire(timeout=_PATIENCE * seconds):
        raise Stopped("busy")
    try:
        with _child(
            [str(ROOT), module, str(seconds), str(memory_bytes)],
            kept | threads | (environment or {}),
        ) as child:
            answer, _ = child.communicate(request, timeout=_PATIENCE * seconds)
            with _LOCK:
                cut = child in _CUT
    except subprocess.TimeoutExpired as late:
        raise Stopped("time") from late
    except OSError as broken:
        raise Stopped("died") from broken
    finally:
        _AT_ONCE.release()
    if child.returncode != 0 and cut:
        raise Ended
    if child.returncode != 0:
        # SIGXCPU (24) is how the system ends what used up its processor time.
        raise Stopped("time" if child.returncode in (-24, -9) else "died")
    return answer


@contextlib.contextmanager
def _child(words: list[str], environment: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """The child, which ends when we leave and when we are gone. Raises OSError."""
    ours: int | None = None
    theirs: int | None = None
    if os.name == "posix":
        theirs, ours = os.pipe()  # no other child inherits an end of it
    try:
        child = subprocess.Popen(  # noqa: S603  our own interpreter and our own module
            [sys.executable, "-I", "-c", _BOOT, *words, str(-1 if theirs is None else theirs)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
            pass_fds=() if theirs is None else (theirs,),
        )
        with _LOCK:
            _RUNNING.add(child)
        try:
            with child:
                try:
                    yield child
                finally:
                    child.kill()  # nothing happens to one that has ended
        finally:
            with _LOCK:
                _RUNNING.discard(child)
                _CUT.discard(child)
    finally:
        for end in (theirs, ours):
            if end is not None:
                os.close(end)


def end_all() -> None:
    """End every child of this moment; each one's caller gets Ended. To be called again while
    callers may still be about to start one."""
    with _LOCK:
        for child in _RUNNING:
            if child.poll() is None:
                _CUT.add(child)
                child.kill()
