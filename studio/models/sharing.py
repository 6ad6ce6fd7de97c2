"""A stock piece in several hands: its own steps, what came out of parting it, and who holds it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import AppendOnly, User
from inventory.models import StockPiece

from .plan import PlanProject, PlanStock
from .step_row import StepRow


class StockStep(StepRow):
    """A step of the stock piece itself: it is parted, or prepared, stuck and dried for all.

    `student_signed_at` is when whoever did it signed, a student or a teacher.
    """

    plan_stock = models.ForeignKey(PlanStock, on_delete=models.PROTECT, related_name="steps")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan_stock", "number"], name="one_stock_step_per_number"
            ),
            models.UniqueConstraint(fields=["plan_stock", "kind"], name="one_stock_step_per_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.title} ({self.plan_stock.stock_piece})"


class StockSignOff(AppendOnly):
    """Who did what on a stock piece's step. `share` says whose papers were stuck, `stand_in` who
    stuck them for one who was away."""

    class Kind(models.TextChoices):
        STARTED = "started", "started"
        STUCK = "stuck", "papers stuck on"
        DONE = "done", "signed as done"
        CHECKED = "checked", "checked by the teacher"
        SENT_BACK = "sent_back", "sent back by the teacher"
        OVERRIDE = "override", "rule lifted by a teacher"

    step = models.ForeignKey(StockStep, on_delete=models.PROTECT, related_name="sign_offs")
    kind = models.CharField(max_length=9, choices=Kind)
    share = models.ForeignKey(
        PlanProject, null=True, blank=True, on_delete=models.PROTECT, related_name="stuck"
    )
    stand_in = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200, blank=True)
    set_aside = models.JSONField(
        default=list, help_text="The rules that an override set aside, such as permit:shear."
    )
    wording_sha = models.CharField(max_length=64)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind__in=["override", "sent_back"]) | ~Q(reason=""),
                name="a_lifted_stock_rule_has_a_reason",
            ),
            models.CheckConstraint(
                condition=~Q(kind="stuck") | Q(share__isnull=False),
                name="stuck_papers_are_somebodys",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step} {self.get_kind_display()} by {self.by}"


class PartEntry(AppendOnly):
    """What really came out of parting a stock piece, part by part (numbers as in the plan).

    `outline` is the part as it came out, where it lay in the stock piece (well-known text, mm);
    empty for a part that was spoilt. A wrong cut says its `cause`. A correction names the entry
    that it takes the place of.
    """

    class Kind(models.TextChoices):
        MEASURED = "measured", "came out with this size"
        WRONG_CUT = "wrong_cut", "cut wrong"
        LOST = "lost", "spoilt"

    plan_stock = models.ForeignKey(PlanStock, on_delete=models.PROTECT, related_name="part_entries")
    kind = models.CharField(max_length=9, choices=Kind)
    part = models.PositiveSmallIntegerField()
    share = models.ForeignKey(
        PlanProject,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="part_entries",
        help_text="Whose blank it is; nobody's where it goes back to the rack.",
    )
    width_mm = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    outline = models.TextField(blank=True)
    made = models.ForeignKey(
        StockPiece,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="part_entries",
        help_text="The stock piece that the part became; none where it was spoilt.",
    )
    cause = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="measured") | ~Q(cause=""), name="a_wrong_cut_has_a_cause"
            )
        ]

    def __str__(self) -> str:
        return f"part {self.part} of {self.plan_stock.stock_piece}, {self.get_kind_display()}"


class MetalHolder(AppendOnly):
    """In whose hands a stock piece is that is passed on; the newest row counts.

    Without a share it lies on the shelf: nobody may work on it until it is handed on.
    """

    plan_stock = models.ForeignKey(PlanStock, on_delete=models.PROTECT, related_name="holders")
    share = models.ForeignKey(
        PlanProject, null=True, blank=True, on_delete=models.PROTECT, related_name="held"
    )
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.plan_stock.stock_piece} with {self.share or 'nobody'}"
