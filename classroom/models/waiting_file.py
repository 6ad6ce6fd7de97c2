"""A file that somebody brought and about which one question is still open.

It is kept for some hours, so that nobody has to choose it again, and only ever for the person
who brought it. `classroom/files/waiting_files.py` keeps and clears them.
"""

from __future__ import annotations

import secrets
from typing import Any

from django.core.files.storage import storages
from django.db import models
from django.utils import timezone

from .people import User

FOLDER = "waiting"


def new_token() -> str:
    return secrets.token_urlsafe(24)


def private_files() -> Any:
    """The store that nothing is served from."""
    return storages["evidence"]


def waiting_name(waiting: WaitingFile, filename: str) -> str:
    """A name that nobody can guess or steer."""
    return f"{FOLDER}/{secrets.token_hex(16)}.bin"


class WaitingFile(models.Model):
    token = models.CharField(max_length=40, unique=True, default=new_token, editable=False)
    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="waiting_files")
    about = models.CharField(max_length=60, help_text="What it was brought for (`subject_of`).")
    file = models.FileField(upload_to=waiting_name, storage=private_files, max_length=200)
    file_name = models.CharField(max_length=120)
    shown = models.FileField(
        "small picture of it",
        upload_to=waiting_name,
        storage=private_files,
        max_length=200,
        blank=True,
    )
    known = models.JSONField(default=dict, help_text="What was typed with it and found in it.")
    brought_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-brought_at", "-pk"]
        indexes = [models.Index(fields=["brought_at"])]

    def __str__(self) -> str:
        return self.file_name
