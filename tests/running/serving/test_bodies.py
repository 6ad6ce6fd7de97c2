"""Bodies arrive whole before a page begins with them; slow ones are bounded, and cut off."""

from __future__ import annotations

import asyncio
import errno
import tempfile
from collections.abc import Sequence
from typing import Any

import pytest

from studio.serving import bodies
from studio.serving.bodies import SLOW_EACH, Bodies, HungUp, Message, NotReceived
from studio.views.house.troubles import not_received

from .apart import run

HERE, THERE = "192.0.2.1", "192.0.2.2"


class Sender:
    """A client that sends these parts, and then nothing more until it is let on.

    `whole`: the last of them ends the body.
    """

    def __init__(self, parts: Sequence[bytes], *, whole: bool = True) -> None:
        self.parts = list(parts)
        self.whole = whole
        self.asked = 0
        self.let_on = asyncio.Event()
        self.rest: Message = {"type": "http.disconnect"}

    async def __call__(self) -> Message:
        self.asked += 1
        if not self.parts:
            await self.let_on.wait()
            return self.rest
        part = self.parts.pop(0)
        return {
            "type": "http.request",
            "body": part,
            "more_body": bool(self.parts) or not self.whole,
        }


def door(most: int = 8, first_seconds: float = 20.0, slow_after: float = 0.01) -> Bodies:
    """Its looks at what is on its way are quick, so that no test waits for one."""
    return Bodies(most=most, first_seconds=first_seconds, slow_after=slow_after)


async def ask(at: Bodies, sender: Sender, length: int = -1, client: str = HERE) -> bytes | int:
    """What arrived, or the status of a refusal."""
    try:
        with await at.received(length, client, sender) as body:
            return body.read()
    except NotReceived as refusal:
        return refusal.status


def is_empty(at: Bodies) -> bool:
    return (at.under_way, dict(at.slow)) == (0, {})


async def until(what: Any) -> None:
    while not what():
        await asyncio.sleep(0.001)


def test_a_body_comes_as_it_was_sent() -> None:
    sent = bytes(range(256)) * 9000  # larger than what is kept in memory
    parts = [sent[:1000], b"", sent[1000:]]

    async def both() -> None:
        at = door()
        assert await ask(at, Sender(parts), len(sent)) == sent
        assert await ask(at, Sender(parts)) == sent  # in chunks, of no known length
        assert is_empty(at)

    run(both())


def test_a_form_that_does_not_come_is_given_up() -> None:
    async def wait() -> None:
        at = door(first_seconds=0.05)
        sender = Sender([b"ab"], whole=False)
        assert await ask(at, sender, 1000) == bodies.LATE
        assert sender.asked == 2  # the question for the rest was not put twice
        assert is_empty(at)

    run(wait())


def test_a_drip_has_no_longer_for_a_large_file_than_for_a_small_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What came counts, not what was announced."""
    clock = [0.0]
    monkeypatch.setattr(bodies, "monotonic", lambda: clock[0])

    class Drip:
        async def __call__(self) -> Message:
            clock[0] += 1.0
            return {"type": "http.request", "body": b"a", "more_body": True}

    async def wait() -> None:
        at = Bodies()
        with pytest.raises(NotReceived) as refused:
            await at.received(bodies.MOST_BYTES, HERE, Drip())
        assert refused.value.status == bodies.LATE
        assert clock[0] == pytest.approx(bodies.FIRST_SECONDS, abs=1.0)
        assert is_empty(at)

    run(wait())


def test_a_form_broken_off_on_its_way_never_reaches_the_page() -> None:
    async def hang_up() -> None:
        at = door()
        assert await ask(at, Sender([b"half of it"]), 1000) == bodies.LATE
        gone = Sender([b"half of it"], whole=False)
        gone.let_on.set()
        with pytest.raises(HungUp):
            await at.received(1000, HERE, gone)
        assert is_empty(at)

    run(hang_up())


def test_one_clients_slow_forms_leave_room_for_everybody_else() -> None:
    async def crowd() -> None:
        at = door(most=SLOW_EACH + 2)
        slow = [Sender([b"a"], whole=False) for _ in range(SLOW_EACH + 1)]
        sending = [asyncio.create_task(ask(at, one, 9)) for one in slow]
        done, waiting = await asyncio.wait(sending, return_when=asyncio.FIRST_COMPLETED)
        assert [one.result() for one in done] == [bodies.BUSY]  # one is too many
        assert await ask(at, Sender([b"ok"]), 2, THERE) == b"ok"
        for one in slow:
            one.rest = {"type": "http.request", "body": b"bcdefghi", "more_body": False}
            one.let_on.set()
        assert await asyncio.gather(*waiting) == [b"abcdefghi"] * SLOW_EACH
        assert is_empty(at)

    run(crowd())


def test_a_whole_class_behind_one_address_is_received(monkeypatch: pytest.MonkeyPatch) -> None:
    """Photos over a weak network take long, but they come: no bound of one address is theirs."""
    monkeypatch.setattr(bodies, "LEAST_BYTES_A_SECOND", 1.0)

    async def crowd() -> None:
        at = door(most=3 * SLOW_EACH)
        weak = [Sender([b"a" * 5000], whole=False) for _ in range(2 * SLOW_EACH)]
        sending = [asyncio.create_task(ask(at, one, 10000)) for one in weak]
        await until(lambda: at.under_way == len(weak))
        for one in weak:
            one.rest = {"type": "http.request", "body": b"b" * 5000, "more_body": False}
            one.let_on.set()
        assert await asyncio.gather(*sending) == [b"a" * 5000 + b"b" * 5000] * len(weak)
        assert is_empty(at)

    run(crowd())


def test_more_than_are_received_at_once_are_told_to_wait() -> None:
    async def crowd() -> None:
        at = door(most=3, slow_after=20.0)
        silent = [Sender([], whole=False) for _ in range(3)]
        sending = [
            asyncio.create_task(ask(at, one, 9, f"198.51.100.{number}"))
            for number, one in enumerate(silent)
        ]
        await until(lambda: at.under_way == 3)
        assert await ask(at, Sender([b"ok"]), 2, THERE) == bodies.BUSY
        for one in sending:
            one.cancel()
        await asyncio.gather(*sending, return_exceptions=True)
        assert is_empty(at)
        assert await ask(at, Sender([b"ok"]), 2, THERE) == b"ok"

    run(crowd())


def test_a_body_beyond_all_bounds_is_not_read_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    async def send() -> None:
        at, sender = door(), Sender([b"a"])
        assert await ask(at, sender, bodies.MOST_BYTES + 1) == bodies.LARGE
        assert sender.asked == 0
        monkeypatch.setattr(bodies, "MOST_BYTES", 1000)
        assert await ask(at, Sender([b"a" * 600, b"a" * 600])) == bodies.LARGE
        assert is_empty(at)

    run(send())


def test_a_full_disk_of_the_servers_own_is_not_put_down_to_the_network(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Full(tempfile.SpooledTemporaryFile[bytes]):
        def write(self, _: Any) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(bodies.tempfile, "SpooledTemporaryFile", Full)

    async def send() -> None:
        at = door()
        assert await ask(at, Sender([b"ok"]), 2) == bodies.FULL
        assert is_empty(at)

    run(send())


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
