"""Stands in for a search gone wrong, in its own process; the seed says in which way."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Iterator
from typing import Any, BinaryIO

from studio.core.cutting import Plan
from studio.core.placing import place, search_child

HALF_A_LINE, NO_MEMORY, GONE, CHATTER = range(1, 5)


def main(source: BinaryIO, target: BinaryIO) -> None:
    line = source.readline()
    what = json.loads(line)["seed"]
    if what == HALF_A_LINE:
        target.write(b'{"found": {"placements": [')
        target.flush()
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
    elif what in {NO_MEMORY, CHATTER}:

        def other(*args: Any, **kwargs: Any) -> Plan:
            if what == NO_MEMORY:
                raise MemoryError
            os.write(target.fileno(), b"a library's own words\n")
            return place(*args, **kwargs)

        search_child.place = other
        search_child.main(_From(line, source), target)  # type: ignore[arg-type]


class _From:
    """The rest of what comes in, with its first line once more."""

    def __init__(self, line: bytes, rest: BinaryIO) -> None:
        self.line, self.rest = line, rest

    def __iter__(self) -> Iterator[bytes]:
        yield self.line
        yield from self.rest

    def readline(self) -> bytes:
        return self.rest.readline()
