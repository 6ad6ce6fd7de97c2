"""The brief: what the teacher asks the class to make, and within which limits.

It stands here and not in `classroom` because it names metals, and foreign keys run one way:
studio -> inventory -> classroom.
"""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from classroom.models import Course, User
from inventory.models import Metal
from studio.core.drawing import Limits

from .placing_settings import Hand


def _length(default: str, *, least: str = "0.1", most: str = "600") -> models.DecimalField:  # type: ignore[type-arg]
    return models.DecimalField(
        max_digits=6,
        decimal_places=2,
        default=Decimal(default),
        validators=[MinValueValidator(Decimal(least)), MaxValueValidator(Decimal(most))],
    )


class Brief(models.Model):
    """Lengths in millimetres. The defaults are novice values: common practice, no source."""

    class Grain(models.TextChoices):
        ANY = "any", "does not matter"
        UPRIGHT = "upright", "runs from bottom to top of the drawing"
        ACROSS = "across", "runs from left to right of the drawing"

    class LaidBy(models.TextChoices):
        SERVER = "server", "the server lays out"
        FIRST = "first", "students may lay out first"
        STANDS = "stands", "a student's own layout stands"

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="briefs")
    title = models.CharField(max_length=120)
    text = models.TextField(max_length=4000, blank=True)
    metals = models.ManyToManyField(Metal, related_name="briefs")
    max_width_mm = _length("60", least="5")
    max_height_mm = _length("60", least="5")
    least_bridge_mm = _length("2")
    least_web_mm = _length("2")
    least_hole_edge_mm = _length("2")
    least_window_mm = _length("2")
    blade = models.CharField("saw blade", max_length=4, default="2/0")
    kerf_mm = _length("0.30", least="0.05", most="3")
    hand = models.CharField(
        max_length=5,
        choices=Hand,
        blank=True,
        help_text="How much room pieces get between them; empty: as the course has it.",
    )
    offcut_min_width_mm = _length("12", least="2")
    grain = models.CharField(
        "the metal's grain",
        max_length=8,
        choices=Grain,
        default=Grain.ANY,
        help_text="Where it runs in the pieces, on metal whose grain is known.",
    )
    may_mirror = models.BooleanField("patterns may be printed mirrored", default=False)
    laid_by = models.CharField(
        "who lays the pieces out", max_length=6, choices=LaidBy, default=LaidBy.FIRST
    )
    least_kept_percent = models.PositiveSmallIntegerField(
        "least share of the metal that a layout keeps, in percent",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(95)],
        help_text="Empty: a layout may be handed in whatever it leaves.",
    )
    allowance = models.DecimalField(
        "allowance for each student",
        max_digits=8,
        decimal_places=2,
        validators=[MinValueValidator(Decimal(0))],
    )
    due_on = models.DateField(null=True, blank=True)
    dry_minutes = models.PositiveSmallIntegerField(default=20, validators=[MaxValueValidator(2880)])
    soak_minutes = models.PositiveSmallIntegerField(
        default=10, validators=[MaxValueValidator(2880)]
    )
    teacher_signs = models.JSONField(
        default=list, help_text="Step kinds that a teacher checks and signs too."
    )
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["closed_at", "due_on", "title", "pk"]

    def __str__(self) -> str:
        return self.title

    @property
    def grain_deg(self) -> float | None:
        """The direction in the drawing along which the grain has to run; None for any."""
        return {self.Grain.UPRIGHT: 90.0, self.Grain.ACROSS: 0.0}.get(self.Grain(self.grain))

    @property
    def limits(self) -> Limits:
        """What the pattern check measures against."""
        return Limits(
            max_width_mm=float(self.max_width_mm),
            max_height_mm=float(self.max_height_mm),
            least_bridge_mm=float(self.least_bridge_mm),
            least_web_mm=float(self.least_web_mm),
            least_hole_edge_mm=float(self.least_hole_edge_mm),
            least_window_mm=float(self.least_window_mm),
            kerf_mm=float(self.kerf_mm),
        )
