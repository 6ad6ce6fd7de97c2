"""What a plan would come to if its students came by their metal in another way."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from .plan import CutPlan


class WayTry(models.Model):
    """One way, the plan's own among them; nothing is reserved by it, and one can be chosen.

    `money` is what all projects and the course would pay together, `consumed_mm2` the metal that
    does not go back to the rack. `told` says why a way cannot be gone.
    """

    class State(models.TextChoices):
        QUEUED = "queued", "waiting for a worker"
        RUNNING = "running", "being worked out"
        DONE = "done", "worked out"
        IMPOSSIBLE = "cannot", "cannot be gone"
        FAILED = "failed", "failed"

    OPEN = ("queued", "running")

    plan = models.ForeignKey(CutPlan, on_delete=models.PROTECT, related_name="way_tries")
    way = models.CharField(max_length=6, choices=CutPlan.Way)
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    job = models.JSONField(default=dict)
    answer = models.JSONField(null=True, blank=True)
    money = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    consumed_mm2 = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    figures = models.JSONField(
        default=dict, help_text="Blanks, turns and who laid it, as its answer has them."
    )
    unplaced = models.PositiveSmallIntegerField(default=0)
    told = models.CharField(max_length=300, blank=True)
    worker = models.CharField(max_length=80, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    queued_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["state", "lease_until"])]
        constraints = [
            models.UniqueConstraint(fields=["plan", "way"], name="one_try_of_a_way_per_plan")
        ]

    def __str__(self) -> str:
        return f"{self.plan}, {self.get_way_display()}"

    @property
    def is_open(self) -> bool:
        """Whether a worker is at it, or will be."""
        return self.state in self.OPEN
