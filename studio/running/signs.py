"""Signs of life: each worker's row says when it was last there."""

from __future__ import annotations

import datetime as dt
import os
import socket

from django.utils import timezone
from django.utils.crypto import get_random_string

from studio.models import WorkerSign

SIGN_SECONDS = 4.0
SILENT_AFTER = dt.timedelta(seconds=20)
"""Five signs missed; a database that is held for a moment makes one or two late."""
FORGOTTEN_AFTER = dt.timedelta(days=1)


class Sign:
    """One worker's own row."""

    def __init__(self) -> None:
        host = socket.gethostname()[:30]
        self.worker = f"{host}/{os.getpid()}/{get_random_string(8)}"

    def give(self) -> None:
        now = timezone.now()
        if not WorkerSign.objects.filter(worker=self.worker).update(seen_at=now):
            WorkerSign.objects.create(worker=self.worker, seen_at=now)
            WorkerSign.objects.filter(seen_at__lt=now - FORGOTTEN_AFTER).delete()

    def take_back(self) -> None:
        """A worker that ends in order is not missed."""
        WorkerSign.objects.filter(worker=self.worker).delete()


def a_worker_is_there() -> bool:
    """A sign of a later hour was given before the clock was put back: it says nothing of now."""
    now = timezone.now()
    near = (now - SILENT_AFTER, now + SILENT_AFTER)
    return WorkerSign.objects.filter(seen_at__range=near).exists()
