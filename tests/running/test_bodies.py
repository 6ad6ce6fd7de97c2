"""Bodies arrive whole before a page's thread begins, and slow ones hold no such thread."""

from __future__ import annotations

import errno
import io
import threading
from typing import Any

import pytest

from studio.running import bodies
from studio.running.bodies import SLOW_EACH, Bodies
from studio.views.troubles import not_received

from .house import wait_for


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


def words(status: int, environ: dict[str, Any]) -> bytes:
    return b"send it again" if status == bodies.LATE else b"refused"


def door_of(most: int = 4, first_seconds: float = 20.0) -> Bodies:
    """Its looks at what is on its way are quick, so that no test waits for one."""
    return Bodies(application, most=most, words=words, first_seconds=first_seconds, slow_after=0.01)


def ask(door: Bodies, **environ: Any) -> tuple[str, bytes]:
    said: list[str] = []
    found = door({"REMOTE_ADDR": "192.0.2.1", **environ}, lambda status, _: said.append(status))
    return said[0], b"".join(found)


def settle(door: Bodies) -> None:
    """The threads that were left behind have seen their clients go."""
    for thread in threading.enumerate():
        if thread.name == "body":
            thread.join(timeout=60)
    assert (door._under_way, dict(door._slow)) == (0, {})


def test_a_body_comes_to_the_page_as_it_was_sent() -> None:
    door = door_of()
    sent = bytes(range(256)) * 9000  # larger than what is kept in memory
    environ = {"CONTENT_LENGTH": str(len(sent)), "wsgi.input": io.BytesIO(sent + b"next request")}
    assert ask(door, **environ) == ("200 OK", sent)
    chunked = {"HTTP_TRANSFER_ENCODING": "chunked", "wsgi.input": io.BytesIO(sent)}
    assert ask(door, **chunked) == ("200 OK", sent)
    settle(door)


def test_a_form_that_does_not_come_is_given_up_in_words() -> None:
    door, drip = door_of(first_seconds=0.05), Drip()
    status, page = ask(door, CONTENT_LENGTH="1000", **{"wsgi.input": drip})
    assert status.startswith("408")
    assert b"send it again" in page
    drip.hung_up.set()
    settle(door)


def test_a_form_broken_off_on_its_way_never_reaches_the_page() -> None:
    door = door_of()
    status, _ = ask(door, CONTENT_LENGTH="1000", **{"wsgi.input": io.BytesIO(b"half of it")})
    assert status.startswith("408")
    settle(door)


def test_one_clients_slow_forms_leave_room_for_everybody_else() -> None:
    door, drip = door_of(most=SLOW_EACH + 2), Drip()
    answers: list[str] = []

    def send() -> None:
        answers.append(ask(door, CONTENT_LENGTH="9", **{"wsgi.input": drip})[0])

    senders = [threading.Thread(target=send) for _ in range(SLOW_EACH + 1)]
    for sender in senders:
        sender.start()
    wait_for(lambda: answers)  # one is too many, whichever that is
    assert answers == ["503 Service Unavailable"]
    other = {"REMOTE_ADDR": "192.0.2.2", "CONTENT_LENGTH": "2", "wsgi.input": io.BytesIO(b"ok")}
    assert ask(door, **other) == ("200 OK", b"ok")
    drip.hung_up.set()
    for sender in senders:
        sender.join(timeout=60)
    settle(door)


def test_a_whole_class_behind_one_address_is_received(monkeypatch: pytest.MonkeyPatch) -> None:
    """Photos over a weak network take long, but they come: no bound of one address is theirs."""
    monkeypatch.setattr(bodies, "LEAST_BYTES_A_SECOND", 1.0)

    class Weak:
        """Half of it at once, the rest when it is let on."""

        def __init__(self) -> None:
            self.parts = [b"a" * 5000, b"b" * 5000]

        def read(self, size: int) -> bytes:
            if len(self.parts) == 1:
                let_on.wait()
            return self.parts.pop(0)

    let_on = threading.Event()
    door, answers = door_of(most=3 * SLOW_EACH), []

    def send() -> None:
        answers.append(ask(door, CONTENT_LENGTH="10000", **{"wsgi.input": Weak()})[0])

    senders = [threading.Thread(target=send) for _ in range(2 * SLOW_EACH)]
    for sender in senders:
        sender.start()
    wait_for(lambda: door._under_way == 2 * SLOW_EACH)
    let_on.set()
    for sender in senders:
        sender.join(timeout=60)
    assert answers == ["200 OK"] * (2 * SLOW_EACH)
    settle(door)


def test_slow_forms_from_many_places_leave_pages_alone() -> None:
    door, drip = door_of(most=3, first_seconds=0.01), Drip()
    for last in range(1, 4):
        where = {"REMOTE_ADDR": f"198.51.100.{last}"}
        assert ask(door, CONTENT_LENGTH="9", **where, **{"wsgi.input": drip})[0].startswith("408")
    assert ask(door, CONTENT_LENGTH="9", **{"wsgi.input": drip})[0].startswith("503")
    assert ask(door)[0] == "200 OK"  # a page that sends nothing
    drip.hung_up.set()
    settle(door)


def test_a_body_beyond_all_bounds_is_not_read_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    door, drip = door_of(), Drip()
    status, _ = ask(door, CONTENT_LENGTH=str(bodies.MOST_BYTES + 1), **{"wsgi.input": drip})
    assert status.startswith("413")
    monkeypatch.setattr(bodies, "MOST_BYTES", 1000)
    endless = {"HTTP_TRANSFER_ENCODING": "chunked", "wsgi.input": io.BytesIO(b"a" * 5000)}
    assert ask(door, **endless)[0].startswith("413")
    settle(door)


def test_a_full_disk_of_the_servers_own_is_not_put_down_to_the_network() -> None:
    class Full:
        def read(self, size: int) -> bytes:
            raise OSError(errno.ENOSPC, "No space left on device")

    door = door_of()
    assert ask(door, CONTENT_LENGTH="9", **{"wsgi.input": Full()})[0].startswith("507")
    settle(door)


@pytest.mark.parametrize(
    ("spoken", "words"),
    [
        ("es-MX,es;q=0.9", "No ha llegado a tiempo"),
        ("de", "did not arrive in time"),
        ("", "arrive"),
    ],
)
def test_the_refusal_is_a_page_in_the_browsers_language(spoken: str, words: str) -> None:
    page = not_received(bodies.LATE, {"HTTP_ACCEPT_LANGUAGE": spoken}).decode()
    assert words in page
    assert "<main" in page
