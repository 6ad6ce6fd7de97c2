"""Safety topics and the bench permits that teachers give for them.

A permit is a record that a named teacher checked something on a day; it never says that a
person, a tool or a room is free of danger. Permits and withdrawals are append-only.
"""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Q
from django.utils import timezone

from .append_only import AppendOnly, AppendOnlyQuerySet
from .people import User
from .school import School


class Topic(models.Model):
    """What a permit is about, in the school's own wording. A changed wording is a new version.

    The fields hold the present wording in the topic's `language`; `TopicWording` keeps every
    wording that ever stood, and the translations.
    """

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="topics")
    code = models.SlugField(max_length=40)
    title = models.CharField(max_length=80)
    lesson = models.JSONField(default=list, help_text="Plain lesson points, a line each.")
    checks = models.JSONField(default=list, help_text="What the teacher watches, a line each.")
    questions = models.JSONField(
        default=list, help_text="Each with text, right, wrong (a list) and why."
    )
    asks_questions = models.BooleanField(
        default=True, help_text="Whether a permit asks that the questions were passed."
    )
    language = models.CharField(max_length=8, default="en")
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

    @property
    def needs_pass(self) -> bool:
        """Whether a permit asks for passed questions; without questions there is nothing to ask."""
        return self.asks_questions and bool(self.questions)


class TopicWording(AppendOnly):
    """One wording of a topic in one language, as taught, asked and signed for."""

    topic = models.ForeignKey(Topic, on_delete=models.PROTECT, related_name="wordings")
    language = models.CharField(max_length=8)
    number = models.PositiveIntegerField(help_text="Counts the wordings of one language.")
    version = models.PositiveIntegerField(help_text="The topic's version that it says.")
    title = models.CharField(max_length=80)
    lesson = models.JSONField(default=list)
    checks = models.JSONField(default=list)
    questions = models.JSONField(default=list)
    made_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["topic", "language", "number"], name="one_wording_per_number"
            )
        ]

    def __str__(self) -> str:
        return f"{self.title} ({self.language}, version {self.version})"


class QuestionAttempt(AppendOnly):
    """One go at a topic's questions: what was asked, in which order, and what was answered."""

    student = models.ForeignKey(User, on_delete=models.PROTECT, related_name="question_attempts")
    topic = models.ForeignKey(Topic, on_delete=models.PROTECT, related_name="question_attempts")
    topic_version = models.PositiveIntegerField()
    wording = models.ForeignKey(TopicWording, on_delete=models.PROTECT, related_name="+")
    asked = models.JSONField(help_text="Questions and their options in the order shown.")
    given = models.JSONField(help_text="Place of the chosen option for each question, or null.")
    right = models.PositiveSmallIntegerField()
    passed = models.BooleanField()
    at = models.DateTimeField(default=timezone.now)
    sheet = models.CharField(max_length=32, unique=True, help_text="One sheet counts once.")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["student", "topic", "at"])]

    def __str__(self) -> str:
        return f"{self.student}: {self.topic}, {self.right} of {len(self.asked)}"


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
    attempt = models.ForeignKey(
        QuestionAttempt,
        null=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="The passed questions that the permit rests on.",
    )
    in_spite_of = models.CharField(
        max_length=200, blank=True, help_text="Why it was given without what the school asks for."
    )

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
