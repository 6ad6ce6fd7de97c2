"""One queue's loop in the worker: takes up tasks one by one, and outlives its database.

A database that restarts, is away or is held by somebody else is waited for, with growing pauses;
nothing ends the loop but the word that the process is ending. What was being done at that moment
is not lost: its own row is under a lease, and is taken up again.
"""

from __future__ import annotations

import logging
import threading

from django.db import InterfaceError, OperationalError, close_old_connections, connections
from django_tasks import DEFAULT_TASK_BACKEND_ALIAS
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult
from django_tasks_db.utils import exclusive_transaction

from studio.running.closing import ENDING

logger = logging.getLogger(__name__)

DATABASE_AWAY = (OperationalError, InterfaceError)
FIRST_PAUSE, LONGEST_PAUSE = 0.5, 8.0


class QueueLoop(threading.Thread):
    """Works on one queue until the process ends, or with `batch` until nothing waits."""

    def __init__(self, queue: str, worker_id: str, *, interval: float, batch: bool) -> None:
        super().__init__(name=f"queue {queue}", daemon=True)
        self.queue = queue
        self.interval = interval
        self.batch = batch
        self.worker = Worker(
            queue_names=[queue],
            interval=interval,
            batch=batch,
            backend_name=DEFAULT_TASK_BACKEND_ALIAS,
            startup_delay=False,
            max_tasks=None,
            worker_id=worker_id,
            excluded_queue_names=[],
        )

    def run(self) -> None:
        failures = 0
        try:
            while not ENDING.is_set():
                try:
                    close_old_connections()
                    done = self.turn()
                    failures = 0
                except Exception as error:
                    failures += 1
                    self._tell(error, failures)
                    connections.close_all()
                    ENDING.wait(min(LONGEST_PAUSE, FIRST_PAUSE * 2 ** (failures - 1)))
                    continue
                if self.batch and not done:
                    return
                if not done:
                    ENDING.wait(self.interval)
        finally:
            connections.close_all()

    def turn(self) -> bool:
        """Do one waiting task; False when none waits. Raises what the database raises."""
        waiting = DBTaskResult.objects.ready().filter(
            backend_name=DEFAULT_TASK_BACKEND_ALIAS, queue_name=self.queue
        )
        # A look costs no lock: on SQLite the claim below is the whole school's database.
        if not waiting.exists():
            return False
        with exclusive_transaction(waiting.db):
            task = waiting.get_locked()
            if task is not None:
                task.claim(self.worker.worker_id)
        if task is not None:
            self.worker.run_task(task)
        return True

    def _tell(self, error: Exception, failures: int) -> None:
        if not isinstance(error, DATABASE_AWAY):
            logger.error("queue %s", self.queue, exc_info=error)
        elif failures == 1:
            logger.warning(
                "queue %s: the database does not answer (%s); waiting for it", self.queue, error
            )
