"""A district's queue is restarted, and what waited in it is gone: no plan is lost by that.

Redis keeps nothing here, which is the worse case. What is asked of a plan stands in the database,
so whoever looks at it queues it again.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.running import looking
from tests.running.conftest import Open, Opened
from tests.running.house import ROOT, House, free_port, is_alive, wait_for

pytestmark = pytest.mark.slow
pytest.importorskip("celery", reason="Celery belongs to a district's installation.")

END_SECONDS = 60


@dataclass
class Redis:
    """A server of the tests' own, without a memory."""

    program: str
    folder: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        words = ["--port", str(self.port), "--bind", "127.0.0.1", "--save", "", "--appendonly"]
        self.process = subprocess.Popen(
            [self.program, *words, "no", "--dir", str(self.folder)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        wait_for(self.answers)

    def stop(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait(timeout=END_SECONDS)
            self.process = None

    def answers(self) -> bool:
        import redis

        with redis.Redis(port=self.port) as client:
            try:
                return bool(client.ping())
            except redis.ConnectionError:
                return False


@pytest.fixture
def redis_server(tmp_path: Path) -> Iterator[Redis]:
    program = shutil.which("redis-server")
    if program is None:
        pytest.skip("A district's queue needs redis-server.")
    one = Redis(program, tmp_path)
    one.start()
    yield one
    one.stop()


@pytest.fixture
def district(open_school: Open, redis_server: Redis) -> Iterator[tuple[Opened, int]]:
    """A school whose queue is Celery, and the process number of its one worker."""
    opened = open_school(
        start=False,
        BENCHLEDGER_TASKS="studio.queues.celery_backend.CeleryBackend",
        BENCHLEDGER_BROKER=redis_server.url,
        BENCHLEDGER_PLACING_SECONDS="6",
    )
    one = opened[0]
    words = ["-A", "studio.queues.celery_app", "worker", "--queues", "default,desk,trials"]
    with (one.var / "celery.log").open("wb") as log:
        worker = subprocess.Popen(
            [sys.executable, "-m", "celery", *words, "--concurrency", "1"],
            cwd=ROOT,
            env=one.environment,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
        )
    try:
        one.open()
        assert one.workers() == []  # the district has its own
        yield opened, worker.pid
    finally:
        worker.terminate()
        try:
            worker.wait(timeout=END_SECONDS)
        except subprocess.TimeoutExpired:
            worker.kill()
            worker.wait()


def make_it_long_ago(one: House) -> None:
    """What waits has waited for longer than anything waits in a queue."""
    looking.change(
        one,
        "UPDATE studio_placingjob SET queued_at = datetime('now', '-10 minutes') "
        "WHERE state = 'queued'",
    )


def test_plan_under_way_and_plan_that_waits_both_end_though_the_queue_forgets_them(
    district: tuple[Opened, int], redis_server: Redis
) -> None:
    (one, school, teacher), worker = district
    for project in school.projects[:2]:
        assert teacher.post(school.plan_new, {"projects": [str(project)]}).status == 302
    first, second = sorted(looking.plan_states(one))
    wait_for(lambda: looking.jobs(one)[first][3])  # something is found: it is in the middle
    redis_server.stop()
    assert teacher.get("/plans/").status == 200  # nobody needs the queue to look at a page
    redis_server.start()
    wait_for(lambda: looking.plan_states(one)[first] == "proposed")
    make_it_long_ago(one)
    assert teacher.get(f"/plans/{second}/").status == 200
    wait_for(lambda: looking.plan_states(one)[second] == "proposed")
    assert looking.ended_once(one, [first, second]) == []
    assert is_alive(worker)
    wait_for(one.is_well)


def test_plan_that_is_asked_for_while_the_queue_is_away_is_stored_and_ends(
    district: tuple[Opened, int], redis_server: Redis
) -> None:
    (one, school, teacher), worker = district
    redis_server.stop()
    answer = teacher.post(school.plan_new, {"projects": [str(school.projects[0])]})
    assert answer.status == 302, "the plan is stored, and the answer must say so"
    (plan,) = looking.plan_states(one)
    make_it_long_ago(one)
    # Whoever looks at it meanwhile sees it wait, whatever the queue says.
    assert teacher.get(f"/plans/{plan}/").status == 200
    redis_server.start()
    make_it_long_ago(one)
    assert teacher.get(f"/plans/{plan}/").status == 200
    wait_for(lambda: looking.plan_states(one)[plan] == "proposed")
    assert looking.ended_once(one, [plan]) == []
    assert is_alive(worker)
