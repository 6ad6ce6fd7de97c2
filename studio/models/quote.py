"""Quotes: frozen prices. A new price is a new quote, never a changed one."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import models
from django.utils import timezone

from classroom.languages import SAY
from classroom.models import AppendOnly
from studio.core.pricing.line_words import line_words

from .plan import CutPlan
from .project import Project


class Quote(AppendOnly):
    class Kind(models.TextChoices):
        PLANNED = "planned", "as planned"
        SETTLED = "settled", "as used"

    plan = models.ForeignKey(CutPlan, on_delete=models.PROTECT, related_name="quotes")
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="quotes")
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.PLANNED)
    at = models.DateTimeField(default=timezone.now)
    metal_total = models.DecimalField(max_digits=9, decimal_places=2)
    total = models.DecimalField(max_digits=9, decimal_places=2)
    allowance = models.DecimalField(max_digits=8, decimal_places=2)
    piece_area_mm2 = models.DecimalField(max_digits=12, decimal_places=2)
    waste_area_mm2 = models.DecimalField(max_digits=12, decimal_places=2)
    rates = models.JSONField(default=dict, help_text="Prices and rates as they stood.")

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "project", "kind"], name="one_quote_of_a_kind_per_project"
            )
        ]

    def __str__(self) -> str:
        return f"{self.total} for {self.project}"

    @staticmethod
    def that_counts(quotes: Iterable[Quote], plan_pk: int | None) -> Quote | None:
        """Of a project's quotes, newest first, the price that counts: as settled when its plan was
        closed, else that of the plan on which it is now."""
        return next(
            (one for one in quotes if one.kind == Quote.Kind.SETTLED or one.plan_id == plan_pk),
            None,
        )


class QuoteLine(AppendOnly):
    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.SlugField(max_length=20)
    text = models.CharField(max_length=160, help_text="The words on the day, in English.")
    facts = models.JSONField(
        default=dict, help_text="What a consumable's words are made of, for other languages."
    )
    amount = models.DecimalField(max_digits=9, decimal_places=2)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["quote", "position"], name="one_line_per_position")
        ]

    def __str__(self) -> str:
        return f"{self.text}: {self.amount}"

    @property
    def words(self) -> str:
        """What the line says, in the language that is on."""
        return line_words(self.text, self.facts, SAY)
