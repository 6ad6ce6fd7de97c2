"""That a student's name was erased: when, by whom, why, and how much of what went with it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_noop

from .append_only import AppendOnly
from .people import User


class Erasure(AppendOnly):
    """Holds no name: the student's row has the label that took its place."""

    class Kind(models.TextChoices):
        BY_DATE = "by_date", gettext_noop("the years after the last course were over")
        ON_REQUEST = "on_request", gettext_noop("somebody asked for it")

    class AskedBy(models.TextChoices):
        STUDENT = "student", gettext_noop("the student")
        GUARDIAN = "guardian", gettext_noop("a parent or guardian")
        OFFICE = "office", gettext_noop("an authority or the school's own office")

    student = models.OneToOneField(User, on_delete=models.PROTECT, related_name="erasure")
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.BY_DATE)
    last_course_ended = models.DateField(null=True)
    asked_by = models.CharField(max_length=8, choices=AskedBy, blank=True)
    asked_on = models.DateField(null=True)
    remark = models.CharField(max_length=200, blank=True)
    erased = models.JSONField(default=dict, help_text="How many of which kind were erased.")
    kept = models.JSONField(default=dict, help_text="How many of which kind stay.")
    done_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    done_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-done_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="by_date", last_course_ended__isnull=False)
                | (Q(kind="on_request", asked_on__isnull=False) & ~Q(asked_by="")),
                name="an_erasure_says_why",
            )
        ]

    def __str__(self) -> str:
        return f"{self.student}, erased {self.done_at:%Y-%m-%d}"

    @property
    def is_on_request(self) -> bool:
        return self.kind == self.Kind.ON_REQUEST


class ErasureCorrection(AppendOnly):
    """What the record of an erasure should have said of the request; the newest one counts."""

    erasure = models.ForeignKey(Erasure, on_delete=models.PROTECT, related_name="corrections")
    asked_by = models.CharField(max_length=8, choices=Erasure.AskedBy.choices)
    asked_on = models.DateField()
    reason = models.CharField(max_length=200)
    done_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    done_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-done_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.erasure}, corrected {self.done_at:%Y-%m-%d}"
