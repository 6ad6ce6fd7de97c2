"""Is the house open? Asked by monitors and by the page `/health/`, without sign-in."""

from __future__ import annotations

import logging
import threading
import time

from django.db import Error, connection

from .serving import the_queue_is_ours
from .signs import a_worker_is_there

logger = logging.getLogger(__name__)

OK = "ok"
PING_SECONDS = 1.0
PING_KEPT_SECONDS = 10.0


def health() -> dict[str, str]:
    """`database` and `worker`, each "ok" or what is wrong in a word or two."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        return {"database": OK, "worker": _worker()}
    except Error as away:
        logger.warning("health: the database does not answer (%s)", away)
        connection.close()
        return {"database": "does not answer", "worker": "not known"}


def _worker() -> str:
    there = a_worker_is_there() if the_queue_is_ours() else _celery.answers()
    return OK if there else "silent"


class _Celery:
    """A district's workers are asked over their broker, and not more often than is of use."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked = float("-inf")
        self._there = False

    def answers(self) -> bool:
        with self._lock:
            if time.monotonic() - self._asked > PING_KEPT_SECONDS:
                self._there = self._ping()
                self._asked = time.monotonic()
            return self._there

    def _ping(self) -> bool:
        try:
            from studio.queues.celery_app import app

            return bool(app.control.ping(timeout=PING_SECONDS))
        except Exception as error:  # whatever a broker that is away raises
            logger.warning("health: the workers' broker does not answer (%s)", error)
            return False


_celery = _Celery()
