"""The worker: places pieces in the background, and takes up what a lost worker left behind."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connections
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks import DEFAULT_TASK_BACKEND_ALIAS, task_backends
from shapely.geometry import box

from classroom.waiting_files import clear_out
from studio.core.placing import Job, Metal, Order, place, warm_up_aside
from studio.placing_jobs.reaping import reap

logger = logging.getLogger(__name__)

KEPT = dt.timedelta(days=14)


class Command(BaseCommand):
    requires_system_checks: list[str] = []  # a worker needs no pages
    help = "Runs background work from the database's queue until interrupted."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--interval", type=float, default=0.5, help="seconds between looks at an empty queue"
        )
        parser.add_argument("--batch", action="store_true", help="do what waits, then end")

    def handle(self, *args: Any, **options: Any) -> None:
        from django_tasks_db.backend import DatabaseBackend
        from django_tasks_db.management.commands.db_worker import Worker

        if not 0.05 <= options["interval"] <= 60:
            raise CommandError("--interval: a number from 0.05 to 60 is wanted", returncode=2)
        if not isinstance(task_backends[DEFAULT_TASK_BACKEND_ALIAS], DatabaseBackend):
            raise CommandError(
                "The queue is not the database here (BENCHLEDGER_TASKS), so this worker has "
                "nothing to do. For Celery start: celery -A studio.queues.celery_app worker",
                returncode=2,
            )
        warm_up()
        worker = Worker(
            queue_names=["default"],
            interval=options["interval"],
            batch=options["batch"],
            backend_name=DEFAULT_TASK_BACKEND_ALIAS,
            startup_delay=False,
            max_tasks=None,
            worker_id=get_random_string(32),
            excluded_queue_names=[],
        )
        reap()
        clear_out()
        forget_old_tasks()
        ended = threading.Event()
        keeper = threading.Thread(target=keep_reaping, args=(ended,), name="reaper", daemon=True)
        keeper.start()
        worker.configure_signals()
        try:
            worker.run()
        finally:
            ended.set()
            keeper.join(timeout=2)


def keep_reaping(ended: threading.Event) -> None:
    """Look for lost jobs beside the work, also while a long one is being placed."""
    pause = max(1.0, settings.PLACING_LEASE_SECONDS / 3)
    while not ended.wait(pause):
        try:
            reap()
            clear_out()
        except Exception:
            logger.exception("reaping")  # a database away for a moment; the next look is near
        finally:
            connections.close_all()


def forget_old_tasks() -> None:
    """Rows of tasks that ended long ago say nothing that the plans do not say."""
    from django_tasks_db.models import DBTaskResult

    long_ago = timezone.now() - KEPT
    DBTaskResult.objects.finished().filter(finished_at__lt=long_ago).delete()


def warm_up() -> None:
    """Load the engine and place one square, so that the first student does not wait for that.

    The compiled search gets ready aside: half a minute once per machine, then from its cache.
    """
    square = box(0.0, 0.0, 10.0, 10.0)
    sheet = box(0.0, 0.0, 40.0, 40.0)
    place(Job(metal=(Metal("sheet", sheet),), pieces=(Order("square", square),)), seconds=0.2)
    warm_up_aside()
