"""The worker process: a loop for each queue, signs of life, and a look after what was lost.

Placing, people's errands and trial layouts wait in queues of their own, so that nobody's upload
waits for a plan. The process is nice to the web processes beside it: what answers a page goes
first.
"""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import threading
import time
from collections.abc import Callable

from django.conf import settings
from django.db import connections
from django.utils.crypto import get_random_string

from studio.core.confining import end_all
from studio.running.closing import ENDING
from studio.running.signs import SIGN_SECONDS, Sign

from . import lifeline
from .loops import QueueLoop
from .nice import be_nice

logger = logging.getLogger(__name__)

LAST_WORDS = 10.0
"""So long whatever is under way may take to be put back or to end, once we are told to end."""
CUT_SECONDS = 0.1
_UNDER_WAY = threading.Event()
_SIGNALLED = threading.Event()


def work(
    *,
    interval: float,
    batch: bool,
    look_after: Callable[[], object],
    prepare: Callable[[], object] = lambda: None,
) -> None:
    """Work until told to end, or with `batch` until nothing waits any more.

    `look_after` is called at once and then regularly, in a thread of its own. `prepare` is what
    takes seconds before the first task; whoever ends us meanwhile is heard at once.
    """
    _UNDER_WAY.clear()
    _SIGNALLED.clear()
    held = lifeline.is_held()
    be_nice()
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGINT", "SIGBREAK"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), _end)
    if held:
        lifeline.watch(_told_to_end)
    prepare()
    _UNDER_WAY.set()
    name = get_random_string(32)
    loops = [QueueLoop("default", name, interval=interval, batch=batch)]
    loops += [
        QueueLoop(queue, name, interval=min(interval, 0.25), batch=batch)
        for queue, count in (("desk", settings.DESK_LOOPS), ("trials", settings.TRIAL_LOOPS))
        for _ in range(count)
    ]
    keeper = threading.Thread(
        target=keep_house, args=(loops, look_after), name="keeper", daemon=True
    )
    keeper.start()
    for loop in loops:
        loop.start()
    if batch:
        while any(loop.is_alive() for loop in loops):
            for loop in loops:
                loop.join(timeout=CUT_SECONDS)
            if ENDING.is_set():
                end_all()
        ENDING.set()
        keeper.join(timeout=5)
        ENDING.clear()
        return
    while not ENDING.wait(1.0):
        if not all(loop.is_alive() for loop in loops):
            logger.error("a queue's loop has ended by itself; the worker ends too")
            ENDING.set()
    last = time.monotonic() + LAST_WORDS
    # Again and again: a loop may be about to start a child. Cut short, an errand is given back.
    while any(loop.is_alive() for loop in loops) and time.monotonic() < last:
        end_all()
        for loop in loops:
            loop.join(timeout=CUT_SECONDS)
    keeper.join(timeout=max(0.1, last - time.monotonic()))
    end_all()
    connections.close_all()
    # A thread that does not come back would keep the process: what it holds is under a lease, and
    # is taken up again.
    os._exit(0)


def _end(*_: object) -> None:
    # A parent cuts the lifeline and sends its signal too: both are one word, and do not make two.
    if _SIGNALLED.is_set():
        os._exit(1)  # asked twice: at once
    _SIGNALLED.set()
    _told_to_end()


def _told_to_end() -> None:
    if not _UNDER_WAY.is_set():
        os._exit(0)  # nothing has been taken up yet
    ENDING.set()


def keep_house(loops: list[QueueLoop], look_after: Callable[[], object]) -> None:
    """Give signs of life while every loop is there, and look for lost work between."""
    sign = Sign()
    pause = max(1.0, settings.PLACING_LEASE_SECONDS / 3)
    due = 0.0
    try:
        while not ENDING.is_set():
            try:
                if all(loop.is_alive() or loop.ident is None for loop in loops):
                    sign.give()
                if time.monotonic() >= due:
                    due = time.monotonic() + pause
                    look_after()
            except Exception as error:
                # A database away for a moment; the next look is near.
                logger.warning("the worker's keeper: %s", error)
            finally:
                connections.close_all()
            ENDING.wait(min(SIGN_SECONDS, pause))
        with contextlib.suppress(Exception):
            sign.take_back()
    finally:
        connections.close_all()
