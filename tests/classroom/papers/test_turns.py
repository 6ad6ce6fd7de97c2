"""Work of seconds in a web process is done by turns, and nobody takes all of them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from classroom.papers.turns import Turns
from classroom.refusals import Busy

PATIENCE = 60.0


@contextmanager
def held(turns: Turns, *people: int) -> Iterator[Callable[[], None]]:
    """Each person's turn is asked for in a thread; what is given lets the one at work go on.

    The first is at work and the others wait when the block begins.
    """
    at_work, go_on = threading.Semaphore(0), threading.Semaphore(0)

    def ask(person: int) -> None:
        with turns.turn(person):
            at_work.release()
            assert go_on.acquire(timeout=PATIENCE)

    threads = []
    for number, person in enumerate(people):
        thread = threading.Thread(target=ask, args=(person,))
        thread.start()
        threads.append(thread)
        if number == 0:
            assert at_work.acquire(timeout=PATIENCE)
    _until(lambda: turns._here.total() == len(people))
    try:
        yield go_on.release
    finally:
        for _ in people:
            go_on.release()
        for thread in threads:
            thread.join(PATIENCE)
            assert not thread.is_alive()


def _until(true: Callable[[], bool]) -> None:
    wait = threading.Event()
    for _ in range(int(PATIENCE / 0.01)):
        if true():
            return
        wait.wait(0.01)
    pytest.fail("it never came true")


def test_only_one_is_at_work_and_the_next_follows() -> None:
    turns = Turns(waiting=2, each=1, seconds=PATIENCE)
    at_once = most = 0

    def work(person: int) -> None:
        nonlocal at_once, most
        with turns.turn(person):
            at_once += 1
            most = max(most, at_once)
            at_once -= 1

    threads = [threading.Thread(target=work, args=(person,)) for person in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE)
    assert most == 1
    assert turns._here.total() == 0


def test_whoever_comes_when_all_places_are_taken_is_told_at_once() -> None:
    turns = Turns(waiting=2, each=1, seconds=PATIENCE)
    with held(turns, 1, 2, 3), pytest.raises(Busy, match="Try in a moment"), turns.turn(4):
        pass
    with turns.turn(4):
        pass


def test_one_person_cannot_take_all_places() -> None:
    turns = Turns(waiting=3, each=2, seconds=PATIENCE)
    with held(turns, 1, 1) as go_on:
        with pytest.raises(Busy), turns.turn(1):
            pass
        go_on()
        go_on()
        with turns.turn(2):
            pass


def test_waiting_comes_to_an_end_in_words() -> None:
    turns = Turns(waiting=2, each=1, seconds=0.01)
    with held(turns, 1), pytest.raises(Busy), turns.turn(2):
        pass


def test_work_that_fails_gives_its_turn_back() -> None:
    turns = Turns(waiting=0, each=1, seconds=PATIENCE)
    with pytest.raises(ValueError, match="no"), turns.turn(1):
        raise ValueError("no")
    with turns.turn(1):
        pass
