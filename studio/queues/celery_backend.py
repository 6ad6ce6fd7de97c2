"""Celery behind Django's tasks interface, so that a district's workers run on many machines.

The code does not change, only the settings:

    BENCHLEDGER_TASKS=studio.queues.celery_backend.CeleryBackend
    BENCHLEDGER_BROKER=redis://queue.example.org:6379/0

on web processes and workers alike, with DATABASE_URL pointing at the shared PostgreSQL. Install
the district's lock file (it has Celery and its Redis client) and start as many workers as wanted:

    celery -A studio.queues.celery_app worker --queues default,desk,trials --concurrency 2

Placing takes seconds, and what people wait for shall not wait for that: with two pools, one with
`--queues default` and one with `--queues desk,trials`, each has its own.

A killed worker's job is taken up again by the reaper, which `serve` runs beside the web processes
where the queue is not the database's own.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from typing import Any, TypeVar

from django.conf import settings
from django.core import checks
from django.utils import timezone
from django.utils.module_loading import import_string
from django_tasks.backends.base import BaseTaskBackend
from django_tasks.base import Task, TaskContext, TaskResult, TaskResultStatus
from django_tasks.signals import task_enqueued, task_finished, task_started
from django_tasks.utils import get_random_id
from kombu.exceptions import OperationalError

from .celery_app import app

T = TypeVar("T")
logger = logging.getLogger(__name__)

BROKER_AWAY = (OperationalError, OSError)


class CeleryBackend(BaseTaskBackend):
    """Sends tasks to a Celery queue of the same name. Results are not kept there."""

    supports_defer = True

    def enqueue(self, task: Task[Any, T], args: Any, kwargs: Any) -> TaskResult[T]:
        """Send the task; a broker that is away is written down and nobody is told.

        What is to be done stands in a row of the database by then, and the reaper sends it again:
        a person whose plan is stored must not read that the page broke.
        """
        self.validate_task(task)
        result: TaskResult[T] = TaskResult(
            task=task,
            id=get_random_id(),
            status=TaskResultStatus.READY,
            enqueued_at=timezone.now(),
            started_at=None,
            last_attempted_at=None,
            finished_at=None,
            args=list(args),
            kwargs=dict(kwargs),
            backend=self.alias,
            errors=[],
            worker_ids=[],
        )
        try:
            run_task.apply_async(
                args=[task.module_path, self.alias, result.args, result.kwargs],
                task_id=result.id,
                queue=task.queue_name,
                eta=task.run_after,
            )
        except BROKER_AWAY as away:
            logger.warning("the queue's broker is away; %s waits (%s)", task.module_path, away)
            return result
        task_enqueued.send(type(self), task_result=result)
        return result

    def check(self, **kwargs: Any) -> Iterable[checks.CheckMessage]:
        if settings.BROKER_URL:
            return []
        return [
            checks.Error(
                "The queue is Celery, but no broker is named.",
                hint="Set BENCHLEDGER_BROKER, such as redis://queue.example.org:6379/0.",
                id="studio.E001",
            )
        ]


@app.task(name="benchledger.run", bind=True, ignore_result=True)  # type: ignore[untyped-decorator]
def run_task(self: Any, path: str, alias: str, args: list[Any], kwargs: dict[str, Any]) -> None:
    """In the worker: find the task by its module path and call it. Only tasks are called."""
    task = import_string(path)
    if not isinstance(task, Task):
        raise TypeError(f"{path} is not a task")
    now = timezone.now()
    result: TaskResult[Any] = TaskResult(
        task=task.using(backend=alias),
        id=self.request.id,
        status=TaskResultStatus.RUNNING,
        enqueued_at=None,
        started_at=now,
        last_attempted_at=now,
        finished_at=None,
        args=args,
        kwargs=kwargs,
        backend=alias,
        errors=[],
        worker_ids=[str(self.request.hostname)],
    )
    task_started.send(CeleryBackend, task_result=result)
    try:
        if task.takes_context:
            task.call(TaskContext(task_result=result), *args, **kwargs)
        else:
            task.call(*args, **kwargs)
        object.__setattr__(result, "status", TaskResultStatus.SUCCESSFUL)
    except BaseException:
        object.__setattr__(result, "status", TaskResultStatus.FAILED)
        raise
    finally:
        object.__setattr__(result, "finished_at", timezone.now())
        task_finished.send(CeleryBackend, task_result=result)
