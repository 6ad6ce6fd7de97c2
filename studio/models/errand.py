"""An errand: slow work that somebody is waiting for, done outside the web processes.

Reading an uploaded file takes seconds of a processor, and so does a long PDF. The page that asks
for it only writes an errand down; a worker does it under a lease, and the page that waits shows
how many are before it. `studio/running/errands` starts, does and clears them.
"""

from __future__ import annotations

import secrets
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils import timezone

from classroom.models import User
from classroom.models.waiting_file import new_token, private_files

FOLDER = "errands"


def errand_name(errand: Errand, filename: str) -> str:
    """A name that nobody can guess or steer."""
    return f"{FOLDER}/{secrets.token_hex(16)}.bin"


class ErrandQuerySet(models.QuerySet["Errand"]):
    def still_open(self) -> ErrandQuerySet:
        return self.filter(state__in=Errand.OPEN)

    def not_seen(self) -> ErrandQuerySet:
        """Open ones, and those whose outcome its owner has not looked at."""
        return self.filter(seen_at=None).exclude(state=Errand.State.OFF)

    def before(self, errand: Errand) -> ErrandQuerySet:
        """What is done first: the queue goes by when errands were asked for."""
        return self.still_open().filter(pk__lt=errand.pk)


class Errand(models.Model):
    class Kind(models.TextChoices):
        PATTERN = "pattern", "reading a pattern"
        SIZE = "size", "reading a pattern with its size or unit"
        METAL = "metal", "reading a photo of metal"
        OUTLINE = "outline", "reading an offcut's outline"
        PRINT = "print", "making a PDF"

    class State(models.TextChoices):
        QUEUED = "queued", "waiting for its turn"
        RUNNING = "running", "being done"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        OFF = "off", "called off"

    OPEN = ("queued", "running")

    token = models.CharField(max_length=40, unique=True, default=new_token, editable=False)
    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="errands")
    kind = models.CharField(max_length=8, choices=Kind)
    about = models.CharField(
        max_length=60, blank=True, help_text="What it belongs to (`subject_of`)."
    )
    title = models.CharField(max_length=120, help_text="The file's or the paper's name.")
    back = models.CharField(max_length=300, help_text="The page that it was asked for on.")
    asked = models.JSONField(default=dict, help_text="What is to be done, and what was typed.")
    file = models.FileField(
        upload_to=errand_name, storage=private_files, max_length=200, blank=True
    )
    result = models.FileField(
        upload_to=errand_name, storage=private_files, max_length=200, blank=True
    )
    outcome = models.JSONField(default=dict, help_text="What came of it.")
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    slot = models.PositiveSmallIntegerField(
        default=0, help_text="Which of its owner's few places at the desk it takes."
    )
    worker = models.CharField(max_length=80, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    asked_at = models.DateTimeField(default=timezone.now)
    queued_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True, help_text="When its owner saw what came of it.")

    objects = ErrandQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["state", "lease_until"]),
            models.Index(fields=["owner", "state"]),
        ]
        constraints = [
            # Counting first and writing then would let two requests at once pass the bound.
            models.UniqueConstraint(
                fields=["owner", "slot"],
                condition=Q(state__in=["queued", "running"]),
                name="one_open_errand_per_slot",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.title}"

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def is_queued(self) -> bool:
        return self.state == self.State.QUEUED

    @property
    def is_print(self) -> bool:
        return self.kind == self.Kind.PRINT

    @property
    def trouble(self) -> str:
        """Why it came to nothing, in words for the person; "" when all went well."""
        return str(self.outcome.get("refused", ""))

    def content(self) -> bytes:
        """What was brought with it. Raises FileNotFoundError when it is no longer kept."""
        return _read(self.file)

    def result_content(self) -> bytes:
        """Raises FileNotFoundError when it is no longer kept."""
        return _read(self.result)


def _read(field: Any) -> bytes:
    if not field:
        raise FileNotFoundError
    with field.open("rb") as opened:
        return bytes(opened.read())
