"""The cut plan: whose pieces lie where on which stock pieces, and the work of finding out.

`answer` is the engine's plan in the format of the command-line seam (`place_pieces`), so that
a stored plan can be made again and judged again by anyone.
"""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import ExpressionWrapper, Q
from django.utils import timezone
from django.utils.translation import gettext

from classroom.models import Course, User
from inventory.models import Metal, StockPiece
from studio.core.cutting import Job, Plan, job_from_json, plan_from_json

from .project import Pattern, Project
from .read_once import read_once


class CutPlan(models.Model):
    class State(models.TextChoices):
        PLACING = "placing", "being placed"
        PROPOSED = "proposed", "proposed"
        APPROVED = "approved", "approved, metal reserved"
        ISSUED = "issued", "metal handed out"
        CLOSED = "closed", "closed"
        DROPPED = "dropped", "dropped"
        PARTED = "parted", "parted into blanks"

    class Way(models.TextChoices):
        """How students whose pieces lie on one stock piece come by their metal."""

        ALONE = "alone", "one student's on each stock piece"
        PARTED = "parted", "parted first, with the shear"
        SAWN = "sawn", "sawn apart first"
        PASSED = "passed", "passed on from hand to hand"

    LIVE = ("placing", "proposed", "approved", "issued")

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="plans")
    metal = models.ForeignKey(Metal, on_delete=models.PROTECT, related_name="plans")
    state = models.CharField(max_length=8, choices=State, default=State.PLACING)
    way = models.CharField(
        max_length=6,
        choices=Way,
        default=Way.ALONE,
        blank=True,
        help_text="Empty: placed before sheets were shared by rule, to be laid anew.",
    )
    parent = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="own_plans",
        help_text="The shared plan whose sheet was parted: this is one student's part of it.",
    )
    adds_to = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="additions",
        help_text="The plan at the bench to whose metal this one's pieces are added.",
    )
    to_lay_anew = models.BooleanField(
        default=False, help_text="The blank came out so that the layout does not hold on it."
    )
    job = models.JSONField(help_text="What the engine was asked.")
    answer = models.JSONField(null=True, blank=True, help_text="Its plan, judged without fault.")
    engine_version = models.CharField(max_length=20, blank=True)
    seed = models.PositiveIntegerField(default=1)
    seconds = models.FloatField(default=10.0)
    rival_of = models.ForeignKey(
        "self",
        null=True,
        on_delete=models.PROTECT,
        related_name="rivals",
        help_text="The plan beside which this is another try; chosen, it takes that one's place.",
    )
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    approved_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    approved_at = models.DateTimeField(null=True)
    issued_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-created_at", "-pk"]
        indexes = [models.Index(fields=["course", "state"])]
        constraints = [
            models.UniqueConstraint(
                fields=["rival_of"],
                condition=Q(state__in=["placing", "proposed"]),
                name="one_live_rival_per_plan",
            )
        ]

    def __str__(self) -> str:
        return gettext("cut plan %(number)s") % {"number": self.pk}

    @property
    def is_live(self) -> bool:
        return self.state in self.LIVE

    @property
    def asked(self) -> Job:
        """What the engine was asked; read once for each row."""
        return read_once(self, "job", self.job, job_from_json)

    @property
    def laid(self) -> Plan | None:
        """What lies where, as the judge passed it; None as long as nothing is placed.

        Read once for each row; a row that came without its `answer` (`defer`) fetches it first.
        """
        if self.answer is None:
            return None
        return read_once(self, "answer", self.answer, plan_from_json)

    @property
    def is_parted(self) -> bool:
        """Whether its stock pieces are parted into a blank for every student."""
        return self.way in (self.Way.PARTED, self.Way.SAWN)

    @property
    def waits_for_blanks(self) -> bool:
        """Whether its metal is handed out, and its students' blanks are still to be parted."""
        return self.is_parted and self.state == self.State.ISSUED

    @property
    def is_whole(self) -> bool:
        """Whether it is placed and every piece has its place; nothing is read for it."""
        return self.answer is not None and not self.answer["unplaced"]

    @property
    def touched_codes(self) -> list[str]:
        """Label codes of the stock pieces that it touches; none as long as nothing is placed."""
        placements = [] if self.answer is None else self.answer["placements"]
        return sorted({placed["metal"] for placed in placements})

    @property
    def broke_off(self) -> bool:
        """Whether nobody works on it any more, though it was not placed."""
        placing = getattr(self, "placing", None)
        failed = placing is not None and placing.state == PlacingJob.State.FAILED
        return failed and self.state == self.State.PLACING


class PlanProjectQuerySet(models.QuerySet["PlanProject"]):
    def with_left_over(self) -> Self:
        """With `leaves_over`: whether the plan has no place for some piece (its answer, which is
        large, is not fetched for it)."""
        over = Q(plan__answer__unplaced__0__isnull=False)
        return self.annotate(
            leaves_over=ExpressionWrapper(over, output_field=models.BooleanField())
        )


class PlanProject(models.Model):
    """A project in a plan, with the version of its pattern that was placed."""

    plan = models.ForeignKey(CutPlan, on_delete=models.PROTECT, related_name="shares")
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="plan_shares")
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="+")
    layout = models.ForeignKey(
        "studio.Layout",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="plan_shares",
        help_text="The student's own layout, which the plan has taken as it is.",
    )
    layout_told = models.CharField(
        max_length=300, blank=True, help_text="Why the plan could not take the student's layout."
    )
    turn = models.PositiveSmallIntegerField(
        default=0, help_text="Whose turn it is to saw, from 1; 0 where there are no turns."
    )
    left_out_at = models.DateTimeField(null=True, blank=True)
    left_out_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    left_out_why = models.CharField(max_length=200, blank=True)
    live = models.BooleanField(default=True)

    objects = PlanProjectQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "project"], name="a_project_once_in_a_plan"),
            models.UniqueConstraint(
                fields=["project"], condition=Q(live=True), name="one_live_plan_per_project"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.project} in {self.plan}"

    @staticmethod
    def still_at_work(path: str = "") -> Q:
        """Shares whose pieces are still to be made; `path` leads to them, such as "shares__".

        Whoever has left the course makes nothing any more: nobody waits for them.
        """
        at_work = [Project.Stage.PLANNED, Project.Stage.AT_BENCH]
        said = {"live": True, "project__stage__in": at_work, "project__seat__left_at": None}
        return Q(**{f"{path}{name}": value for name, value in said.items()})


class PlanStock(models.Model):
    """A stock piece that an approved plan has reserved, or whose metal an addition lies on."""

    plan = models.ForeignKey(CutPlan, on_delete=models.PROTECT, related_name="reserved")
    stock_piece = models.ForeignKey(
        StockPiece, on_delete=models.PROTECT, related_name="reservations"
    )
    addition = models.BooleanField(default=False)
    live = models.BooleanField(default=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "stock_piece"], name="a_piece_once_in_a_plan"),
            models.UniqueConstraint(
                fields=["stock_piece"],
                condition=Q(live=True, addition=False),
                name="one_live_plan_per_stock_piece",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock_piece} for {self.plan}"


class PlacingJob(models.Model):
    """The background work for one plan, under a lease that a living worker keeps renewing."""

    class State(models.TextChoices):
        QUEUED = "queued", "waiting for a worker"
        RUNNING = "running", "placing"
        DONE = "done", "placed"
        FAILED = "failed", "failed"

    plan = models.OneToOneField(CutPlan, on_delete=models.PROTECT, related_name="placing")
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    worker = models.CharField(max_length=80, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    stop_asked = models.BooleanField(default=False)
    progress = models.JSONField(default=dict, help_text="Latest valid plan and its cost curve.")
    error = models.CharField(max_length=300, blank=True)
    queued_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [models.Index(fields=["state", "lease_until"])]

    def __str__(self) -> str:
        return f"placing of {self.plan}"

    @property
    def best(self) -> Plan | None:
        """The best plan so far, or None; read once for each progress."""
        found = self.progress.get("plan")
        return read_once(self, "progress", found, plan_from_json) if found else None


class Return(models.Model):
    """What came back from the bench when a plan was closed, and how the balance stands."""

    plan = models.OneToOneField(CutPlan, on_delete=models.PROTECT, related_name="metal_return")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    scrap_mass_g = models.DecimalField(max_digits=9, decimal_places=2)
    remark = models.CharField(max_length=300, blank=True)
    balance = models.JSONField(help_text="Areas in mm2 and masses in g: out, pieces, offcuts …")

    def __str__(self) -> str:
        return f"return of {self.plan}"
