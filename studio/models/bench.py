"""Bench steps of a project and the sign-offs on them.

A step keeps the wording that it had when the metal was issued; a sign-off names that wording
by its hash, so that one can always say what was signed.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import AppendOnly, User

from .project import Project


class BenchStep(models.Model):
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="bench_steps")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10)
    title = models.CharField(max_length=60)
    wording = models.JSONField(help_text="Instructions, cautions and needs as issued.")
    wording_sha = models.CharField(max_length=64)
    permits = models.JSONField(default=list, help_text="Codes of the permits it needs.")
    wait_minutes = models.PositiveSmallIntegerField(default=0)
    teacher_signs = models.BooleanField(default=False)
    started_at = models.DateTimeField(null=True)
    wait_until = models.DateTimeField(null=True)
    student_signed_at = models.DateTimeField(null=True)
    done_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="one_step_per_number"),
            models.UniqueConstraint(fields=["project", "kind"], name="one_step_per_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.title} ({self.project})"

    def words_in(self, language: str) -> dict[str, Any]:
        """What the step says in a language, as it was frozen; English where it has none of it.

        The same keys as `wording`, which is English and has the other languages under "in".
        """
        found: dict[str, Any] = self.wording.get("in", {}).get(language, self.wording)
        return found

    def title_in(self, language: str) -> str:
        return str(self.words_in(language)["title"])

    def sha_in(self, language: str) -> str:
        """What a sign-off keeps to say in which words the step was shown."""
        return str(self.words_in(language).get("sha", self.wording_sha))

    def language_of(self, sha: str) -> str:
        """In which language the words with this hash are."""
        others: dict[str, Any] = self.wording.get("in", {})
        return next((code for code, words in others.items() if words["sha"] == sha), "en")


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
