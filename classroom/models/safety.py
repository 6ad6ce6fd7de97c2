"""Safety topics and the bench permits that teachers give for them.

A permit is a record that a named teacher checked something on a day; it never says that a
person, a tool or a room is free of danger. Permits and withdrawals are append-only.
"""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Q

from .append_only import AppendOnly, AppendOnlyQuerySet
from .people import User
from .school import School


class Topic(models.Model):
    """What a permit is about, in the school's own wording. A changed wording is a new version."""

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="topics")
    code = models.SlugField(max_length=40)
    title = models.CharField(max_length=80)
    lesson = models.JSONField(default=list, help_text="Plain lesson points, a line each.")
    checks = models.JSONField(default=list, help_text="What the teacher watches, a line each.")
    version = models.PositiveIntegerField(default=1)
    valid_days = models.PositiveIntegerField(default=365)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["title", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["school", "code"], name="one_topic_per_code")
        ]

    def __str__(self) -> str:
        return self.title


class BenchPermitQuerySet(AppendOnlyQuerySet["BenchPermit"]):
    def in_force(self, day: dt.date) -> BenchPermitQuerySet:
        """Permits neither expired nor withdrawn on `day`."""
        return self.filter(withdrawal=None, expires_on__gte=day)


class BenchPermit(AppendOnly):
    student = models.ForeignKey(User, on_delete=models.PROTECT, related_name="permits")
    topic = models.ForeignKey(Topic, on_delete=models.PROTECT, related_name="permits")
    topic_version = models.PositiveIntegerField()
    given_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="permits_given")
    given_at = models.DateTimeField()
    expires_on = models.DateField()
    remark = models.CharField(max_length=200, blank=True)

    objects = BenchPermitQuerySet.as_manager()  # type: ignore[misc]  # widens the guarded one

    class Meta:
        ordering = ["-given_at", "-pk"]
        indexes = [models.Index(fields=["student", "topic", "expires_on"])]

    def __str__(self) -> str:
        return f"{self.topic} for {self.student} until {self.expires_on}"


class PermitWithdrawal(AppendOnly):
    permit = models.OneToOneField(BenchPermit, on_delete=models.PROTECT, related_name="withdrawal")
    withdrawn_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="a_withdrawal_has_a_reason")
        ]

    def __str__(self) -> str:
        return f"withdrawn: {self.permit}"
