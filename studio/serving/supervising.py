"""Starts children, starts dead ones again, and ends them all in time.

Nothing here knows what the children do. A child that dies is started again at once, and with
growing pauses (at most `LONGEST_PAUSE`) when it keeps dying. Ending closes each child's lifeline
and, where there are signals, sends SIGTERM; what has not ended after `PATIENCE` is killed.
"""

from __future__ import annotations

import logging
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from . import lifeline

logger = logging.getLogger(__name__)

LOOK_SECONDS = 0.25
LONGEST_PAUSE = 8.0
"""A dead worker is back within 15 s, and starting takes some seconds itself."""
STEADY_SECONDS = 60.0
"""What has lived so long has not died of the fault that it was started with."""
PATIENCE = 12.0
"""Everything has ended within 15 s; killing and saying so takes the rest."""


@dataclass
class Child:
    """A program to be kept alive. When it has died, the next one is told its process number
    (`BENCHLEDGER_AFTER`), so that it can take over at once what the dead one was at."""

    name: str
    command: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    deaths: int = 0
    due: float = 0.0
    environment: dict[str, str] = field(default_factory=dict)

    def start(self, folder: str) -> None:
        own_group: dict[str, object] = (
            {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}  # type: ignore[attr-defined,unused-ignore]
            if sys.platform == "win32"
            # Ctrl-C at the terminal goes to the supervisor alone, which ends the others in order.
            # A group, not a session: Linux shares processors among sessions first, and the
            # worker's niceness to the web processes would count for nothing.
            else {"process_group": 0}
        )
        self.process = subprocess.Popen(
            list(self.command),
            cwd=folder,
            env={
                **os.environ,
                **self.environment,
                "BENCHLEDGER_PREPARE": "0",
                lifeline.MARK: "1",
            },
            stdin=subprocess.PIPE,
            **own_group,  # type: ignore[call-overload]
        )
        self.started = time.monotonic()

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def let_go(self) -> None:
        """Our end of the lifeline is closed."""
        if self.process is not None and self.process.stdin is not None:
            self.process.stdin.close()

    def ask_to_end(self) -> None:
        self.let_go()
        if self.process is None:
            return
        if sys.platform != "win32" and self.runs:
            self.process.terminate()


class Supervisor:
    """Keeps `children` alive until a signal or `stop()`; calls `chore` now and then."""

    def __init__(
        self,
        children: list[Child],
        *,
        folder: str,
        chore: Callable[[], Child | None] | None = None,
        chore_seconds: float = 900.0,
    ) -> None:
        self.children = children
        self.folder = folder
        self.chore = chore
        self.chore_seconds = chore_seconds
        self.ending = threading.Event()
        self._chore_due = 0.0
        self._errands: list[Child] = []

    def listen_to_signals(self) -> None:
        """SIGTERM, SIGINT and a closed terminal end us in order."""
        for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), lambda *_: self.stop())

    def stop(self) -> None:
        self.ending.set()

    def run(self) -> None:
        """Comes back when everything has ended."""
        try:
            while not self.ending.is_set():
                for child in self.children:
                    self._nurse(child)
                self._do_chores()
                self.ending.wait(LOOK_SECONDS)
        finally:
            self._end()

    def _nurse(self, child: Child) -> None:
        if child.runs:
            if child.deaths and time.monotonic() - child.started > STEADY_SECONDS:
                child.deaths = 0
            return
        now = time.monotonic()
        if child.process is not None:
            if child.due <= child.started:  # it has just been found dead
                pause = 0.0 if child.deaths == 0 else min(LONGEST_PAUSE, 2.0 ** (child.deaths - 1))
                child.deaths += 1
                child.due = now + pause
                logger.error(
                    "%s ended with status %s; it is started again in %.0f s",
                    child.name,
                    child.process.returncode,
                    pause,
                )
                child.let_go()
                child.environment["BENCHLEDGER_AFTER"] = str(child.process.pid)
            if now < child.due:
                return
        try:
            child.start(self.folder)
        except OSError:  # no memory or no process to be had: try again a little later
            logger.exception("%s cannot be started", child.name)
            child.due = now + LONGEST_PAUSE

    def _do_chores(self) -> None:
        self._errands = [one for one in self._errands if one.runs]
        if self.chore is None or time.monotonic() < self._chore_due or self._errands:
            return
        self._chore_due = time.monotonic() + self.chore_seconds
        try:
            errand = self.chore()
            if errand is not None:
                errand.start(self.folder)
                self._errands.append(errand)
        except Exception:
            logger.exception("a chore of the server")  # the house stays open all the same

    def _end(self) -> None:
        everybody = [child for child in (*self.children, *self._errands) if child.process]
        for child in everybody:
            child.ask_to_end()
        last = time.monotonic() + PATIENCE
        for child in everybody:
            assert child.process is not None
            try:
                child.process.wait(timeout=max(0.1, last - time.monotonic()))
            except subprocess.TimeoutExpired:
                logger.warning("%s did not end in time and is killed", child.name)
                child.process.kill()
                child.process.wait()
            finally:
                child.let_go()
