"""A project is one student's work on one brief; its pattern has versions, all of them kept."""

from __future__ import annotations

import secrets
from pathlib import PurePath
from typing import Any, Self

from django.core.files.storage import storages
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import ExpressionWrapper, Q
from django.utils.translation import gettext as _

from classroom.models import Seat, User
from inventory.models import Metal
from studio.core.correcting import change_from_json, corrected
from studio.core.drawing import Drawing, Finding, Weight
from studio.core.reading import Tracing

from .brief import Brief


class Project(models.Model):
    class Stage(models.TextChoices):
        DRAWING = "drawing", "drawing the pattern"
        HANDED_IN = "handed_in", "waiting for the teacher's look"
        RETURNED = "returned", "pattern handed back with a remark"
        PATTERN_APPROVED = "approved", "pattern approved, to be placed on metal"
        PLANNED = "planned", "cut plan approved, metal reserved"
        AT_BENCH = "bench", "at the bench"
        MADE = "made", "made, metal to be returned"
        CLOSED = "closed", "closed"

    brief = models.ForeignKey(Brief, on_delete=models.PROTECT, related_name="projects")
    seat = models.ForeignKey(Seat, on_delete=models.PROTECT, related_name="projects")
    title = models.CharField(max_length=80, blank=True)
    metal = models.ForeignKey(
        Metal, null=True, blank=True, on_delete=models.PROTECT, related_name="projects"
    )
    stage = models.CharField(max_length=10, choices=Stage, default=Stage.DRAWING)
    started_at = models.DateTimeField(auto_now_add=True)
    stage_since = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["seat__student__display_name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["brief", "seat"], name="one_project_per_brief_and_seat")
        ]
        indexes = [models.Index(fields=["brief", "stage"])]

    def __str__(self) -> str:
        names = {"what": self.brief.title, "who": self.seat.student}
        return self.title or _("%(what)s by %(who)s") % names

    @property
    def student(self) -> User:
        return self.seat.student

    @property
    def has_allowed_metal(self) -> bool:
        """Whether a metal is chosen, and the brief allows it."""
        return any(metal.pk == self.metal_id for metal in self.brief.metals.all())


def private_uploads() -> Any:
    """Uploaded evidence is kept apart from anything the web server serves."""
    return storages["evidence"]


def evidence_name(pattern: Pattern, filename: str) -> str:
    """A name nobody can guess or steer; the student's own file name is only kept as text."""
    ending = PurePath(filename).suffix.lower()
    known = ending if ending in {".svg", ".dxf", ".png", ".jpg", ".jpeg", ".tif", ".webp"} else ""
    return f"patterns/{pattern.project_id}/{secrets.token_hex(12)}{known or '.bin'}"


class PatternQuerySet(models.QuerySet["Pattern"]):
    def current(self) -> Self:
        """Of each project the one version that counts, if it has any."""
        return self.exclude(state=Pattern.State.ASIDE)

    def with_how_made(self) -> Self:
        """With `was_built` (from shapes) and `was_corrected` (a line changed or named since), so
        that neither recipe nor changes have to be fetched, which are large."""
        return self.annotate(
            was_built=_whether(Q(recipe__isnull=False)),
            was_corrected=_whether(~Q(changes=[], relabels={})),
        )


def _whether(condition: Q) -> ExpressionWrapper[Q]:
    return ExpressionWrapper(condition, output_field=models.BooleanField())


class Pattern(models.Model):
    """One version of a project's pattern: the file as evidence, and what was read out of it.

    One version of a project is current, the others are set aside. `steps.patterns.versions` is the
    only place that changes which.
    """

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        HANDED_IN = "handed_in", "handed in"
        APPROVED = "approved", "approved"
        RETURNED = "returned", "handed back"
        ASIDE = "aside", "kept beside, another version is current"

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="patterns")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=9, choices=State, default=State.DRAFT)
    file = models.FileField(upload_to=evidence_name, storage=private_uploads, max_length=200)
    file_name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    width_mm = models.DecimalField(
        "width typed by the student", max_digits=7, decimal_places=2, null=True, blank=True
    )
    copies = models.PositiveSmallIntegerField(
        "how many of it",
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(12)],
    )
    tracing = models.JSONField(help_text="Every line as read, in millimetres.")
    relabels = models.JSONField(default=dict, help_text="Lines the student named otherwise.")
    changes = models.JSONField(
        default=list, help_text="What the student changed of the lines as read, in order."
    )
    recipe = models.JSONField(
        null=True, blank=True, help_text="The shapes and steps, where it was built from shapes."
    )
    drawing_json = models.JSONField()
    findings_json = models.JSONField(default=list)
    uploaded_at = models.DateTimeField(auto_now_add=True)
    handed_in_at = models.DateTimeField(null=True, blank=True, editable=False)
    reviewed_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    reviewed_at = models.DateTimeField(null=True, blank=True, editable=False)
    remark = models.TextField(max_length=1000, blank=True)
    mark = models.JSONField(
        null=True,
        blank=True,
        help_text="Where the remark points: on (pattern or layout), metal, x_mm, y_mm.",
    )

    objects = PatternQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="one_pattern_per_number"),
            models.UniqueConstraint(
                fields=["project"],
                condition=Q(state__in=["draft", "handed_in", "approved", "returned"]),
                name="one_current_pattern_per_project",
            ),
        ]

    def __str__(self) -> str:
        return f"pattern {self.number} of {self.project}"

    @property
    def is_current(self) -> bool:
        return self.state != Pattern.State.ASIDE

    @property
    def is_as_built(self) -> bool:
        """Built from shapes, and no line corrected or named since; `with_how_made` asks the same
        of the database."""
        return self.recipe is not None and not (self.changes or self.relabels)

    @property
    def traced(self) -> Tracing:
        """The lines as they are after the student's changes; `tracing` stays as it was read."""
        changes = [change_from_json(each) for each in self.changes]
        return corrected(Tracing.from_json(self.tracing), changes)

    @property
    def drawing(self) -> Drawing:
        return Drawing.from_json(self.drawing_json)

    @property
    def findings(self) -> tuple[Finding, ...]:
        return tuple(Finding.from_json(row) for row in self.findings_json)

    @property
    def stops(self) -> tuple[Finding, ...]:
        return tuple(f for f in self.findings if f.weight is Weight.STOP)

    @property
    def may_be_handed_in(self) -> bool:
        return not self.stops and bool(self.drawing_json)
