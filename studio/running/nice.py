"""What answers a page goes first on a machine that is shared with the web server."""

from __future__ import annotations

import contextlib
import os


def be_nice() -> None:
    """This process, and every program that it starts, steps back (not on Windows)."""
    wanted = int(os.environ.get("BENCHLEDGER_NICE", "") or 19)
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(max(0, wanted - os.nice(0)))
