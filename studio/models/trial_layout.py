"""What the server lays by itself as soon as a pattern is read, or is asked to lay for somebody."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import User

from .layout import Layout
from .project import Pattern


class TrialLayout(models.Model):
    """One short search by the server, done by a worker under a lease: a promise of nothing.

    Of a pattern: its trial layout on today's rack, kept for each state of pattern and rack
    (`key`). Of a layout: what somebody asked for on the layout table, kept for its version; what
    comes out becomes a try of its own (`made`) and touches no other.
    """

    class Wish(models.TextChoices):
        TRIAL = "trial", "a trial layout of the pattern"
        WHOLE = "whole", "all pieces of a layout, laid by the server"
        REST = "rest", "the pieces in the tray, beside those that lie"
        IMPROVE = "improve", "a better layout, beginning from this one"
        NEAREST = "nearest", "the nearest layout without fault"

    class State(models.TextChoices):
        QUEUED = "queued", "waiting for a worker"
        RUNNING = "running", "being laid"
        DONE = "done", "laid"
        FAILED = "failed", "failed"

    OPEN = ("queued", "running")

    pattern = models.ForeignKey(
        Pattern, null=True, blank=True, on_delete=models.CASCADE, related_name="trials"
    )
    layout = models.ForeignKey(
        Layout, null=True, blank=True, on_delete=models.CASCADE, related_name="trials"
    )
    wish = models.CharField(max_length=7, choices=Wish, default=Wish.TRIAL)
    key = models.CharField(max_length=64, help_text="The state of pattern and rack, or layout.")
    state = models.CharField(max_length=7, choices=State, default=State.QUEUED)
    asked_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    job = models.JSONField(null=True, blank=True)
    answer = models.JSONField(null=True, blank=True, help_text="The plan, judged without fault.")
    others = models.JSONField(default=dict, help_text="What something else would change.")
    made = models.ForeignKey(
        Layout, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    error = models.CharField(max_length=300, blank=True)
    worker = models.CharField(max_length=80, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state", "lease_until"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(pattern__isnull=False, layout__isnull=True)
                | Q(pattern__isnull=True, layout__isnull=False),
                name="a_trial_is_of_a_pattern_or_a_layout",
            ),
            models.UniqueConstraint(
                fields=["pattern", "key"], name="one_trial_per_state_of_a_pattern"
            ),
            models.UniqueConstraint(
                fields=["layout", "wish", "key"], name="one_search_per_state_of_a_layout"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_wish_display()} ({self.pattern or self.layout})"

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN
