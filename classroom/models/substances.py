"""Substances that a school uses, with cautions and the school's own safety data sheet."""

from __future__ import annotations

from django.db import models

from .safety import Topic
from .school import School


class Substance(models.Model):
    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="substances")
    title = models.CharField(max_length=80)
    cautions = models.JSONField(default=list, help_text="Plain cautions, a line each.")
    language = models.CharField(max_length=8, default="en")
    translations = models.JSONField(
        default=dict, help_text="Language to a dict with title and cautions."
    )
    topics = models.ManyToManyField(Topic, related_name="substances", blank=True)
    version = models.PositiveIntegerField(default=1)
    sheet_link = models.URLField(max_length=300, blank=True)
    sheet_sha = models.CharField(max_length=64, blank=True, editable=False)
    sheet_name = models.CharField(max_length=120, blank=True, editable=False)
    sheet_added_at = models.DateTimeField(null=True, editable=False)
    retired_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["title", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["school", "title"], name="one_substance_per_title")
        ]

    def __str__(self) -> str:
        return self.title
