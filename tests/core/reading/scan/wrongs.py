"""Stands in for a decoder gone wrong, in the confined process."""

from __future__ import annotations

import ctypes
import os
import signal
import tempfile
from pathlib import Path
from typing import BinaryIO

ALONE = b"forever, with the interpreter to itself, once it has removed "
"""And the path of an empty folder."""


def main(source: BinaryIO, target: BinaryIO) -> None:
    what = source.read()
    if what == b"memory":
        bytearray(2_000_000_000)
    elif what == b"crash":
        os.abort()
    elif what == b"write":
        with tempfile.TemporaryFile() as file:
            file.write(bytes(1_000_000))
    elif what == b"raise":
        raise RuntimeError("as a decoder does")
    elif what == b"told to end":
        os.kill(os.getpid(), signal.SIGTERM)
    elif what.startswith(ALONE):
        Path(what.removeprefix(ALONE).decode()).rmdir()  # it may write no file to say it is there
        ctypes.PyDLL(None).sleep(600)  # which keeps the interpreter to itself
    elif what == b"class":
        what = str(os.sched_getscheduler(0)).encode()
    elif what == b"forever":
        while True:
            pass
    target.write(what)
