"""What happened and what nearly happened: for teachers, append-only, as little as is needed.

No health data: there is no field for an injury, a treatment or a name outside the class list. A
correction is a whole new row that names the one it replaces.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.text import capfirst

from .append_only import AppendOnly
from .course import Course, Seat
from .people import User
from .safety import Topic
from .school import School


class Incident(AppendOnly):
    class Kind(models.TextChoices):
        INCIDENT = "incident", "incident: somebody was hurt or something was damaged"
        NEAR_MISS = "near_miss", "near miss: it could have gone wrong"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="incidents")
    number = models.PositiveIntegerField(help_text="Counts the school's incidents.")
    kind = models.CharField(max_length=9, choices=Kind)
    happened_at = models.DateTimeField()
    place = models.CharField(max_length=120)
    course = models.ForeignKey(
        Course, null=True, blank=True, on_delete=models.PROTECT, related_name="incidents"
    )
    topic = models.ForeignKey(
        Topic, null=True, blank=True, on_delete=models.PROTECT, related_name="incidents"
    )
    tool = models.CharField(max_length=120, blank=True)
    what = models.TextField(max_length=1500)
    told = models.CharField(max_length=300)
    changed = models.TextField(max_length=800, blank=True)
    seats = models.ManyToManyField(Seat, related_name="incidents", blank=True)
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField(default=timezone.now)
    corrects = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-happened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["school", "number"],
                condition=Q(corrects=None),
                name="one_incident_per_number",
            ),
            models.CheckConstraint(
                condition=Q(corrects=None) | ~Q(correction_reason=""),
                name="a_correction_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{capfirst(self.get_kind_display().partition(':')[0])} {self.number}"
