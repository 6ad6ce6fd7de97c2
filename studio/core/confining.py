"""Runs a piece of work on a hostile file in a process that may die without taking us along.

Where the platform can (all but Windows), the child also bounds its own processor time, memory
and file sizes before it imports anything; the time limit holds everywhere. Workers do this, not
web processes (`studio/errands`): a worker gives way to pages, so by the clock a child may take
several times its processor time on a busy machine.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
_AT_ONCE = threading.BoundedSemaphore(2)
_PATIENCE = 6.0  # times the processor time, by the clock

# Kept as text so that the limits stand before the first import of anything large.
_BOOT = """
import sys
root, module, seconds, memory = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
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

    Raises Stopped when the child needs more than `seconds`, dies, or cannot start in time.
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
        done = subprocess.run(  # noqa: S603  our own interpreter and our own module
            [sys.executable, "-I", "-c", _BOOT, str(ROOT), module, str(seconds), str(memory_bytes)],
            input=request,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=kept | threads | (environment or {}),
            timeout=_PATIENCE * seconds,
            check=False,
        )
    except subprocess.TimeoutExpired as late:
        raise Stopped("time") from late
    except OSError as broken:
        raise Stopped("died") from broken
    finally:
        _AT_ONCE.release()
    if done.returncode != 0:
        # SIGXCPU (24) is how the system ends what used up its processor time.
        raise Stopped("time" if done.returncode in (-24, -9) else "died")
    return done.stdout
