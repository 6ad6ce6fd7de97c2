"""Children are kept alive, started again when they die, and ended with their parent."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from studio.serving import lifeline, supervising
from studio.serving import opening as serving
from studio.serving.supervising import Child, Supervisor
from tests.running.house import END_SECONDS, ROOT, is_alive, wait_for

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="Processes are looked up in /proc."
)

SLEEPER = "import time, sys; open(sys.argv[1], 'a').write('x'); time.sleep(600)"
STUBBORN = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN);" + SLEEPER
SHORT = "import sys; open(sys.argv[1], 'a').write('x'); sys.exit(3)"


@contextmanager
def kept(*children: Child, **more: object) -> Iterator[Supervisor]:
    one = Supervisor(list(children), folder=str(Path.cwd()), **more)  # type: ignore[arg-type]
    thread = threading.Thread(target=one.run)
    thread.start()
    try:
        yield one
    finally:
        one.stop()
        thread.join(timeout=60)
        assert not thread.is_alive()


def python(program: str, told: Path) -> list[str]:
    return [sys.executable, "-c", program, str(told)]


def starts(told: Path) -> int:
    return len(told.read_text()) if told.exists() else 0


def test_a_killed_child_is_started_again(tmp_path: Path) -> None:
    child, told = Child("sleeper", python(SLEEPER, tmp_path / "told")), tmp_path / "told"
    with kept(child):
        for times in range(1, 3):
            wait_for(lambda times=times: starts(told) == times)  # type: ignore[misc]
            assert child.process is not None
            dead = child.process.pid
            os.kill(dead, signal.SIGKILL)
        wait_for(lambda: starts(told) == 3)
        assert child.environment["BENCHLEDGER_AFTER"] == str(dead)
        last = child.process.pid
    assert not is_alive(last)


def test_a_child_that_keeps_dying_is_given_growing_pauses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supervising, "LONGEST_PAUSE", 0.3)
    child, told = Child("short", python(SHORT, tmp_path / "told")), tmp_path / "told"
    with kept(child):
        wait_for(lambda: starts(told) >= 4)
    assert child.deaths >= 3


def test_ending_ends_children_that_hear_and_kills_those_that_do_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supervising, "PATIENCE", 1.0)
    hears = Child("hears", python(SLEEPER, tmp_path / "one"))
    deaf = Child("deaf", python(STUBBORN, tmp_path / "two"))
    with kept(hears, deaf):
        wait_for(lambda: starts(tmp_path / "one") and starts(tmp_path / "two"))
    assert hears.process is not None
    assert deaf.process is not None
    assert hears.process.returncode == -signal.SIGTERM
    assert deaf.process.returncode == -signal.SIGKILL


def test_a_chore_that_fails_closes_nothing(tmp_path: Path) -> None:
    def chore() -> None:
        raise RuntimeError("no backup today")

    told = tmp_path / "told"
    with kept(Child("sleeper", python(SLEEPER, told)), chore=chore) as one:
        wait_for(lambda: starts(told) == 1)
        assert not one.ending.is_set()


def test_everything_has_ended_within_fifteen_seconds_by_its_bounds() -> None:
    """The server's promise, without a clock: what each waits for fits into what its parent waits
    for, and killing the rest takes the three seconds that are left."""
    from studio.serving import web, worker

    assert web.KILL_SECONDS < supervising.PATIENCE
    assert worker.LAST_WORDS < supervising.PATIENCE
    assert supervising.PATIENCE + 3 <= END_SECONDS


def test_a_child_of_a_killed_parent_notices(tmp_path: Path) -> None:
    """Nobody can say goodbye after SIGKILL; the pipe on standard input is closed all the same."""
    child = (
        "import os, sys, threading; from studio.serving import lifeline;"
        "held = lifeline.is_held(); gone = threading.Event();"
        "lifeline.watch(gone.set) if held else None;"
        "open(sys.argv[1], 'w').write(str(os.getpid())); gone.wait(600)"
    )
    parent = (
        "import sys, threading; from studio.serving.supervising import Child, Supervisor;"
        "c = Child('c', [sys.executable, '-c', sys.argv[1], sys.argv[2]]);"
        "Supervisor([c], folder='.').run()"
    )
    told = tmp_path / "told"
    keeper = subprocess.Popen([sys.executable, "-c", parent, child, str(told)])
    wait_for(lambda: told.exists() and told.read_text())
    orphan = int(told.read_text())
    keeper.kill()
    keeper.wait(timeout=60)
    wait_for(lambda: not is_alive(orphan))


def test_a_name_is_listened_to_by_its_address() -> None:
    """The web server takes addresses only; a name would have it die and start for ever."""
    from studio.serving.opening import address_of, is_this_machine

    assert address_of("localhost", 8000) == "127.0.0.1"
    assert address_of("0.0.0.0", 8000) == "0.0.0.0"
    assert is_this_machine("localhost")
    assert is_this_machine("::1")
    assert not is_this_machine("0.0.0.0")
    assert not is_this_machine("bench.example.org")


def test_a_chores_child_that_still_runs_is_not_started_twice_and_is_ended_like_others(
    tmp_path: Path,
) -> None:
    made: list[Child] = []

    def chore() -> Child:
        made.append(Child("chore", python(SLEEPER, tmp_path / "told")))
        return made[-1]

    one = Supervisor([], folder=str(ROOT), chore=chore, chore_seconds=0.0)
    for _ in range(3):
        one._do_chores()
    wait_for(lambda: starts(tmp_path / "told") == 1)
    assert len(made) == 1
    one.stop()
    one.run()
    assert made[0].process is not None
    assert made[0].process.returncode == -signal.SIGTERM


def test_beside_another_queue_a_reaper_runs_and_no_worker(settings: Any) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
    own = [child.name for child in serving.children("127.0.0.1", 8000)]
    assert own == ["the web server", "the worker"]
    settings.TASKS = {"default": {"BACKEND": "studio.queues.celery_backend.CeleryBackend"}}
    elsewhere = [child.name for child in serving.children("127.0.0.1", 8000)]
    assert elsewhere == ["the web server", "the reaper"]


@pytest.mark.slow
def test_the_reaper_goes_on_until_its_parent_is_gone(tmp_path: Path) -> None:
    """It has looked once, and looks again, and ends when the pipe on its input is closed."""
    told = {
        **os.environ,
        "BENCHLEDGER_VAR": str(tmp_path / "var"),
        "BENCHLEDGER_PREPARE": "0",
        lifeline.MARK: "1",
    }
    for name in ("DJANGO_SETTINGS_MODULE", "DATABASE_URL"):
        told.pop(name, None)
    manage = [sys.executable, "manage.py"]
    own: dict[str, Any] = {"env": told, "cwd": ROOT}
    subprocess.run([*manage, "migrate", "-v0"], check=True, stdin=subprocess.DEVNULL, **own)
    with subprocess.Popen(
        [*manage, "reap", "--every", "1"],
        stdin=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **own,
    ) as one:
        with pytest.raises(subprocess.TimeoutExpired):
            one.wait(timeout=6)
        assert one.stdin is not None
        one.stdin.close()
        assert one.wait(timeout=60) == 0
        assert one.stderr is not None
        assert "Traceback" not in one.stderr.read()
