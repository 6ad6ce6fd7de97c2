"""Bodies arrive whole before a page's thread begins, and slow ones hold no such thread."""

from __future__ import annotations

import io
import threading
from typing import Any

import pytest

from studio.running import bodies
from studio.running.bodies import EACH_CLIENT, Bodies


class Drip:
    """A client that sends nothing more until it is let go, or hangs up."""

    def __init__(self) -> None:
        self.hung_up = threading.Event()

    def read(self, size: int) -> bytes:
        self.hung_up.wait()
        return b""


def application(environ: dict[str, Any], start: Any) -> list[bytes]:
    start("200 OK", [])
    return [environ["wsgi.input"].read() if "wsgi.input" in environ else b""]


def ask(door: Bodies, **environ: Any) -> tuple[str, bytes]:
    said: list[str] = []
    found = door({"REMOTE_ADDR": "192.0.2.1", **environ}, lambda status, _: said.append(status))
    return said[0], b"".join(found)


def settle(door: Bodies) -> None:
    """The threads that were left behind have seen their clients go."""
    for thread in threading.enumerate():
        if thread.name == "body":
            thread.join(timeout=60)
    assert not door._under_way


def test_a_body_comes_to_the_page_as_it_was_sent() -> None:
    door = Bodies(application, most=4)
    sent = bytes(range(256)) * 9000  # larger than what is kept in memory
    environ = {"CONTENT_LENGTH": str(len(sent)), "wsgi.input": io.BytesIO(sent + b"next request")}
    assert ask(door, **environ) == ("200 OK", sent)
    chunked = {"HTTP_TRANSFER_ENCODING": "chunked", "wsgi.input": io.BytesIO(sent)}
    assert ask(door, **chunked) == ("200 OK", sent)
    settle(door)


def test_a_form_that_does_not_come_is_given_up_in_words() -> None:
    door, drip = Bodies(application, most=4, first_seconds=0.05), Drip()
    status, words = ask(door, CONTENT_LENGTH="1000", **{"wsgi.input": drip})
    assert status.startswith("408")
    assert b"send it again" in words
    drip.hung_up.set()
    settle(door)


def test_a_form_broken_off_on_its_way_never_reaches_the_page() -> None:
    door = Bodies(application, most=4)
    status, _ = ask(door, CONTENT_LENGTH="1000", **{"wsgi.input": io.BytesIO(b"half of it")})
    assert status.startswith("408")
    settle(door)


def test_one_clients_slow_forms_leave_room_for_everybody_else() -> None:
    door, drip = Bodies(application, most=20, first_seconds=0.01), Drip()
    for _ in range(EACH_CLIENT):
        assert ask(door, CONTENT_LENGTH="9", **{"wsgi.input": drip})[0].startswith("408")
    assert ask(door, CONTENT_LENGTH="9", **{"wsgi.input": drip})[0].startswith("503")
    other = {"REMOTE_ADDR": "192.0.2.2", "CONTENT_LENGTH": "2", "wsgi.input": io.BytesIO(b"ok")}
    patient = Bodies(application, most=20)
    patient._under_way = door._under_way
    assert ask(patient, **other) == ("200 OK", b"ok")
    drip.hung_up.set()
    settle(door)


def test_slow_forms_from_many_places_leave_pages_alone() -> None:
    door, drip = Bodies(application, most=3, first_seconds=0.01), Drip()
    for last in range(1, 4):
        where = {"REMOTE_ADDR": f"198.51.100.{last}"}
        assert ask(door, CONTENT_LENGTH="9", **where, **{"wsgi.input": drip})[0].startswith("408")
    assert ask(door, CONTENT_LENGTH="9", **{"wsgi.input": drip})[0].startswith("503")
    assert ask(door)[0] == "200 OK"  # a page that sends nothing
    drip.hung_up.set()
    settle(door)


def test_a_body_beyond_all_bounds_is_not_read_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    door, drip = Bodies(application, most=4), Drip()
    status, _ = ask(door, CONTENT_LENGTH=str(bodies.MOST_BYTES + 1), **{"wsgi.input": drip})
    assert status.startswith("413")
    monkeypatch.setattr(bodies, "MOST_BYTES", 1000)
    endless = {"HTTP_TRANSFER_ENCODING": "chunked", "wsgi.input": io.BytesIO(b"a" * 5000)}
    assert ask(door, **endless)[0].startswith("413")
    settle(door)
