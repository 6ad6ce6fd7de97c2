"""Metals: an alloy in a thickness. Prices are always the teacher's own, dated, append-only."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from classroom.languages import SAY
from classroom.models import AppendOnly, School, User
from classroom.models.append_only import AppendOnlyQuerySet
from inventory import metals


class Metal(models.Model):
    """The thickness in millimetres is the key; a gauge is only a label (gauge systems disagree)."""

    class Temper(models.TextChoices):
        SOFT = "soft", "soft (annealed)"
        HALF_HARD = "half", "half-hard"
        HARD = "hard", "hard"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="metals")
    alloy_code = models.CharField("alloy", max_length=16)
    thickness_mm = models.DecimalField(
        max_digits=6, decimal_places=3, validators=[MinValueValidator(Decimal("0.05"))]
    )
    temper = models.CharField(max_length=4, choices=Temper, default=Temper.SOFT)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["alloy_code", "thickness_mm", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["school", "alloy_code", "thickness_mm", "temper"],
                name="one_metal_per_alloy_thickness_temper",
                violation_error_message="That metal is on the list already.",
            ),
            models.CheckConstraint(
                condition=Q(thickness_mm__gt=0) & Q(thickness_mm__lte=10),
                name="metal_is_sheet_thick",
            ),
        ]

    def __str__(self) -> str:
        """What it is called, in the language that is on."""
        return f"{SAY(self.alloy.plain_name)} {self.gauge_label}"

    @property
    def alloy(self) -> metals.Alloy:
        return metals.alloy(self.alloy_code)

    @property
    def gauge_label(self) -> str:
        return metals.gauge_label(self.thickness_mm, self.alloy_code, SAY)

    def mass_g(self, area_mm2: float | Decimal) -> float:
        return metals.mass_g(float(area_mm2), float(self.thickness_mm), self.alloy.density_g_cm3)


class MetalPriceQuerySet(AppendOnlyQuerySet["MetalPrice"]):
    def in_force(self) -> Self:
        """Prices that count: those that no other row corrects, and that were not mistakes."""
        return self.filter(correction=None, withdrawn=False)


class MetalPrice(AppendOnly):
    """What the teacher paid or was quoted for a sheet of a stated size on a day.

    A correction is a row that names the one it corrects, with a reason; `withdrawn` says that
    there never was such a price. A price that was written down with a purchase names its line,
    and follows the line's corrections; one that was corrected by hand names none any more.
    """

    metal = models.ForeignKey(Metal, on_delete=models.PROTECT, related_name="prices")
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    width_mm = models.DecimalField(max_digits=7, decimal_places=2)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2)
    dated = models.DateField()
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    remark = models.CharField(max_length=120, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="correction"
    )
    purchase_line = models.ForeignKey(
        "PurchaseLine", null=True, blank=True, on_delete=models.PROTECT, related_name="prices"
    )
    reason = models.CharField(max_length=200, blank=True)
    withdrawn = models.BooleanField(default=False)

    objects = MetalPriceQuerySet.as_manager()  # type: ignore[misc]  # widens the guarded one

    class Meta:
        ordering = ["-dated", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gte=0) & Q(width_mm__gt=0) & Q(height_mm__gt=0),
                name="metal_price_makes_sense",
            ),
            models.CheckConstraint(
                condition=(Q(corrects=None) & Q(withdrawn=False))
                | (Q(corrects__isnull=False) & ~Q(reason="")),
                name="corrected_price_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} for {self.width_mm} × {self.height_mm} mm on {self.dated}"

    def is_corrected(self) -> bool:
        """Whether another row names it as wrong; asked of the database at this moment."""
        return MetalPrice.objects.filter(corrects=self).exists()

    def is_in_force(self) -> bool:
        """Whether it counts, asked anew; `in_force` asks the same of many."""
        return not (self.withdrawn or self.is_corrected())

    @property
    def per_mm2(self) -> Decimal:
        return self.amount / (self.width_mm * self.height_mm)
