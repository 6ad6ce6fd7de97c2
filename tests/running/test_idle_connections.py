"""Three hundred kept connections that say nothing, and somebody new who comes to the door."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from .house import house
from .visiting import Visitor

pytestmark = pytest.mark.slow

KEPT, SILENT = 300, 60


def test_newcomer_is_answered_beside_300_kept_connections_and_60_that_never_spoke(
    tmp_path: Path,
) -> None:
    with house(tmp_path) as one:
        one.open()
        kept = [Visitor(one) for _ in range(KEPT)]
        silent: list[socket.socket] = []
        try:
            for visitor in kept:
                assert visitor.get("/sign-in/").status in (200, 302)
                assert visitor.connection is not None  # the server keeps it too
            silent += [
                socket.create_connection(("127.0.0.1", one.port), timeout=60) for _ in range(SILENT)
            ]
            for _ in range(5):
                assert one.get("/sign-in/")[0] in (200, 302)
            assert one.is_well()
            # And nobody was shown out to make room.
            for visitor in kept[:: KEPT // 30]:
                assert visitor.get("/sign-in/").status in (200, 302)
        finally:
            for visitor in kept:
                visitor.leave()
            for line in silent:
                line.close()
