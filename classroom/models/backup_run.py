"""What became of each backup: begun, done or failed, one row for each, never changed.

The row that says "begun" is also the claim: its slot is taken once, so that of several machines
on one database one makes the day's backup. `studio/keeping` writes the rows.
"""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from .append_only import AppendOnly


class BackupRun(AppendOnly):
    class Kind(models.TextChoices):
        DAILY = "daily", "once a day"
        BY_HAND = "by_hand", "by hand"
        UPGRADE = "upgrade", "before an upgrade"
        RESTORE = "restore", "brought back from a backup"

    class Outcome(models.TextChoices):
        BEGUN = "begun", "begun"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        OFF = "off", "called off"

    kind = models.CharField(max_length=8, choices=Kind)
    outcome = models.CharField(max_length=6, choices=Outcome)
    at = models.DateTimeField(default=timezone.now)
    slot = models.CharField(
        max_length=40, blank=True, help_text="Day and attempt; the rows of one run share it."
    )
    machine = models.CharField(max_length=120, blank=True)
    file_name = models.CharField(max_length=300, blank=True)
    size_bytes = models.PositiveBigIntegerField(null=True)
    words = models.CharField(max_length=300, blank=True, help_text="Why it failed, for a person.")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["outcome", "at"])]
        constraints = [
            models.UniqueConstraint(
                fields=["slot"],
                condition=models.Q(outcome="begun") & ~models.Q(slot=""),
                name="one_backup_for_a_slot",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.at:%Y-%m-%d %H:%M}: {self.outcome}"
