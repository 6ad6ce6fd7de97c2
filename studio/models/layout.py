"""Layouts: where somebody laid pieces by hand, try beside try."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import Course, User
from studio.core.cutting import Cut, Job, Placement, job_from_json
from studio.core.cutting.by_hand import placements_from_json
from studio.core.cutting.parting import cuts_from_json

from .plan import CutPlan
from .project import Pattern, Project
from .read_once import read_once

MOST_PLACED = 400


class LayoutQuerySet(models.QuerySet["Layout"]):
    def handed_in(self) -> Self:
        return self.filter(handed_in_at__isnull=False)


class Layout(models.Model):
    """One try at laying out the pieces of a project, or of a class's cut plan.

    `job` is what it is laid by: pieces, stock pieces and rules as they were when it was begun,
    in the format of the command-line seam. `placements` is where pieces lie now; a piece that is
    not among them is still in the tray. Nothing here reserves metal.
    """

    class Origin(models.TextChoices):
        HAND = "hand", "laid by hand"
        SERVER = "server", "laid by the server"

    project = models.ForeignKey(
        Project, null=True, blank=True, on_delete=models.PROTECT, related_name="layouts"
    )
    plan = models.ForeignKey(
        CutPlan, null=True, blank=True, on_delete=models.PROTECT, related_name="layouts"
    )
    pattern = models.ForeignKey(
        Pattern,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="layouts",
        help_text="The version of the project's pattern whose pieces are laid.",
    )
    number = models.PositiveIntegerField(help_text="Counts the tries of a project, or of a plan.")
    name = models.CharField(max_length=60, blank=True)
    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    origin = models.CharField(max_length=6, choices=Origin, default=Origin.HAND)
    job = models.JSONField(help_text="Pieces, stock pieces and rules that it is laid by.")
    placements = models.JSONField(default=list)
    cuts = models.JSONField(default=list, help_text="Where the metal of a class's plan is parted.")
    pinned = models.JSONField(default=list, help_text="Pieces that stay: [piece, copy].")
    past = models.JSONField(default=list, help_text="What was done, to be undone, oldest first.")
    future = models.JSONField(default=list, help_text="What was undone, the next one last.")
    version = models.PositiveIntegerField(default=0, help_text="Grows with every change.")
    last_key = models.CharField(max_length=40, blank=True)
    figures = models.JSONField(default=dict, help_text="The judge's measures when last asked.")
    beside = models.JSONField(
        default=dict, help_text="The server's measures for the same pieces, when handed in."
    )
    chosen = models.BooleanField(default=False, help_text="Which of a project's tries counts.")
    handed_in_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)

    objects = LayoutQuerySet.as_manager()

    class Meta:
        ordering = ["number", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(project__isnull=False, plan__isnull=True)
                | Q(project__isnull=True, plan__isnull=False),
                name="a_layout_is_of_a_project_or_a_plan",
            ),
            models.UniqueConstraint(
                fields=["project", "number"], name="one_layout_per_number_of_a_project"
            ),
            models.UniqueConstraint(
                fields=["plan", "number"], name="one_layout_per_number_of_a_plan"
            ),
            models.UniqueConstraint(
                fields=["project"],
                condition=Q(chosen=True),
                name="one_chosen_layout_per_project",
            ),
        ]

    def __str__(self) -> str:
        return f"layout {self.number} of {self.project or self.plan}"

    @property
    def asked(self) -> Job:
        """What it is laid by; read once for each row."""
        return read_once(self, "job", self.job, job_from_json)

    @property
    def laid(self) -> tuple[Placement, ...]:
        """Where the pieces lie."""
        said = {"placements": self.placements}
        return placements_from_json(said, "placements", most=MOST_PLACED, within_mm=None)

    @property
    def parted(self) -> tuple[Cut, ...]:
        """Where the metal is parted; nowhere in a layout of one student's."""
        return cuts_from_json({"cuts": self.cuts})

    @property
    def course(self) -> Course:
        """Whose rules, budget and rack it is laid by."""
        if self.plan is not None:
            return self.plan.course
        assert self.project is not None
        return self.project.brief.course

    @property
    def is_handed_in(self) -> bool:
        return self.handed_in_at is not None
