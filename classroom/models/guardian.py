"""That a parent or guardian has signed the school's form: who recorded it, and when.

The paper itself stays with the school; nothing that it says about anybody is kept here.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from .append_only import AppendOnly
from .people import User


class GuardianSignature(AppendOnly):
    class Kind(models.TextChoices):
        CAME_BACK = "came_back", "signed form came back"
        TAKEN_BACK = "taken_back", "no longer counts"

    student = models.ForeignKey(User, on_delete=models.PROTECT, related_name="guardian_signatures")
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.CAME_BACK)
    signed_on = models.DateField(null=True, help_text="The date beside the signature.")
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="came_back", signed_on__isnull=False)
                | (Q(kind="taken_back") & ~Q(reason="")),
                name="a_signature_has_a_day_or_a_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.student}: {self.get_kind_display()}"
