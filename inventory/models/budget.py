"""A course's metal budget: append-only entries, and running totals that the database guards.

left = allotted - committed - charged + credited. It is never negative unless a teacher
overdrew with a reason; the check constraint refuses anything else, whoever writes it.
`inventory.spending.ledger` is the only writer.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Round
from django.utils import timezone

from classroom.models import AppendOnly, Course, School, User
from classroom.models.append_only import AppendOnlyQuerySet


class Budget(models.Model):
    class CostPolicy(models.TextChoices):
        """What projects pay for metal; the course's budget always bears what it really costs."""

        SHARED = "shared", "metal in the pieces, and a share of the waste"
        SCHOOL = "school", "metal in the pieces only"
        RECTANGLE = "rectangle", "the rectangle around each piece"

    course = models.OneToOneField(Course, on_delete=models.PROTECT, related_name="budget")
    allotted = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal(0))
    committed = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal(0))
    charged = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal(0))
    credited = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal(0))
    overdraw_allowed = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal(0))
    cost_policy = models.CharField(max_length=9, choices=CostPolicy, default=CostPolicy.SHARED)

    class Meta:
        constraints = [
            # Rounded, because SQLite adds decimals as floats: 0.10 + 0.20 would exceed 0.30.
            models.CheckConstraint(
                condition=Q(
                    allotted__gte=Round(
                        F("committed") + F("charged") - F("credited") - F("overdraw_allowed"), 2
                    )
                ),
                name="budget_is_not_overspent",
            ),
            models.CheckConstraint(
                condition=Q(allotted__gte=0)
                & Q(committed__gte=0)
                & Q(charged__gte=0)
                & Q(credited__gte=0)
                & Q(overdraw_allowed__gte=0),
                name="budget_totals_are_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"metal budget of {self.course}"

    @property
    def left(self) -> Decimal:
        return self.allotted - self.committed - self.charged + self.credited


class BudgetEntry(AppendOnly):
    class Kind(models.TextChoices):
        ALLOTMENT = "allotment", "allotment"
        COMMITMENT = "commitment", "commitment"
        RELEASE = "release", "release"
        CHARGE = "charge", "charge"
        CREDIT = "credit", "credit"
        OVERDRAW = "overdraw", "overdraw allowed"

    budget = models.ForeignKey(Budget, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=Kind)
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200)
    cause = models.CharField(max_length=60, blank=True, help_text="The plan that caused it.")

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["cause"])]
        constraints = [
            # An allotment may be taken back in part, and an overdraft end when money comes in:
            # a negative row, never a changed one.
            models.CheckConstraint(
                condition=Q(kind__in=["allotment", "overdraw"]) | Q(amount__gte=0),
                name="entry_has_a_positive_amount",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="entry_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.amount}"


class BudgetTransfer(AppendOnly):
    """Money moved from one course's budget to another's; each has an allotment that names it."""

    source = models.ForeignKey(Budget, on_delete=models.PROTECT, related_name="transfers_out")
    target = models.ForeignKey(Budget, on_delete=models.PROTECT, related_name="transfers_in")
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0) & ~Q(source=F("target")), name="transfer_moves_something"
            )
        ]

    def __str__(self) -> str:
        return f"{self.amount} from {self.source} to {self.target}"


class ScrapSaleQuerySet(AppendOnlyQuerySet["ScrapSale"]):
    def in_force(self) -> Self:
        """Sales that no other row corrects."""
        return self.filter(correction=None)


class ScrapSale(AppendOnly):
    """Scrap sold out of its box: what it weighed, what it brought, and which budget got that.

    A correction is a whole sale of its own that names the one it corrects; box and budget take
    the old one back and book the new one. A weight of nothing says that it was never sold.
    """

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="scrap_sales")
    alloy_code = models.CharField(max_length=16)
    mass_g = models.DecimalField(max_digits=9, decimal_places=2)
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    budget = models.ForeignKey(
        Budget, null=True, blank=True, on_delete=models.PROTECT, related_name="scrap_sales"
    )
    buyer = models.CharField(max_length=120, blank=True)
    sold_on = models.DateField()
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="correction"
    )
    reason = models.CharField(max_length=200, blank=True)

    objects = ScrapSaleQuerySet.as_manager()  # type: ignore[misc]  # widens the guarded one

    class Meta:
        ordering = ["-sold_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(mass_g__gt=0) | (Q(mass_g=0, amount=0) & Q(corrects__isnull=False)))
                & Q(amount__gte=0)
                & (Q(amount=0) | Q(budget__isnull=False)),
                name="scrap_sale_makes_sense",
            ),
            models.CheckConstraint(
                condition=Q(corrects=None) | ~Q(reason=""), name="corrected_sale_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"sale of {self.mass_g} g of {self.alloy_code}"

    def corrected_by(self) -> ScrapSale | None:
        """The sale that names this one as wrong, if one does; asked of the database anew."""
        return ScrapSale.objects.filter(corrects=self).first()
