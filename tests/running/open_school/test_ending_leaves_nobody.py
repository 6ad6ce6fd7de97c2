"""However the server is ended, nothing of it stays behind, and the next start has one worker."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.running.house import House, children_of, house, is_alive, wait_for

pytestmark = pytest.mark.slow


seen: set[int] = set()
"""Whoever belonged to a server of this file, so that a failed test leaves nobody behind either."""


@pytest.fixture
def one(tmp_path: Path) -> Iterator[House]:
    seen.clear()
    with house(tmp_path) as found:
        yield found
    for process in filter(is_alive, seen):
        os.kill(process, signal.SIGKILL)


def everybody(parent: int) -> list[int]:
    """The process and all below it."""
    found = [parent, *(one for child in children_of(parent) for one in everybody(child))]
    seen.update(found)
    return found


@pytest.mark.parametrize("by", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_ended_server_leaves_no_process_behind_and_starts_again_with_one_worker(
    one: House, by: signal.Signals
) -> None:
    for _ in range(2):
        one.open()
        assert one.server is not None
        assert len(one.workers()) == 1
        family = everybody(one.server.pid)
        assert len(family) >= 3  # itself, the web server, the worker
        status = one.end(by)
        assert status == (0 if by != signal.SIGKILL else -signal.SIGKILL)
        wait_for(lambda family=family: not any(is_alive(process) for process in family))


def test_server_that_is_ended_while_it_starts_leaves_nobody_behind(one: House) -> None:
    one.open()
    one.end()
    one.start()
    assert one.server is not None
    server = one.server.pid
    wait_for(lambda: children_of(server))
    family = everybody(server)
    one.end()
    wait_for(lambda: not any(is_alive(process) for process in family))


def test_worker_that_is_killed_is_started_again_beside_the_same_web_server(one: House) -> None:
    one.open()
    assert one.server is not None
    (first,) = one.workers()
    web = children_of(one.server.pid, "studio.serving.web")
    os.kill(first, signal.SIGKILL)
    wait_for(lambda: one.workers() not in ([], [first]))
    wait_for(one.is_well)
    assert len(one.workers()) == 1
    assert children_of(one.server.pid, "studio.serving.web") == web
    assert one.end() == 0
