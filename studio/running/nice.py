"""What answers a page goes first on a machine that is shared with the web server."""

from __future__ import annotations

import contextlib
import os

AS_NICE_AS_CAN_BE = 19


def be_nice() -> None:
    """This process, and every program that it starts, steps back (not on Windows).

    As nice as can be, it is left to the moments in which nothing else wants the processor, where
    the system knows such a class (Linux): a page that wakes up is then not kept waiting by work
    that only counts for little, which had cost pages several times as long.
    """
    wanted = int(os.environ.get("BENCHLEDGER_NICE", "") or AS_NICE_AS_CAN_BE)
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(max(0, wanted - os.nice(0)))
    if wanted >= AS_NICE_AS_CAN_BE and hasattr(os, "SCHED_IDLE"):
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
