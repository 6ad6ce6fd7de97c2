"""Forms that are begun and never sent to their end, on the real server: nobody else waits."""

from __future__ import annotations

import socket
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.running.house import House, house
from tests.running.visiting import Visitor

pytestmark = pytest.mark.slow

ADDRESSES, EACH = 3, 10
ANNOUNCED = 60_000_000
PAGES = 12
"""Enough that every process of the server answers some."""


def begin(one: House, address: str) -> socket.socket:
    """A large form of which two bytes come, from one of this machine's own addresses."""
    line = socket.create_connection(("127.0.0.1", one.port), 120, source_address=(address, 0))
    head = (
        f"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: {ANNOUNCED}\r\n"
        "Content-Type: application/x-www-form-urlencoded\r\n\r\nab"
    )
    line.sendall(head.encode())
    return line


def everybody_is_answered(one: House) -> None:
    """Each over a connection of its own, pages and a form that comes whole."""
    for _ in range(PAGES):
        with Visitor(one) as visitor:
            assert visitor.get("/sign-in/").status in (200, 302)
        with Visitor(one) as visitor:
            assert visitor.post("/sign-in/", {"username": "nobody"}).status in (200, 302, 429)


def test_silent_forms_are_told_that_they_are_late_and_keep_nobody_waiting(tmp_path: Path) -> None:
    with house(tmp_path) as one, ExitStack() as inside:
        one.open()
        lines = [
            inside.enter_context(begin(one, f"127.0.0.{2 + number % ADDRESSES}"))
            for number in range(ADDRESSES * EACH)
        ]
        everybody_is_answered(one)
        answers = [line.recv(12) for line in lines]  # and then they just stay
        assert set(answers) <= {b"HTTP/1.1 408", b"HTTP/1.1 503"}
        assert b"HTTP/1.1 408" in answers
        everybody_is_answered(one)
        assert one.is_well()
