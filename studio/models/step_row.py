"""What every step at the bench has, be it a student's own or one of a shared stock piece."""

from __future__ import annotations

from typing import Any

from django.db import models


class StepRow(models.Model):
    """A step with the wording that it had when the metal was handed out.

    A sign-off names that wording by its hash, so that one can always say what was signed.
    """

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
        abstract = True

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
