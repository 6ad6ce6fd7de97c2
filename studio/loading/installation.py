"""An installation of its own for a measurement: made, started, ended and taken away again."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from .talking import HOME
from .wanted import Mode, School, Seen

ROOT = Path(__file__).resolve().parents[2]
FILLING_SECONDS = 1800.0
READY_SECONDS = 300.0
ENDING_SECONDS = 30.0
WORK_SECONDS = 300.0
"""For the workers' work after the last mode, beside the time of placing."""
AFTER_A_MODE_SECONDS = 300.0
"""Beside the time of the mode itself: idle connections are opened, late answers awaited."""


class Unmeasured(Exception):
    """The measurement could not be made; the text says why."""


@dataclass(slots=True)
class Served:
    """A server that runs, and afterwards how long it took to end."""

    port: int
    ended_in_seconds: float = 0.0


@dataclass(frozen=True)
class Installation:
    """A folder and a database that nobody else uses."""

    folder: Path
    database: str  # an address as in DATABASE_URL; empty for SQLite in the folder
    placing_seconds: float

    @property
    def environment(self) -> dict[str, str]:
        own = {
            name: value
            for name, value in os.environ.items()
            # Nothing of the caller's own installation, whose address or TLS may be set.
            if not name.startswith("BENCHLEDGER_") and name != "DATABASE_URL"
        }
        if self.database:
            own["DATABASE_URL"] = self.database
        return own | {
            "BENCHLEDGER_PREPARE": "0",
            "BENCHLEDGER_VAR": str(self.folder / "var"),
            "BENCHLEDGER_PLACING_SECONDS": str(self.placing_seconds),
            "BENCHLEDGER_LOG": "ERROR",
            "DJANGO_SETTINGS_MODULE": "studio.config.settings",
        }

    def outcomes(self) -> tuple[int, list[str]]:
        """How much of the workers' work has ended well, and what has not, when all is over."""
        patience = self.placing_seconds + WORK_SECONDS
        done = subprocess.run(
            [sys.executable, "-m", "studio.loading.outcomes", str(patience)],
            cwd=ROOT,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            timeout=patience + 60,
            check=False,
        )
        if done.returncode:
            raise Unmeasured("what came of the work is not known; the reason stands above")
        found = json.loads(done.stdout)
        return found["done"], found["wrong"]

    def fill(self, students: int) -> School:
        """Raises Unmeasured when the school cannot be made."""
        return School.from_json(
            self.made("studio.loading.population", str(students), str(self.folder))
        )

    def made(self, module: str, *words: str) -> Any:
        """What a module that fills the installation prints. Raises Unmeasured."""
        done = subprocess.run(
            [sys.executable, "-m", module, *words],
            cwd=ROOT,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            timeout=FILLING_SECONDS,
            check=False,
        )
        if done.returncode:
            raise Unmeasured("the school could not be made; the reason stands above")
        return json.loads(done.stdout)

    @contextlib.contextmanager
    def served(self) -> Iterator[Served]:
        """The real server, on a free port of this machine, while the block runs."""
        port = _free_port()
        server = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--host", HOME, "--port", str(port)],
            cwd=ROOT,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )
        try:
            _wait_until_ready(server, port)
            here = Served(port)
            yield here
            here.ended_in_seconds = _end(server)
        finally:
            _end(server)


@contextlib.contextmanager
def installation(database: str, placing_seconds: float) -> Iterator[Installation]:
    """In a temporary folder; with `database`, in a new database on that PostgreSQL server."""
    with contextlib.ExitStack() as stack:
        folder = Path(
            stack.enter_context(
                tempfile.TemporaryDirectory(prefix="benchledger-load-", ignore_cleanup_errors=True)
            )
        )
        if database:
            from .databases import new_database

            database = stack.enter_context(new_database(database))
        yield Installation(folder, database, placing_seconds)


def read(port: int, school: School, mode: Mode) -> Seen:
    """One mode, by the readers' own process."""
    asked = {"port": port, "school": school.to_json(), "modes": [asdict(mode)]}
    done = subprocess.run(
        [sys.executable, "-m", "studio.loading.client"],
        cwd=ROOT,
        input=json.dumps(asked).encode(),
        stdout=subprocess.PIPE,
        timeout=mode.seconds + AFTER_A_MODE_SECONDS,
        check=False,
    )
    if done.returncode:
        raise Unmeasured("the readers broke off; the reason stands above")
    return Seen(**json.loads(done.stdout))


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((HOME, 0))
        return int(probe.getsockname()[1])


def _wait_until_ready(server: subprocess.Popen[bytes], port: int) -> None:
    """Until web processes and worker are there. Raises Unmeasured."""
    end = time.monotonic() + READY_SECONDS
    while time.monotonic() < end:
        if server.poll() is not None:
            raise Unmeasured(f"the server ended with status {server.returncode}")
        with contextlib.suppress(OSError, urllib.error.HTTPError):
            address = f"http://{HOME}:{port}/health/"
            with urllib.request.urlopen(address, timeout=10) as answer:
                if answer.status == 200:
                    return
        time.sleep(0.5)
    raise Unmeasured(f"the server was not ready within {READY_SECONDS:.0f} s")


def _end(server: subprocess.Popen[bytes]) -> float:
    """Seconds that it took."""
    if server.poll() is not None:
        return 0.0
    began = time.monotonic()
    server.send_signal(signal.SIGTERM)
    try:
        server.wait(timeout=ENDING_SECONDS)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
    return time.monotonic() - began
