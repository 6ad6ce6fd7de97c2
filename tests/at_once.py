"""Deeds at the very same moment: in threads of their own, with a connection each.

On whichever database the settings name, a SQLite file or PostgreSQL.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from django.db import connections

from classroom.refusals import Refused

Deed = Callable[[], Any]
MOST_SECONDS = 600.0
"""Far more than all deeds take on a busy machine; beyond it something hangs."""


def at_once(*deeds: Deed) -> list[Any]:
    """Begin all deeds together: what each answered, or the exception it ended with, in order."""
    gate = threading.Barrier(len(deeds), timeout=120)
    outcomes: list[Any] = [None] * len(deeds)

    def do(number: int, deed: Deed) -> None:
        try:
            gate.wait()
            outcomes[number] = deed()
        except Exception as error:
            outcomes[number] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=do, args=pair, daemon=True) for pair in enumerate(deeds)]
    for thread in threads:
        thread.start()
    until = time.monotonic() + MOST_SECONDS
    for thread in threads:
        thread.join(max(0.0, until - time.monotonic()))
    still = [number for number, thread in enumerate(threads) if thread.is_alive()]
    assert still == [], "these deeds wait for each other, or for something that does not come"
    return outcomes


def done_or_refused(*deeds: Deed) -> list[Any]:
    """The same where a deed is done or refused: whatever else it ended with is raised here."""
    outcomes = at_once(*deeds)
    for outcome in outcomes:
        if isinstance(outcome, Exception) and not isinstance(outcome, Refused):
            raise outcome
    return outcomes


def told_at_once(*deeds: Deed) -> list[str]:
    """The same in words: "done", or what the house refused."""
    return [
        str(outcome) if isinstance(outcome, Refused) else "done"
        for outcome in done_or_refused(*deeds)
    ]
