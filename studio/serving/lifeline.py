"""A child lives as long as its lifeline: a pipe on its standard input whose other end is ours.

A parent that is killed cannot say goodbye, but the system closes its end of the pipe all the
same, on Linux, macOS and Windows alike. So no child outlives its parent as an orphan, and a
parent ends its children by closing the pipe, which also works where there are no signals.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Callable

MARK = "BENCHLEDGER_LIFELINE"


def is_held() -> bool:
    """Whether this process was started with a lifeline; asked once, so that the children of
    this process do not take their own standard input for one."""
    return os.environ.pop(MARK, "") == "1"


def watch(when_cut: Callable[[], object]) -> None:
    """Call `when_cut` in a thread of its own when the parent closes the pipe or is gone."""

    def wait() -> None:
        with contextlib.suppress(OSError, ValueError):
            while os.read(sys.stdin.fileno(), 4096):
                pass
        when_cut()

    threading.Thread(target=wait, name="lifeline", daemon=True).start()
