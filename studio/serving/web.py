"""The child that answers pages: granian with several processes, each with an event loop that
receives (`door.py`) and threads that answer.

Started by the supervisor as `python -m studio.serving.web HOST PORT`. Its own main process only
looks after the processes that answer; it loads no Django.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from multiprocessing.connection import wait
from typing import Any

from . import lifeline

KILL_SECONDS = 10
"""What is under way is answered; whatever takes longer than this is cut off."""
KEPT_MILLISECONDS = 75_000
"""A proxy that keeps connections for a minute must not find one closed as it uses it."""
IDLE_CONNECTIONS = 8192
"""A kept connection costs some kilobytes here and no thread. Seventeen browsers keep a hundred."""


def processes() -> int:
    """Two at the least, so that one may die or be busy; more than four serve no school."""
    asked = os.environ.get("BENCHLEDGER_WEB_PROCESSES", "")
    return int(asked) if asked else min(4, max(2, os.cpu_count() or 2))


def threads() -> int:
    """In each process. Each may hold a connection to the database, of which PostgreSQL allows a
    hundred by default. Some wait for something small now and then, so there are many of them."""
    return int(os.environ.get("BENCHLEDGER_WEB_THREADS", "") or max(8, 64 // processes()))


def load() -> Any:
    """In each answering process: the application, and an end when its parent has gone."""
    parent = multiprocessing.parent_process()
    if parent is not None:

        def follow(sentinel: int) -> None:
            wait([sentinel])
            os.kill(os.getpid(), signal.SIGTERM)

        threading.Thread(target=follow, args=(parent.sentinel,), daemon=True).start()
    # A page lets go of the interpreter with each look into the database, and would wait the usual
    # five milliseconds each time where another thread draws something large.
    sys.setswitchinterval(0.0005)
    from django.conf import settings
    from django.urls import reverse

    from studio.config.wsgi import django_application
    from studio.running.layouts import judging
    from studio.views.house.troubles import not_received

    from .door import Door

    reverse("first_page")  # every view is loaded now, not while the first reader waits
    judging.start()
    return Door(django_application, proxies=settings.PROXIES, threads=threads(), words=not_received)


def main(host: str, port: int) -> None:
    from granian.constants import HTTPModes, Interfaces
    from granian.http import HTTP1Settings
    from granian.log import LogLevels
    from granian.server import Server

    held = lifeline.is_held()
    server = Server(
        "studio.serving.web:load",
        address=host,
        port=port,
        interface=Interfaces.ASGINL,
        http=HTTPModes.http1,
        http1_settings=HTTP1Settings(header_read_timeout=KEPT_MILLISECONDS),
        websockets=False,
        workers=processes(),
        backlog=1024,
        backpressure=IDLE_CONNECTIONS,
        respawn_failed_workers=True,
        workers_kill_timeout=KILL_SECONDS,
        log_level=LogLevels.error,
    )
    if held:
        lifeline.watch(server.signal_handler_interrupt)
    server.serve(target_loader=load, wrap_loader=False)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
