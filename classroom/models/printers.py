"""How true a printer of the school prints: what a steel rule said about its check page.

A printer is its name; each row is one measurement, and the newest one counts. Nothing is
changed: a new measurement, or the word that the printer is gone, is a new row.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from .append_only import AppendOnly, AppendOnlyQuerySet
from .people import User
from .school import School

LEAST_MM, MOST_MM = Decimal(95), Decimal(105)
"""What 100 mm may measure. A sheet that is further off was printed to fit the page: that makes 94
to 97 of 100, while a printer itself is seldom more than 1 off (common practice, no source)."""


class PrinterCheckQuerySet(AppendOnlyQuerySet["PrinterCheck"]):
    def newest(self) -> PrinterCheckQuerySet:
        """The row that counts for each printer, by name, without printers that are gone."""
        later = PrinterCheck.objects.filter(
            school=OuterRef("school"), key=OuterRef("key"), pk__gt=OuterRef("pk")
        )
        return self.filter(~Exists(later), gone=False).order_by("key")


class PrinterCheck(AppendOnly):
    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="printer_checks")
    name = models.CharField(max_length=40)
    key = models.CharField(max_length=130, editable=False, help_text="The name, capitals aside.")
    across_mm = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(100))
    up_mm = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(100))
    gone = models.BooleanField(default=False, help_text="From now on the printer is not offered.")
    measured_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    measured_at = models.DateTimeField(default=timezone.now)

    objects = PrinterCheckQuerySet.as_manager()  # type: ignore[misc]  # widens the guarded one

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["school", "key"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(across_mm__range=(LEAST_MM, MOST_MM))
                & Q(up_mm__range=(LEAST_MM, MOST_MM)),
                name="a_printer_is_not_far_off",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def across(self) -> str:
        """Millimetres of the bar across, without needless noughts."""
        return f"{Decimal(self.across_mm).normalize():f}"

    @property
    def up(self) -> str:
        return f"{Decimal(self.up_mm).normalize():f}"
