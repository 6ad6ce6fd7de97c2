"""A student's file becomes the current version of the pattern, or nothing happens at all."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from classroom.models import User, WaitingFile
from classroom.refusals import Refused
from inventory.models import Metal
from studio.core.reading import Read, Unread, Upload, read_upload
from studio.core.reading.stripping import stripped
from studio.models import Pattern, Project

from .recheck import look_at, put_down
from .versions import add_version, drop_files, require_open, take_the_project


@dataclass(frozen=True, slots=True)
class Typed:
    """What the student said of the pattern, besides its size; it comes along to every answer."""

    copies: int = 1
    metal: Metal | None = None

    def to_json(self) -> dict[str, Any]:
        return {"copies": self.copies, "metal": None if self.metal is None else self.metal.pk}

    @classmethod
    def of(cls, waiting: WaitingFile) -> Typed:
        metal = Metal.objects.filter(pk=waiting.known.get("metal")).first()
        return cls(int(waiting.known.get("copies", 1)), metal)


@dataclass(frozen=True, slots=True)
class ReadAhead:
    """A pattern that was read and checked, and of which nothing is stored yet."""

    fresh: Pattern
    data: bytes
    metal: Metal | None
    paper: bytes


def read_in(
    project: Project,
    upload: Upload,
    *,
    acting: User,
    copies: int = 1,
    metal: Metal | None = None,
) -> Pattern:
    """Read the file, check the drawing and store both as the project's current version.

    The file is read and checked before anything is written, so a file that cannot be read
    leaves no trace. Sending the same file twice gives the same version. Raises PatternError
    (nothing can be read, or not without one more answer) and Refused (a rule of the house).
    """
    found = read_ahead(project, upload, Typed(copies, metal))
    if not isinstance(found, ReadAhead):
        raise found.why
    return keep_read(found, acting=acting)


def read_ahead(project: Project, upload: Upload, typed: Typed) -> ReadAhead | Unread:
    """What takes seconds, and writes nothing: for a worker, not for a web process.

    What a camera wrote into the file is not kept. Raises Refused (a rule of the house).
    """
    brief = project.brief
    require_open(project)
    require_allowed(project, typed.metal)
    found = read_upload(upload)
    if not isinstance(found, Read):
        return found
    tracing, width_mm = found.tracing, upload.asked.width_mm
    data = stripped(upload.data, upload.kind)
    checked = look_at(tracing, {}, brief.limits)
    fresh = Pattern(
        project=project,
        file_name=upload.name,
        sha256=hashlib.sha256(data).hexdigest(),
        width_mm=None if width_mm is None else round(width_mm, 2),
        copies=typed.copies,
        tracing=tracing.to_json(),
    )
    put_down(fresh, checked)
    return ReadAhead(fresh, data, typed.metal, tracing.paper)


def keep_read(ahead: ReadAhead, *, acting: User) -> Pattern:
    """Store what was read as the current version. Raises Refused where a rule speaks by now."""
    fresh = ahead.fresh
    try:
        with transaction.atomic():
            take_the_project(fresh.project, metal=ahead.metal)
            return add_version(fresh, ahead.data, acting=acting, paper=ahead.paper)
    except BaseException:
        drop_files(fresh)
        raise


def require_allowed(project: Project, metal: Metal | None) -> None:
    if metal is not None and not project.brief.metals.filter(pk=metal.pk).exists():
        raise Refused("The brief does not allow that metal.")
