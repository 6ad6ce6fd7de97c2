"""A district's queue: the same task code through Celery, by settings alone."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone
from django_tasks import default_task_backend

from studio.models import CutPlan, PlacingJob
from studio.running.placing import reaping
from studio.steps.plans.place import propose
from studio.tasks import place_plan
from tests.people import Cast
from tests.studio.plans import making

celery = pytest.importorskip("celery", reason="Celery belongs to a district's installation")


@pytest.fixture
def district(settings: Any) -> Any:
    """The tasks of this test go through Celery, with its broker in memory."""
    from studio.queues.celery_app import app

    settings.TASKS = {
        "default": {
            "BACKEND": "studio.queues.celery_backend.CeleryBackend",
            "QUEUES": ["default"],
        }
    }
    before = app.conf.task_always_eager, app.conf.task_eager_propagates
    app.conf.update(broker_url="memory://")
    yield app
    app.conf.task_always_eager, app.conf.task_eager_propagates = before


def test_plan_is_placed_by_a_celery_task(
    cast: Cast, district: Any, django_capture_on_commit_callbacks: Any
) -> None:
    district.conf.update(task_always_eager=True, task_eager_propagates=True)
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    with django_capture_on_commit_callbacks(execute=True):
        plan = propose([project], acting=cast.teacher, seconds=0.2)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.placing.attempts == 1


def test_message_in_the_broker_carries_the_task_and_its_id(district: Any) -> None:
    from studio.queues.celery_backend import run_task

    district.conf.update(task_always_eager=False)
    result = place_plan.enqueue(4711)
    with district.connection_for_read() as connection:
        queue = connection.SimpleQueue("default")
        try:
            message = queue.get(timeout=60)
            args, kwargs, _ = message.payload
            message.ack()
        finally:
            queue.close()
    assert message.headers["id"] == result.id
    assert message.headers["task"] == run_task.name
    assert args == ["studio.tasks.place_plan", "default", [4711], {}]
    assert kwargs == {}


def test_plan_is_stored_and_waits_while_the_broker_is_away(
    cast: Cast,
    district: Any,
    django_capture_on_commit_callbacks: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from kombu.exceptions import OperationalError

    from studio.queues import celery_backend

    def away(**_: Any) -> None:
        raise OperationalError("Error 111 connecting to queue.example.org:6379.")

    monkeypatch.setattr(celery_backend.run_task, "apply_async", away)
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    with django_capture_on_commit_callbacks(execute=True):
        plan = propose([project], acting=cast.teacher, seconds=0.2)
    assert plan.placing.state == "queued"
    # Back again, it is sent by whoever looks after what the queue has lost.
    monkeypatch.undo()
    district.conf.update(task_always_eager=True, task_eager_propagates=True)
    long_ago = timezone.now() - reaping.FORGOTTEN_AFTER
    PlacingJob.objects.update(queued_at=long_ago)
    with django_capture_on_commit_callbacks(execute=True):
        assert reaping.reap() == 1
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED


def test_only_tasks_are_called(district: Any) -> None:
    from studio.queues.celery_backend import run_task

    with pytest.raises(TypeError, match="is not a task"):
        run_task.run("os.path.basename", "default", ["x"], {})


@pytest.mark.django_db
def test_job_that_is_gone_does_no_harm(district: Any) -> None:
    district.conf.update(task_always_eager=True, task_eager_propagates=True)
    assert place_plan.enqueue(987654).id


def test_worker_started_by_its_command_knows_the_task() -> None:
    """In a fresh interpreter, as `celery -A studio.queues.celery_app worker` begins."""
    words = (
        "from studio.queues.celery_app import app\n"
        "app.loader.import_default_modules()\n"
        "from django.apps import apps\n"
        "assert apps.ready\n"
        "print('benchledger.run' in app.tasks)"
    )
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "studio.config.settings"}
    done = subprocess.run(
        [sys.executable, "-c", words],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.strip() == "True", done.stderr


def test_queue_without_a_broker_is_refused_by_the_system_check(district: Any) -> None:
    (found,) = default_task_backend.check()
    assert "no broker is named" in found.msg
    assert "BENCHLEDGER_BROKER" in (found.hint or "")
