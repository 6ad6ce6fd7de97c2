"""How far somebody has come with a practice sheet. Theirs alone: nobody is ranked."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from classroom.models import User


class PracticeTry(models.Model):
    """One person's work on one practice sheet (`studio/core/practice` has the sheets)."""

    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="practice_tries")
    sheet = models.CharField(max_length=30)
    placements = models.JSONField(default=list)
    past = models.JSONField(default=list)
    future = models.JSONField(default=list)
    version = models.PositiveIntegerField(default=0)
    last_key = models.CharField(max_length=40, blank=True)
    best = models.JSONField(default=dict, help_text="Measures of the best whole layout so far.")
    whole_at = models.DateTimeField(null=True, blank=True, help_text="First laid without fault.")
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["sheet"]
        constraints = [
            models.UniqueConstraint(fields=["person", "sheet"], name="one_try_per_practice_sheet")
        ]

    def __str__(self) -> str:
        return f"practice sheet {self.sheet} of {self.person}"
