"""A real installation in a folder of its own, opened by the real `manage.py serve`."""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE_SECONDS = 240.0
"""Starting compiles nothing, but a busy machine takes its time."""
END_SECONDS = 15.0
"""By the server's own promise: ended within so long of SIGTERM; a busy machine gets four times."""


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def wait_for(what: Callable[[], Any], seconds: float = PATIENCE_SECONDS) -> Any:
    """What `what` answers once it is true. Raises AssertionError when that never happens."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := what():
            return found
        time.sleep(0.05)
    raise AssertionError("it did not happen in time")


def said_by(
    program: str,
    *words: str,
    seconds: float = PATIENCE_SECONDS,
    environment: Mapping[str, str] | None = None,
) -> str:
    """What a Python program prints in a process of its own. Raises where it does not end well.

    `environment` is added to our own.
    """
    return subprocess.run(
        [sys.executable, "-c", program, *words],
        cwd=ROOT,
        env={**os.environ, **(environment or {})},
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        timeout=seconds,
    ).stdout


@dataclass
class House:
    """An installation: its folder, its port, and the environment that its commands run in."""

    var: Path
    port: int
    environment: dict[str, str]
    server: subprocess.Popen[bytes] | None = None

    @property
    def log(self) -> Path:
        return self.var / "server.log"

    def manage(self, *words: str, **more: Any) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, str(ROOT / "manage.py"), *words],
            env=self.environment,
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=10 * PATIENCE_SECONDS,
            **more,
        )

    def open(self, *words: str) -> None:
        """Start the server and come back when it says it is well."""
        self.start(*words)
        wait_for(self.is_well)

    def start(self, *words: str) -> None:
        with self.log.open("ab") as log:
            self.server = subprocess.Popen(
                [
                    sys.executable,
                    str(ROOT / "manage.py"),
                    "serve",
                    "--port",
                    str(self.port),
                    *words,
                ],
                env=self.environment,
                cwd=ROOT,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
            )

    def end(self, by: int = signal.SIGTERM) -> int:
        """Ask the server to end and wait for that; its exit status."""
        assert self.server is not None
        self.server.send_signal(by)
        return self.server.wait(timeout=4 * END_SECONDS)

    def get(self, path: str, headers: Mapping[str, str] | None = None) -> tuple[int, bytes]:
        """Status and body of a page. Raises OSError where nobody answers."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request("GET", path, headers=dict(headers or {}))
            answer = connection.getresponse()
            return answer.status, answer.read()
        except http.client.HTTPException as broken:
            raise OSError(str(broken)) from broken
        finally:
            connection.close()

    def health(self) -> dict[str, str]:
        try:
            return dict(json.loads(self.get("/health/")[1]))
        except (OSError, ValueError):
            return {}

    def is_well(self) -> bool:
        assert self.server is not None
        assert self.server.poll() is None, self.log.read_text(errors="replace")[-2000:]
        return self.health() == {"database": "ok", "worker": "ok"}

    def workers(self) -> list[int]:
        """Process numbers of the server's own children that run `manage.py work`."""
        assert self.server is not None
        return children_of(self.server.pid, "manage.py work")


def children_of(parent: int, words: str = "") -> list[int]:
    """Children of a process whose command line has these words (Linux)."""
    found = []
    for folder in Path("/proc").iterdir():
        if not folder.name.isdigit():
            continue
        try:
            command = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode()
            status = (folder / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has just ended
        if int(status[1]) == parent and status[0] != "Z" and words in command:
            found.append(int(folder.name))
    return sorted(found)


def is_alive(process: int) -> bool:
    try:
        return (Path("/proc") / str(process) / "stat").read_text().rpartition(")")[2].split()[
            0
        ] != "Z"
    except OSError:
        return False


@contextmanager
def house(var: Path, **environment: str) -> Iterator[House]:
    """An installation in `var`, not opened yet; whatever of it still runs at the end is killed."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("BENCHLEDGER_", "DJANGO_", "DATABASE_URL", "PYTEST_", "NUMBA_"))
    }
    one = House(
        var,
        free_port(),
        {
            **kept,
            "BENCHLEDGER_VAR": str(var),
            "BENCHLEDGER_PREPARE": "0",
            "DJANGO_SETTINGS_MODULE": "studio.config.settings",
            # Compiled once for all of them, where the tests keep it.
            "NUMBA_CACHE_DIR": str(ROOT / ".pytest_cache" / "engine"),
            **environment,
        },
    )
    try:
        yield one
    finally:
        if one.server is not None:
            everybody = [*children_of(one.server.pid), one.server.pid]
            for process in everybody:
                if is_alive(process):
                    os.kill(process, signal.SIGKILL)
            one.server.wait(timeout=60)
