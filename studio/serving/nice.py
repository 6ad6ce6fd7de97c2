"""What answers a page goes first on a machine that is shared with the web server."""

from __future__ import annotations

import contextlib
import os

AS_NICE_AS_CAN_BE = 19


def be_nice() -> None:
    """This process, and every program that it starts, steps back (not on Windows).

    Never to the moments that nothing else wants (Linux's idle class): a worker holds rows and
    leases, and on a busy machine all who wait for those would wait with it. Children that hold
    nothing do that by themselves (`studio.core.confining`).
    """
    wanted = int(os.environ.get("BENCHLEDGER_NICE", "") or AS_NICE_AS_CAN_BE)
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(max(0, wanted - os.nice(0)))
