"""Runs a piece of work on a hostile file in a process that may die without taking us along.

Where the platform can (all but Windows), the child also bounds its own processor time, memory
and file sizes before it imports anything; the time limit holds everywhere. Workers do this, not
web processes (`running/errands`). A child of one who gives way to pages as far as niceness goes
takes only the moments that nothing else wants, where the system knows such a class (Linux): it
holds no lock and no row that anybody could wait for. So by the clock it may take many times its
processor time on a busy machine.

No child outlives us: a worker that ends has `end_all` end them, and one that is killed takes them
along by a pipe whose other end is ours alone (not on Windows, where the time limit or the end of
what they read ends them).
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
_AT_ONCE = threading.BoundedSemaphore(2)
# Times the processor time, by the clock: where the system bounds the one, the other only finds
# what sleeps, and is long enough for a machine that is busy for minutes.
_PATIENCE = 6.0 if os.name == "nt" else 20.0
_LONGEST = 600.0
LOOK_SECONDS = 0.2  # how soon a caller hears of `end_all`
_GRACE = 1.0  # how long a child that was ended is waited for
_KEPT = ("PATH", "SYSTEMROOT", "LANG", "TEMP", "TMP", "LD_LIBRARY_PATH")

# With more, each holds memory of its own, and much of it on a machine of many processors.
_THREADS = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "2"}

_RUNNING: set[subprocess.Popen[bytes]] = set()
_CUT: set[subprocess.Popen[bytes]] = set()
_LOCK = threading.Lock()

# Kept as text so that the limits stand before the first import of anything large. A word to end
# that the whole group of processes hears is for the parent, which then ends the child: a child
# that heard it too would look like a damaged file. The lifeline is never written to, so reading
# it comes back only when the parent is gone.
_BOOT = """
import _signal, _thread, os, sys
root, module = sys.argv[1:3]
seconds, memory, size, lifeline = map(int, sys.argv[3:])
for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK"):
    if hasattr(_signal, name):
        _signal.signal(getattr(_signal, name), _signal.SIG_IGN)
def watch():
    try:
        os.read(lifeline, 1)
    finally:
        os._exit(1)
if lifeline >= 0:
    # Linux ends us by a signal as soon as the other end is closed, also while compiled code keeps
    # the interpreter to itself; the thread is for the moment before this, and for macOS.
    try:
        import fcntl
        fcntl.fcntl(lifeline, fcntl.F_SETOWN, os.getpid())
        flags = fcntl.fcntl(lifeline, fcntl.F_GETFL)
        fcntl.fcntl(lifeline, fcntl.F_SETFL, flags | os.O_ASYNC)
    except (ImportError, AttributeError, OSError):
        pass
    _thread.stack_size(262144)
    _thread.start_new_thread(watch, ())
    _thread.stack_size(0)
if hasattr(os, "SCHED_IDLE") and os.nice(0) >= 19:
    try:
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    except OSError:
        pass
try:
    import resource
except ImportError:
    pass
else:
    for kind, most in (
        (resource.RLIMIT_CPU, seconds), (resource.RLIMIT_AS, memory),
        (resource.RLIMIT_FSIZE, size), (resource.RLIMIT_CORE, 0),
    ):
        if most < 0:
            continue
        hard = resource.getrlimit(kind)[1]
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        try:
            resource.setrlimit(kind, (most, most))
        except (ValueError, OSError, OverflowError):
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
    longest = min(_LONGEST, _PATIENCE * seconds)
    if not _AT_ONCE.acquire(timeout=longest):
        raise Stopped("busy")
    try:
        with child_of(
            module,
            (seconds, memory_bytes, 0),
            {"PYTHONDONTWRITEBYTECODE": "1", **(environment or {})},
        ) as child:
            answer = _answer(child, request, longest)
            cut = was_cut(child)
    except subprocess.TimeoutExpired as late:
        raise Stopped("time") from late
    except (OSError, RuntimeError) as broken:  # no process, or no thread to talk with it
        raise Stopped("died") from broken
    finally:
        _AT_ONCE.release()
    if child.returncode != 0 and cut:
        raise Ended
    if child.returncode != 0:
        # SIGXCPU (24) is how the system ends what used up its processor time.
        raise Stopped("time" if child.returncode in (-24, -9) else "died")
    return answer


def _answer(child: subprocess.Popen[bytes], request: bytes, longest: float) -> bytes:
    """All that the child writes. Raises TimeoutExpired, and Ended as soon as `end_all` is called:
    killed is not gone, and on a busy machine that may take longer than the caller has.

    Two threads of our own, as `communicate` with a time limit forgets what it has not sent yet.
    """
    assert child.stdin is not None
    assert child.stdout is not None
    pipe_in, pipe_out = child.stdin, child.stdout
    read: list[bytes] = []

    def send() -> None:
        with contextlib.suppress(OSError, ValueError), pipe_in:  # it may not want all of it
            pipe_in.write(request)

    def receive() -> None:
        with contextlib.suppress(OSError, ValueError):
            read.append(pipe_out.read())

    receiving = threading.Thread(target=receive, name="an answer", daemon=True)
    for thread in (threading.Thread(target=send, name="a request", daemon=True), receiving):
        thread.start()
    last = time.monotonic() + longest
    while receiving.is_alive():
        receiving.join(timeout=LOOK_SECONDS)
        if was_cut(child):
            raise Ended
        if time.monotonic() > last:
            raise subprocess.TimeoutExpired(child.args, longest)
    child.wait(timeout=longest)
    return b"".join(read)


@contextlib.contextmanager
def child_of(
    module: str,
    bounds: tuple[int, int, int],
    environment: dict[str, str],
    *,
    stderr: int | None = subprocess.DEVNULL,
) -> Iterator[subprocess.Popen[bytes]]:
    """A child that runs `module.main(stdin, stdout)`, and ends when we leave or are gone.

    `bounds`: seconds of processor time, bytes of memory, bytes of a file; -1 for none.
    `environment` is added to the little that every program needs. Raises OSError.
    """
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    words = [str(ROOT), module, *map(str, bounds)]
    ours: int | None = None
    theirs: int | None = None
    if os.name == "posix":
        theirs, ours = os.pipe()  # no other child inherits an end of it
    try:
        child = subprocess.Popen(  # noqa: S603  our own interpreter and our own module
            [sys.executable, "-I", "-c", _BOOT, *words, str(-1 if theirs is None else theirs)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=stderr,
            env=kept | _THREADS | environment,
            pass_fds=() if theirs is None else (theirs,),
        )
        with _LOCK:
            _RUNNING.add(child)
        try:
            yield child
        finally:
            child.kill()  # nothing happens to one that has ended
            with _LOCK:
                _RUNNING.discard(child)
                _CUT.discard(child)
            _leave(child)
    finally:
        for end in (theirs, ours):
            if end is not None:
                os.close(end)


def _leave(child: subprocess.Popen[bytes]) -> None:
    """Wait for a child that was killed, not for long: its last moment, too, takes a processor."""

    def to_the_end() -> None:
        child.wait()
        for pipe in (child.stdin, child.stdout):
            assert pipe is not None
            with contextlib.suppress(OSError):  # bytes that nobody reads any more
                pipe.close()

    with contextlib.suppress(subprocess.TimeoutExpired):
        child.wait(timeout=_GRACE)
    if child.returncode is None:
        threading.Thread(target=to_the_end, name="a last moment", daemon=True).start()
    else:
        to_the_end()


def was_cut(child: subprocess.Popen[bytes]) -> bool:
    """Whether `end_all` ended it; asked before it is left."""
    with _LOCK:
        return child in _CUT


def end_all() -> None:
    """End every child of this moment; each one's caller gets Ended. To be called again while
    callers may still be about to start one."""
    with _LOCK:
        for child in _RUNNING:
            if child.poll() is None:
                _CUT.add(child)
                child.kill()
