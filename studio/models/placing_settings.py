"""How a school places pieces, and where a course does it otherwise."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from classroom.models import Course, School


class Hand(models.TextChoices):
    """How sure the hands are that are to saw a plan: how much room pieces get between them."""

    FIRST = "first", "first pieces"
    SURER = "surer", "getting surer"
    SURE = "sure", "sure hand"


class Sharing(models.TextChoices):
    """How students whose pieces lie on one stock piece come by their metal."""

    PARTED = "parted", "parted first, with the shear"
    SAWN = "sawn", "sawn apart first"
    PASSED = "passed", "passed on from hand to hand"


def _length(least: str, most: str) -> models.DecimalField:  # type: ignore[type-arg]
    """Millimetres; empty where the school, or the app, says how much."""
    return models.DecimalField(
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(least)), MaxValueValidator(Decimal(most))],
    )


class PlacingSettings(models.Model):
    """One row for the school (without a course), and one for a course that differs.

    Whatever is empty here is as the school has it, and there as the app has it
    (`studio.steps.plans.placing_settings`). Lengths in mm, areas in mm², money in the school's
    currency.
    """

    class SheetGrain(models.TextChoices):
        IGNORED = "ignored", "is not looked at"
        LONGER = "longer", "along a sheet's longer side"
        SHORTER = "shorter", "along a sheet's shorter side"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="placing_settings")
    course = models.OneToOneField(
        Course, null=True, blank=True, on_delete=models.PROTECT, related_name="placing_settings"
    )
    blade = models.CharField(max_length=4, blank=True)
    kerfs = models.JSONField(
        default=dict, blank=True, help_text="Measured saw cuts: mm as text, by the blade's size."
    )
    offcut_min_width_mm = models.DecimalField(
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(2)), MaxValueValidator(Decimal(600))],
    )
    offcut_min_area_mm2 = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(90000))],
    )
    hand = models.CharField(max_length=5, choices=Hand, blank=True)
    first_gap_mm = _length("0.3", "10")
    first_filing_mm = _length("0", "3")
    surer_gap_mm = _length("0.3", "10")
    surer_filing_mm = _length("0", "3")
    rim_mm = _length("1", "2")
    straight_min_mm = _length("2", "100")
    edge_margin_mm = _length("0", "20")
    saw_worth_per_cm = models.DecimalField(
        max_digits=7,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))],
    )
    sheet_grain = models.CharField(max_length=8, choices=SheetGrain, blank=True)
    sharing = models.CharField(
        max_length=6, choices=Sharing, blank=True, help_text="Empty: by the tools of the room."
    )
    shear_margin_mm = _length("0", "20")
    shear_strip_mm = _length("2", "100")
    saw_margin_mm = _length("0", "20")
    saw_strip_mm = _length("2", "100")
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school"],
                condition=Q(course=None),
                name="one_way_to_place_per_school",
            )
        ]

    def __str__(self) -> str:
        return f"how {self.course or self.school} places pieces"
