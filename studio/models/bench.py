"""Bench steps of a project and the sign-offs on them.

A step keeps the wording that it had when the metal was issued; a sign-off names that wording
by its hash, so that one can always say what was signed.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import AppendOnly, User

from .project import Project
from .step_row import StepRow


class BenchStep(StepRow):
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="bench_steps")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="one_step_per_number"),
            models.UniqueConstraint(fields=["project", "kind"], name="one_step_per_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.title} ({self.project})"


class SignOff(AppendOnly):
    class Kind(models.TextChoices):
        STARTED = "started", "started"
        DONE = "done", "done by the student"
        CHECKED = "checked", "checked by the teacher"
        SENT_BACK = "sent_back", "sent back by the teacher"
        OVERRIDE = "override", "rule lifted by a teacher"

    step = models.ForeignKey(BenchStep, on_delete=models.PROTECT, related_name="sign_offs")
    kind = models.CharField(max_length=9, choices=Kind)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200, blank=True)
    set_aside = models.JSONField(
        default=list, help_text="The rules that an override set aside, such as permit:drill-press."
    )
    wording_sha = models.CharField(max_length=64)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind__in=["override", "sent_back"]) | ~Q(reason=""),
                name="an_override_has_a_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.step} {self.get_kind_display()} by {self.by}"
