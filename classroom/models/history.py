"""The house's diary: one row for each thing that a person did, in plain words."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils import timezone

from .append_only import AppendOnly, AppendOnlyQuerySet
from .people import User
from .school import School


class HistoryQuerySet(AppendOnlyQuerySet["History"]):
    def about(self, thing: models.Model) -> HistoryQuerySet:
        """Rows that concern `thing`, newest first."""
        return self.filter(subject=subject_of(thing))


def subject_of(thing: models.Model) -> str:
    """The name under which `thing` stands in history rows, budget entries and movements."""
    return f"{thing._meta.model_name}:{thing.pk}"


class History(AppendOnly):
    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    actor = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    verb = models.SlugField(max_length=40)
    subject = models.CharField(max_length=60)
    text = models.CharField(max_length=300)
    detail = models.JSONField(default=dict)

    objects = HistoryQuerySet.as_manager()  # type: ignore[misc]  # widens the guarded one

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["subject", "at"]), models.Index(fields=["school", "at"])]

    def __str__(self) -> str:
        return self.text


def record(
    actor: User | None,
    verb: str,
    thing: models.Model,
    text: str,
    *,
    school: School | None = None,
    **detail: Any,
) -> History:
    """Write one history row; `school` is needed only when nobody acts (a background job)."""
    home = school if school is not None else actor.school if actor is not None else None
    if home is None:
        raise ValueError("A history row without an actor needs its school.")
    return History.objects.create(
        school=home,
        actor=actor,
        verb=verb,
        subject=subject_of(thing),
        text=text[:300],
        detail=detail,
    )
