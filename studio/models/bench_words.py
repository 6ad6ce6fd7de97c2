"""How a school words its bench steps, and how deep its saw frames reach."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from classroom.models import AppendOnly, School, User

USUAL_FRAME_MM = Decimal(76)
"""The usual 3 inch saw frame (weak source)."""


class StepWording(AppendOnly):
    """One wording of a kind of step in a school and a language; the highest version is in use.

    Metal handed out from then on takes it; steps that exist keep what they say. `mistakes` is a
    list of [what, cause, mend]. Words in another language than the school's say the same as that
    version of the school's own, `says_version` (0: the words that came with the app).
    """

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="step_wordings")
    kind = models.CharField(max_length=10)
    language = models.CharField(max_length=8)
    version = models.PositiveIntegerField(help_text="Counts the wordings of one language.")
    says_version = models.PositiveIntegerField(default=0)
    do = models.JSONField(default=list)
    right_when = models.JSONField(default=list)
    mistakes = models.JSONField(default=list)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["school", "kind", "language", "-version"]
        constraints = [
            models.UniqueConstraint(
                fields=["school", "kind", "language", "version"],
                name="one_wording_per_step_version",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} ({self.language}), version {self.version}"


class Shear(models.TextChoices):
    """What the room has to part sheet with straight cuts."""

    NONE = "none", "no shear"
    HAND = "hand", "bench shear, worked by hand"
    FOOT = "foot", "guillotine, worked by foot"
    POWER = "power", "guillotine, power-driven"


class BenchSetup(models.Model):
    """What a school's benches have. A school without a row has the usual.

    `shear_cut_mm` is the longest cut that the shear makes; empty where nobody said.
    """

    school = models.OneToOneField(School, on_delete=models.PROTECT, related_name="bench_setup")
    frame_depth_mm = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        default=USUAL_FRAME_MM,
        validators=[MinValueValidator(Decimal(20)), MaxValueValidator(Decimal(400))],
    )

    shear = models.CharField(max_length=5, choices=Shear, default=Shear.NONE)
    shear_cut_mm = models.DecimalField(
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(20)), MaxValueValidator(Decimal(2000))],
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(frame_depth_mm__gte=20, frame_depth_mm__lte=400),
                name="a_saw_frame_has_a_depth",
            )
        ]

    def __str__(self) -> str:
        return f"bench of {self.school}"
