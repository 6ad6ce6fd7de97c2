"""That a student's name was erased: when, by whom, and after which day."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from .append_only import AppendOnly
from .people import User


class Erasure(AppendOnly):
    student = models.OneToOneField(User, on_delete=models.PROTECT, related_name="erasure")
    last_course_ended = models.DateField()
    done_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    done_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-done_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.student}, erased {self.done_at:%Y-%m-%d}"
