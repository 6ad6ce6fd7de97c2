"""When was each worker last there?"""

from __future__ import annotations

from django.db import models


class WorkerSign(models.Model):
    """A worker's sign of life, renewed every few seconds."""

    worker = models.CharField(max_length=80, unique=True)
    seen_at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return self.worker
