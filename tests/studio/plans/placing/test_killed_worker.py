"""A worker is killed in the middle of placing: another one takes the job up and ends it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings
from django.db import connection

from studio.core.cutting import job_from_json, plan_from_json
from studio.core.verifying import faults
from studio.models import CutPlan, PlacingJob
from studio.steps.plans.place import propose
from tests.people import make_cast
from tests.running.house import wait_for
from tests.studio.plans import making

PATIENCE_SECONDS = 300
LEASE_SECONDS = 8.0  # no living worker is silent for so long, however busy the machine


def database_url() -> str:
    """The test database as another process finds it."""
    told = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{told['NAME']}"
    user, password = quote(str(told["USER"])), quote(str(told["PASSWORD"]))
    return f"postgres://{user}:{password}@{told['HOST']}:{told['PORT'] or 5432}/{told['NAME']}"


@pytest.fixture
def start_worker(tmp_path: Path) -> Iterator[Callable[[], subprocess.Popen[bytes]]]:
    """Starts real workers in processes of their own; none outlives the test."""
    started: list[subprocess.Popen[bytes]] = []
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "studio.config.settings",
        "DATABASE_URL": database_url(),
        "BENCHLEDGER_VAR": str(tmp_path),
        "BENCHLEDGER_PREPARE": "0",
        "BENCHLEDGER_PLACING_LEASE_SECONDS": str(LEASE_SECONDS),
        "BENCHLEDGER_TASKS": "django_tasks_db.DatabaseBackend",
    }

    def start() -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            [sys.executable, str(Path(settings.BASE_DIR) / "manage.py"), "work"],
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.wait(timeout=60)


@pytest.mark.django_db(transaction=True)
def test_job_of_a_killed_worker_is_taken_up_again_and_finished(
    start_worker: Callable[[], subprocess.Popen[bytes]], settings: Any
) -> None:
    from django_tasks_db.models import DBTaskResult

    settings.TASKS = {
        "default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}
    }
    cast = make_cast()
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    project = making.approved_project(a_brief, cast.seat, metal, making.FISH, copies=4)
    plan = propose([project], acting=cast.teacher, seconds=110.0)  # not over before it is seen

    def job() -> PlacingJob:
        return PlacingJob.objects.get(plan=plan)

    first = start_worker()
    # It is in the middle: a plan is there, the search goes on.
    wait_for(lambda: job().progress, PATIENCE_SECONDS)
    assert job().state == PlacingJob.State.RUNNING
    first.kill()
    first.wait(timeout=60)
    killed = job()
    assert killed.state == PlacingJob.State.RUNNING  # nobody could say goodbye

    CutPlan.objects.filter(pk=plan.pk).update(seconds=1.0)
    start_worker()
    wait_for(lambda: job().state == PlacingJob.State.DONE, PATIENCE_SECONDS)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert job().attempts == 2
    assert job().worker != killed.worker
    answer = plan_from_json(plan.answer or {})
    assert not answer.unplaced
    assert not faults(job_from_json(plan.job), answer.placements)
    wait_for(lambda: not DBTaskResult.objects.filter(status="RUNNING").exists(), PATIENCE_SECONDS)
    assert DBTaskResult.objects.filter(status="FAILED").count() == 1  # the stale row is closed
