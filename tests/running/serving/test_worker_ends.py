"""A worker that is told to end does so at once, and cuts short what a child is at."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import OperationalError

from studio.core import confining
from studio.core.confining import Ended, confined
from studio.management.commands import work as command
from studio.running.closing import ENDING
from studio.serving import worker
from tests.running.house import wait_for


@pytest.fixture(autouse=True)
def never_ending(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(worker, "be_nice", lambda: None)
    monkeypatch.setattr(worker.signal, "signal", lambda *_: None)
    yield
    ENDING.clear()


class Reading(threading.Thread):
    """Stands in for a queue's loop that is at a file which takes for ever."""

    said: list[str]

    def __init__(self, queue: str, *_: object, **__: object) -> None:
        super().__init__(daemon=True)
        self.queue = queue

    def run(self) -> None:
        if self.queue != "desk":
            ENDING.wait()
            return
        try:
            confined(
                "tests.core.reading.scan.wrongs", b"forever", seconds=600, memory_bytes=400_000_000
            )
        except Ended:
            self.said.append("cut short")


@pytest.mark.parametrize("batch", [False, True])
def test_an_ending_worker_cuts_short_what_its_children_are_at(
    batch: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    Reading.said = []
    exits: list[int] = []
    monkeypatch.setattr(worker, "QueueLoop", Reading)
    monkeypatch.setattr(worker, "keep_house", lambda *_: None)
    monkeypatch.setattr(worker, "LAST_WORDS", 60.0)
    monkeypatch.setattr(worker.connections, "close_all", lambda: None)
    monkeypatch.setattr(worker.os, "_exit", exits.append)
    working = threading.Thread(
        target=lambda: worker.work(interval=0.1, batch=batch, look_after=lambda: None), daemon=True
    )
    working.start()
    wait_for(lambda: confining._RUNNING)
    ENDING.set()
    working.join(timeout=90)
    confining.end_all()  # where the worker did not, the next test shall not inherit the child
    assert not working.is_alive()
    assert Reading.said == ["cut short"]
    assert exits == ([] if batch else [0])


class Gone(BaseException):
    pass


def test_a_parent_that_goes_while_the_worker_warms_up_is_noticed_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cut: list[Callable[[], object]] = []

    def gone(_: int) -> None:
        raise Gone

    monkeypatch.setattr(worker.lifeline, "is_held", lambda: True)
    monkeypatch.setattr(worker.lifeline, "watch", cut.append)
    monkeypatch.setattr(worker.os, "_exit", gone)
    monkeypatch.setattr(worker, "QueueLoop", lambda *_, **__: pytest.fail("work was begun"))
    with pytest.raises(Gone):
        worker.work(interval=1.0, batch=False, look_after=lambda: None, prepare=lambda: cut.pop()())


def test_a_cut_lifeline_and_a_signal_together_are_one_word_to_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    exits: list[int] = []
    monkeypatch.setattr(worker.os, "_exit", exits.append)
    monkeypatch.setattr(worker, "_SIGNALLED", threading.Event())
    monkeypatch.setattr(worker, "_UNDER_WAY", threading.Event())
    worker._UNDER_WAY.set()
    worker._told_to_end()
    worker._end()
    assert exits == []
    worker._end()
    assert exits == [1]


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What the command hands to the worker's loops, which are not begun."""
    found: dict[str, Any] = {}
    monkeypatch.setattr(command, "the_queue_is_ours", lambda: True)
    monkeypatch.setattr(worker, "work", lambda **options: found.update(options))
    return found


def test_the_command_warms_up_only_under_the_workers_watch(
    given: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    warmed: list[bool] = []
    monkeypatch.setattr(command, "get_ready", lambda: warmed.append(True))
    call_command("work")
    assert not warmed
    given["prepare"]()
    assert warmed


EACH = ("plans", "errands", "trials", "ways")


def test_a_take_over_that_the_database_refused_is_tried_again(
    given: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCHLEDGER_AFTER", "41")
    for name in ("reap", "lay_anew", "clear_out", "forget_old_tasks"):
        monkeypatch.setattr(command, name, lambda: None)
    monkeypatch.setattr(command.errands, "look_after", lambda: None)
    asked: list[str] = []

    def plans(process: int) -> None:
        asked.append(f"plans of {process}")
        if len(asked) == 1:
            raise OperationalError("database is locked")

    monkeypatch.setattr(command, "take_over", plans)
    monkeypatch.setattr(
        "studio.running.errands.take_over", lambda process: asked.append(f"errands of {process}")
    )
    monkeypatch.setattr(
        command.trials, "take_over", lambda process: asked.append(f"trials of {process}")
    )
    monkeypatch.setattr(
        command.ways, "take_over", lambda process: asked.append(f"ways of {process}")
    )
    monkeypatch.setattr(command.trials, "reap", lambda: None)
    monkeypatch.setattr(command.ways, "reap", lambda: None)
    call_command("work")
    with pytest.raises(OperationalError):
        given["look_after"]()
    given["look_after"]()
    given["look_after"]()
    assert asked == ["plans of 41", *(f"{what} of 41" for what in EACH)]
