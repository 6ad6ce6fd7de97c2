"""A stock count: somebody walks along the rack and compares it with the records."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import School, User

from .metal import Metal
from .stock import StockPiece


class StockCount(models.Model):
    """Open while somebody counts; closed when its differences are booked, or called off."""

    class State(models.TextChoices):
        OPEN = "open", "being counted"
        BOOKED = "booked", "differences booked"
        CALLED_OFF = "off", "called off"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="stock_counts")
    metal = models.ForeignKey(
        Metal, null=True, blank=True, on_delete=models.PROTECT, related_name="stock_counts"
    )
    state = models.CharField(max_length=6, choices=State, default=State.OPEN)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    closed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["school"], condition=Q(state="open"), name="one_open_count_per_school"
            )
        ]

    def __str__(self) -> str:
        return f"stock count of {self.opened_at.day} {self.opened_at:%b %Y}"


class CountedPiece(models.Model):
    """One stock piece in a count: expected or met with, and what was seen of it."""

    class Seen(models.TextChoices):
        OPEN = "", "not looked at"
        HERE = "here", "here"
        MISSING = "missing", "not here"
        ELSEWHERE = "else", "found elsewhere"

    count = models.ForeignKey(StockCount, on_delete=models.PROTECT, related_name="pieces")
    stock_piece = models.ForeignKey(StockPiece, on_delete=models.PROTECT, related_name="counts")
    expected = models.BooleanField(default=True)
    seen = models.CharField(max_length=7, choices=Seen, blank=True, default=Seen.OPEN)
    place = models.CharField("where it lies", max_length=60, blank=True)
    ticked_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ticked_at = models.DateTimeField(null=True, blank=True)
    booked = models.CharField(max_length=8, blank=True, help_text="Kind of movement written.")

    class Meta:
        ordering = ["stock_piece__place", "stock_piece__code", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["count", "stock_piece"], name="a_stock_piece_once_in_a_count"
            )
        ]

    def __str__(self) -> str:
        return f"{self.stock_piece} in {self.count}"
