"""What a student builds from shapes and has not taken as the pattern yet."""

from __future__ import annotations

from typing import Self

from django.db import models

from .project import Pattern, Project


class BuilderDraftQuerySet(models.QuerySet["BuilderDraft"]):
    def with_shapes(self) -> Self:
        """Those with something on the paper, told without fetching the recipe."""
        return self.filter(recipe__steps__0__isnull=False)


class BuilderDraft(models.Model):
    """A recipe with what can be undone, and nothing else: the drawing is made of it when asked.

    It is gone when the student takes its drawing as a version of the pattern, which carries the
    recipe from then on. No version of the pattern changes while somebody builds.
    """

    project = models.OneToOneField(Project, on_delete=models.PROTECT, related_name="builder_draft")
    recipe = models.JSONField()
    begun_from = models.ForeignKey(
        Pattern, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    changed_at = models.DateTimeField(auto_now=True)

    objects = BuilderDraftQuerySet.as_manager()

    def __str__(self) -> str:
        return f"shapes being built for {self.project}"
