"""Three hundred kept connections that say nothing, and somebody new who comes to the door."""

from __future__ import annotations

import select
import socket
import time
from pathlib import Path

import pytest

from tests.running.house import house
from tests.running.visiting import Visitor

pytestmark = pytest.mark.slow

KEPT, SILENT = 300, 60
KEPT_SECONDS = 60.0
"""A server keeps a quiet connection longer than this."""


def is_closed(visitor: Visitor) -> bool:
    assert visitor.connection is not None
    readable, _, _ = select.select([visitor.connection.sock], [], [], 0)
    quiet = time.monotonic() - visitor.used
    return bool(readable) and quiet < KEPT_SECONDS


def test_newcomer_is_answered_beside_300_kept_connections_and_60_that_never_spoke(
    tmp_path: Path,
) -> None:
    with house(tmp_path) as one:
        one.open()
        kept = [Visitor(one) for _ in range(KEPT)]
        silent: list[socket.socket] = []
        try:
            for visitor in kept:
                visitor.ask("GET", "/sign-in/")
                assert visitor.hear().status in (200, 302)
                assert visitor.connection is not None  # the server keeps it too
            silent += [
                socket.create_connection(("127.0.0.1", one.port), timeout=60) for _ in range(SILENT)
            ]
            for _ in range(5):
                assert one.get("/sign-in/")[0] in (200, 302)
            assert one.is_well()
            # And nobody was shown out to make room: a closed line could be read to its end.
            assert [visitor for visitor in kept if is_closed(visitor)] == []
        finally:
            for visitor in kept:
                visitor.leave()
            for line in silent:
                line.close()
