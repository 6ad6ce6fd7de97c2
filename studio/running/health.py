"""Is the house open? Asked by monitors and by the page `/health/`, without sign-in."""

from __future__ import annotations

import logging
import threading
from time import monotonic

from django.db import Error, connection

from studio.queues.whose import the_queue_is_ours

from .signs import a_worker_is_there

logger = logging.getLogger(__name__)

OK = "ok"
PING_SECONDS = 1.0
PING_KEPT_SECONDS = 10.0
LAST_KNOWN_SECONDS = 60.0
"""So long an old answer stands for the one that is being waited for."""


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
    if there is None:
        return "not known"
    return OK if there else "silent"


def nobody_works() -> bool:
    """Whether it is known that no worker is there, so that no page promises one.

    A district's workers are not asked for this: what a monitor has last found about them counts.
    """
    return not a_worker_is_there() if the_queue_is_ours() else _celery.were_silent()


class _Celery:
    """A district's workers are asked over their broker, and not more often than is of use.

    One asks at a time, the others answer with what was found last: anybody may ask, and with the
    broker away all threads would soon wait for it.
    """

    def __init__(self) -> None:
        self._asking = threading.Lock()
        self._found: tuple[float, bool] | None = None

    def answers(self) -> bool | None:
        """None while the first answer, or one after a long silence, is still waited for."""
        if self._known(PING_KEPT_SECONDS) is None and self._asking.acquire(blocking=False):
            try:
                if self._known(PING_KEPT_SECONDS) is None:  # nobody was quicker
                    there = self._ping()
                    self._found = (monotonic(), there)
            finally:
                self._asking.release()
        return self._known(LAST_KNOWN_SECONDS)

    def were_silent(self) -> bool:
        return self._known(LAST_KNOWN_SECONDS) is False

    def _known(self, seconds: float) -> bool | None:
        """What was found, if that is no older."""
        found = self._found
        if found is None or monotonic() - found[0] > seconds:
            return None
        return found[1]

    def _ping(self) -> bool:
        try:
            from studio.queues.celery_app import app

            return bool(app.control.ping(timeout=PING_SECONDS))
        except Exception as error:  # whatever a broker that is away raises
            logger.warning("health: the workers' broker does not answer (%s)", error)
            return False


_celery = _Celery()
