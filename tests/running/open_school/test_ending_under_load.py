"""The server is told to end while a class is at work: whatever was begun is answered whole."""

from __future__ import annotations

import signal
import sqlite3
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, closing

import pytest

from tests.running import looking
from tests.running.conftest import Open
from tests.running.filling import School
from tests.running.house import House
from tests.running.visiting import Answer, Visitor

pytestmark = pytest.mark.slow

READERS, WRITERS = 10, 4
MANY_READERS = 60
"""Together they ask for more than a server has answered in `UNDER_WAY_SECONDS`, and for far less
than it answers in the ten seconds that it has to end."""
WAITING_SECONDS = 1.5
UNDER_WAY_SECONDS = 0.25
"""A request sent so long before the end has begun: all of its bytes are with the server, on a
connection that it has answered on before."""


class Clicker(threading.Thread):
    """One person who loads page after page on a kept connection until the server is gone."""

    def __init__(self, visitor: Visitor, gone: threading.Event, school: School | None) -> None:
        super().__init__(daemon=True)
        self.visitor, self.gone, self.school = visitor, gone, school
        self.asked: float | None = None
        self.answers: list[Answer] = []
        self.lost: list[tuple[float, str]] = []

    def run(self) -> None:
        while not self.gone.is_set():
            fresh = self.visitor.connection is None
            try:
                self._ask()
            except OSError:
                if fresh:
                    return  # nobody answers the door any more
                continue  # a kept connection was closed between two requests
            sent = time.monotonic()
            try:
                self.answers.append(self.visitor.hear())
            except OSError as broken:
                self.lost.append((sent, str(broken)))

    def _ask(self) -> None:
        if self.school is None:
            self.visitor.ask("GET", "/plans/")
        else:
            form = {"direction": "in", "amount": "1.00", "reason": "a gift"}
            self.visitor.ask("POST", self.school.allot, form)


@pytest.fixture
def gone() -> Iterator[threading.Event]:
    one = threading.Event()
    yield one
    one.set()


@pytest.mark.parametrize("by", [signal.SIGTERM, signal.SIGINT])
def test_every_request_that_was_begun_gets_its_whole_answer(
    open_school: Open, gone: threading.Event, by: signal.Signals
) -> None:
    one, school, _ = open_school()
    sums = "SELECT COUNT(*) FROM inventory_budgetentry"
    before = looking.number(one, sums)
    people = [Clicker(Visitor(one, school.session), gone, None) for _ in range(READERS)]
    people += [Clicker(Visitor(one, school.session), gone, school) for _ in range(WRITERS)]
    for person in people:
        person.start()
    ended = end_once_all_are_at_it(one, people, by)
    gone.set()
    for person in people:
        person.join(timeout=120)
        assert not person.is_alive()
        person.visitor.leave()

    assert {answer.status for person in people for answer in person.answers} <= {200, 302}
    lost = [
        (round(ended - sent, 3), why)
        for person in people
        for sent, why in person.lost
        if sent < ended - UNDER_WAY_SECONDS
    ]
    assert lost == []
    broken_off = [why for person in people for _, why in person.lost if "IncompleteRead" in why]
    assert broken_off == []
    # Every "saved" that somebody read is saved; what nobody could read came after the end.
    said = sum(answer.status == 302 for one in people[READERS:] for answer in one.answers)
    unheard = sum(len(person.lost) for person in people[READERS:])
    saved = looking.number(one, sums) - before
    assert said <= saved <= said + unheard
    assert one.manage("audit_stock").returncode == 0


def end_once_all_are_at_it(one: House, people: list[Clicker], by: signal.Signals) -> float:
    """End the server while everybody waits for an answer; the moment of the signal."""
    assert one.server is not None
    stop = time.monotonic() + 120
    while not all(len(person.answers) >= 3 for person in people):
        assert time.monotonic() < stop, [len(person.answers) for person in people]
        time.sleep(0.05)
    told = time.monotonic()
    assert one.end(by) == 0
    return told


def test_forms_under_way_when_the_end_comes_are_saved_and_answered(open_school: Open) -> None:
    """Six forms wait for the database, which is held, as the word to end comes; then it is free."""
    one, school, _ = open_school()
    sums = "SELECT COUNT(*) FROM inventory_budgetentry"
    before = looking.number(one, sums)
    form = {"direction": "in", "amount": "1.00", "reason": "a gift"}
    visitors = [Visitor(one, school.session) for _ in range(6)]
    file = one.var / "benchledger.sqlite3"
    with ExitStack() as inside:
        for visitor in visitors:
            inside.enter_context(visitor)
            assert visitor.get("/sign-in/").status in (200, 302)
        pool = inside.enter_context(ThreadPoolExecutor(len(visitors) + 1))
        holder = inside.enter_context(
            closing(sqlite3.connect(file, timeout=60, isolation_level=None))
        )
        holder.execute("BEGIN IMMEDIATE")
        for visitor in visitors:
            visitor.ask("POST", school.allot, form)
        hearing = [pool.submit(visitor.hear) for visitor in visitors]
        time.sleep(UNDER_WAY_SECONDS)
        ended = pool.submit(one.end)
        time.sleep(WAITING_SECONDS)
        assert not any(answer.done() for answer in hearing)  # all of them wait
        holder.execute("ROLLBACK")
        answers = [answer.result(timeout=120) for answer in hearing]
        assert ended.result(timeout=120) == 0
    assert [answer.status for answer in answers] == [302] * len(visitors)
    assert looking.number(one, sums) == before + len(visitors)


def test_pages_that_wait_for_their_answer_when_the_end_comes_are_answered_whole(
    open_school: Open,
) -> None:
    one, school, _ = open_school()
    visitors = [Visitor(one, school.session) for _ in range(MANY_READERS)]
    with ExitStack() as inside:
        for visitor in visitors:
            inside.enter_context(visitor)
            assert visitor.get("/plans/").status == 200
        pool = inside.enter_context(ThreadPoolExecutor(len(visitors) + 1))
        hearing: list[Future[Answer]] = []
        while all(answer.done() for answer in hearing):  # again where this process slept too long
            for visitor in visitors:
                visitor.ask("GET", "/plans/")
            hearing = [pool.submit(visitor.hear) for visitor in visitors]
            time.sleep(UNDER_WAY_SECONDS)
        ended = pool.submit(one.end)
        answers = [answer.result(timeout=120) for answer in hearing]
        assert ended.result(timeout=120) == 0
    assert [answer.status for answer in answers] == [200] * len(visitors)
    assert all(b"</html>" in answer.body for answer in answers)
