"""Consumables: blades, abrasive, adhesive, drills … with the rate at which work uses them up."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q

from classroom.models import School


class Consumable(models.Model):
    class Kind(models.TextChoices):
        BLADE = "blade", "saw blades"
        ABRASIVE = "abrasive", "abrasive"
        ADHESIVE = "adhesive", "adhesive"
        DRILL = "drill", "drills"
        OTHER = "other", "other"

    class Per(models.TextChoices):
        CM_SAWN = "cm_sawn", "centimetre sawn"
        CM2_COVERED = "cm2", "square centimetre prepared"
        HOLE = "hole", "hole drilled"
        PROJECT = "project", "project"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="consumables")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind)
    unit = models.CharField(max_length=30, help_text="What you count: blade, sheet, bottle …")
    price = models.DecimalField("price of one", max_digits=9, decimal_places=4)
    priced_on = models.DateField()
    uses_per_unit = models.DecimalField(
        "one lasts for",
        max_digits=9,
        decimal_places=2,
        help_text="How many of the measure below one unit serves: a blade 15 cm, a drill 40 holes.",
    )
    per = models.CharField("measured in", max_length=8, choices=Per)
    on_hand = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["kind", "name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(price__gte=0) & Q(uses_per_unit__gt=0), name="consumable_makes_sense"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def cost_per_use(self) -> Decimal:
        return self.price / self.uses_per_unit
