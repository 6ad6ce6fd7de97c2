"""The worker: background work from the database's queues, and a look after what was lost."""

from __future__ import annotations

import datetime as dt
import logging
import os
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from classroom.files.waiting_files import clear_out
from studio.core.placing import apart
from studio.queues.whose import the_queue_is_ours
from studio.running import errands
from studio.running.placing.anew import lay_anew
from studio.running.placing.reaping import reap, take_over
from studio.running.trials import reaping as trials
from studio.running.ways import reaping as ways

logger = logging.getLogger(__name__)

KEPT = dt.timedelta(days=14)


class Command(BaseCommand):
    requires_system_checks: list[str] = []  # a worker needs no pages
    help = "Runs background work from the database's queues until interrupted."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--interval", type=float, default=0.5, help="seconds between looks at an empty queue"
        )
        parser.add_argument("--batch", action="store_true", help="do what waits, then end")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0.05 <= options["interval"] <= 60:
            raise CommandError("--interval: a number from 0.05 to 60 is wanted", returncode=2)
        if not the_queue_is_ours():
            raise CommandError(
                "The queue is not the database here (BENCHLEDGER_TASKS), so this worker has "
                "nothing to do. For Celery start: celery -A studio.queues.celery_app worker",
                returncode=2,
            )
        from studio.serving.worker import work

        dead = os.environ.pop("BENCHLEDGER_AFTER", "")
        after = {int(dead)} if dead.isdigit() else set()

        started = False

        def look_after() -> None:
            nonlocal started
            if after:
                (process,) = after
                take_over(process)
                errands.take_over(process)
                trials.take_over(process)
                ways.take_over(process)
                after.clear()  # only now: a database that is away meanwhile is asked again
            reap()
            if not started:
                lay_anew()
                started = True
            errands.look_after()
            trials.reap()
            ways.reap()
            clear_out()
            forget_old_tasks()

        work(
            interval=options["interval"],
            batch=options["batch"],
            look_after=look_after,
            prepare=get_ready,
        )


def forget_old_tasks() -> None:
    """Rows of tasks from long ago say nothing that the plans do not say; those that a killed
    worker left as running are among them."""
    from django_tasks_db.models import DBTaskResult

    long_ago = timezone.now() - KEPT
    DBTaskResult.objects.finished().filter(finished_at__lt=long_ago).delete()
    DBTaskResult.objects.running().filter(started_at__lt=long_ago).delete()


def get_ready() -> None:
    """The search loads and compiles before there is anything to place: one for cut plans, one for
    trial layouts, which are not to wait for those."""
    if settings.PLACING_APART:
        apart.get_ready()
        if settings.TRIAL_LOOPS:
            apart.get_ready()
