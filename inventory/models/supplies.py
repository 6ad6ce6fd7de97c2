"""Consumables: blades, abrasive, adhesive, drills … with the rate at which work uses them up."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q
from django.template.defaultfilters import floatformat
from django.utils import timezone

from classroom.models import AppendOnly, School, User


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

        def measured(self, number: Decimal) -> str:
            """Such as "18 centimetres sawn"; the number in at most two places."""
            one, _, rest = self.label.partition(" ")
            if self is Consumable.Per.CM2_COVERED:
                one, rest = "square centimetre", "prepared"
            words = f"{one if number == 1 else one + 's'} {rest}".strip()
            return f"{floatformat(number, '-2')} {words}"

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
    # Once counted, always the sum of its movements; below nothing when more was reckoned as used
    # than there was: then it is time to count.
    on_hand = models.DecimalField(
        max_digits=11, decimal_places=4, null=True, blank=True, editable=False
    )
    reorder_at = models.DecimalField(
        "order more when there are", max_digits=9, decimal_places=2, null=True, blank=True
    )
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
    def runs_low(self) -> bool:
        """Whether it is time to order more."""
        return (
            self.on_hand is not None
            and self.reorder_at is not None
            and self.on_hand <= self.reorder_at
        )

    @property
    def lasts_words(self) -> str:
        """How much one does, in words."""
        return self.Per(self.per).measured(self.uses_per_unit)

    @property
    def cost_per_use(self) -> Decimal:
        return self.price / self.uses_per_unit


class SupplyMovement(AppendOnly):
    """What came, was used up by a closed cut plan, or was found otherwise by counting."""

    class Kind(models.TextChoices):
        RECEIVE = "receive", "received"
        USE = "use", "used"
        COUNT = "count", "counted"

    consumable = models.ForeignKey(Consumable, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=8, choices=Kind)
    amount = models.DecimalField(
        max_digits=11, decimal_places=4, help_text="By how many there are more, or fewer."
    )
    counted = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    measure = models.DecimalField(
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="The work it was used for: centimetres sawn, holes …",
    )
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200)
    cause = models.CharField(max_length=60, blank=True, help_text="The plan that caused it.")

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["cause"])]

    def __str__(self) -> str:
        return f"{self.consumable} {self.get_kind_display()} {self.amount}"
