"""A device that lies at the bench, for one course and one day, with nobody signed in on it."""

from __future__ import annotations

import datetime as dt
from typing import Self

from django.db import models
from django.utils import timezone

from classroom.models import AppendOnly, Course, User

from .bench import BenchStep
from .sharing import StockStep


class BenchTabletQuerySet(models.QuerySet["BenchTablet"]):
    def in_use(self, now: dt.datetime | None = None) -> Self:
        """Tablets that still open the class list."""
        return self.filter(closed_at=None, expires_at__gt=now or timezone.now())


class BenchTablet(models.Model):
    """What a device may do is kept here, not on the device: it holds a secret, and no session."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="tablets")
    secret_sha = models.CharField(max_length=64, editable=False)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    objects = BenchTabletQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closed_at=None, closed_by=None)
                | models.Q(closed_at__isnull=False, closed_by__isnull=False),
                name="a_closed_tablet_names_who_closed_it",
            )
        ]

    def __str__(self) -> str:
        return f"bench tablet {self.pk} of {self.course}"

    def works_at(self, now: dt.datetime) -> bool:
        """Whether the device may be used now; the course comes loaded with it."""
        running = self.course.closed_at is None and self.opened_by.is_active
        return running and self.closed_at is None and now < self.expires_at


class TabletDeed(AppendOnly):
    """One form sent from a tablet. Its key is used once: sent again, it does nothing more."""

    class What(models.TextChoices):
        START = "start", "started a step"
        DONE = "done", "signed a step as done"
        STUCK = "stuck", "signed that own papers are stuck on"

    key = models.UUIDField(unique=True)
    tablet = models.ForeignKey(BenchTablet, on_delete=models.PROTECT, related_name="deeds")
    step = models.ForeignKey(BenchStep, null=True, on_delete=models.PROTECT, related_name="+")
    stock_step = models.ForeignKey(
        StockStep,
        null=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="The step of a shared stock piece, where it is none of the student's own.",
    )
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(max_length=5, choices=What)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(step__isnull=False, stock_step=None)
                | models.Q(step=None, stock_step__isnull=False),
                name="a_tablet_deed_is_about_one_step",
            )
        ]

    def __str__(self) -> str:
        return f"{self.by} {self.get_what_display()}: {self.step or self.stock_step}"
