"""A student's file becomes the project's current pattern, or nothing happens at all."""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import IO, Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.models import Metal
from studio.core.reading import ASK, PatternError, Reference, Tracing, read_uploaded
from studio.core.reading.bounds import MAX_BYTES
from studio.core.reading.rough import Asked
from studio.core.reading.sources import (
    MOST_BYTES,
    PICTURES,
    check_bytes,
    checked_kind,
    kind_of,
)
from studio.core.reading.stripping import stripped
from studio.models import Pattern, Project

from .paper import keep_paper, paper_name
from .recheck import Checked, look_at, put_down
from .start_project import require_at_work
from .upload_quota import require_room

OPEN_STAGES = (Project.Stage.DRAWING, Project.Stage.RETURNED)
NAME_LENGTH = 120


@dataclass(frozen=True, slots=True)
class ReadAhead:
    """A pattern that was read and checked, and of which nothing is stored yet."""

    fresh: Pattern
    data: bytes
    metal: Metal | None
    paper: bytes


def read_in(project: Project, upload: IO[bytes], *, acting: User, **said: Any) -> Pattern:
    """Read the file, check the drawing and store both as the project's newest revision.

    The file is read and checked before anything is written, so a file that cannot be read
    leaves no trace. Sending the same file twice gives the same revision. `said` and what is
    raised: see `read_ahead`.
    """
    return keep_read(read_ahead(project, upload, **said), acting=acting)


def read_ahead(
    project: Project,
    upload: IO[bytes],
    *,
    filename: str,
    width_mm: float | None = None,
    dpi: float | None = None,
    frame: str | None = None,
    reference: Reference | None = None,
    unit: str = ASK,
    copies: int = 1,
    metal: Metal | None = None,
) -> ReadAhead:
    """What takes seconds, and writes nothing: for a worker, not for a web process.

    `dpi`, `frame` and `reference` are for scans and photos; what a camera wrote into the file is
    not kept. `unit` is for a DXF drawing that names none.

    Raises PatternError (nothing can be read out of the file; UnitUnknown when only the unit is
    missing) or Refused (a rule of the house).
    """
    brief = project.brief
    require_open(project)
    require_allowed(project, metal)
    name = plain_name(filename)
    data = upload.read(MAX_BYTES + 1)
    if kind_of(data, name) in PICTURES:
        data += upload.read(MOST_BYTES - MAX_BYTES)
    check_bytes(data, name)
    tracing = read_uploaded(
        data,
        filename=name,
        width_mm=width_mm,
        dpi=dpi,
        frame=frame,
        reference=reference,
        unit=unit,
    )
    data = stripped(data, kind_of(data, name))
    checked = look_at(tracing, {}, brief.limits)
    fresh = Pattern(
        project=project,
        file_name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        width_mm=None if width_mm is None else round(width_mm, 2),
        copies=copies,
        tracing=tracing.to_json(),
    )
    put_down(fresh, checked)
    return ReadAhead(fresh, data, metal, tracing.paper)


def look_first(data: bytes, filename: str) -> None:
    """What can be told without reading. Raises PatternError for an unknown or too large file."""
    name = plain_name(filename)
    check_bytes(data, name)
    checked_kind(data, Asked(name))


def keep_read(ahead: ReadAhead, *, acting: User) -> Pattern:
    """Store what was read as the newest revision. Raises Refused where a rule speaks by now."""
    return _store(ahead.fresh, ahead.data, ahead.metal, ahead.paper, acting=acting)


def require_allowed(project: Project, metal: Metal | None) -> None:
    if metal is not None and not project.brief.metals.filter(pk=metal.pk).exists():
        raise Refused("The brief does not allow that metal.")


def require_open(project: Project) -> None:
    """Raises Refused when no pattern can be brought now."""
    require_at_work(project)
    if project.stage not in OPEN_STAGES:
        raise Refused(_why_not(project))


def _store(
    fresh: Pattern, data: bytes, metal: Metal | None, paper: bytes, *, acting: User
) -> Pattern:
    project = fresh.project
    stored = ""
    try:
        with transaction.atomic():
            _take_the_project(project, metal)
            current = current_pattern(project)
            if current is not None and _is_the_same(current, fresh):
                return current
            require_room(project, len(data) + len(paper))
            replace_current(project)
            fresh.number = next_number(project)
            fresh.file.save(fresh.file_name, ContentFile(data), save=False)
            stored = fresh.file.name or ""
            keep_paper(fresh, paper)
            fresh.save()
            record(
                acting,
                "pattern-uploaded",
                project,
                f"uploaded pattern {fresh.number} ({fresh.file_name})",
                pattern=fresh.pk,
            )
    except BaseException:
        # The row is gone with the transaction; the evidence of it must not stay behind.
        if stored:
            fresh.file.storage.delete(stored)
            fresh.file.storage.delete(paper_name(stored))
        raise
    return fresh


def _take_the_project(project: Project, metal: Metal | None) -> None:
    """Hold the project's row, and set its stage, unless somebody was first."""
    taken = Project.objects.filter(pk=project.pk, stage__in=OPEN_STAGES).update(
        stage=Project.Stage.DRAWING,
        stage_since=timezone.now(),
        metal=metal if metal is not None else project.metal,
    )
    if not taken:
        project.refresh_from_db(fields=["stage"])
        raise Refused(_why_not(project))
    project.refresh_from_db(fields=["stage", "stage_since", "metal"])


def _is_the_same(current: Pattern, fresh: Pattern) -> bool:
    """Whether the draft is this very file read in this very way (a second press of the button)."""
    same = (current.sha256, current.copies) == (fresh.sha256, fresh.copies)
    typed = (current.width_mm is None, float(current.width_mm or 0))
    return (
        same
        and current.state == Pattern.State.DRAFT
        and typed == (fresh.width_mm is None, float(fresh.width_mm or 0))
        and not current.relabels
        and not current.changes
        and current.tracing == fresh.tracing
    )


def current_pattern(project: Project) -> Pattern | None:
    """The one revision that has not been replaced."""
    return project.patterns.exclude(state=Pattern.State.REPLACED).first()


def replace_current(project: Project) -> None:
    """Step the draft or returned revision back; it keeps its remark and stays visible."""
    project.patterns.filter(state__in=[Pattern.State.DRAFT, Pattern.State.RETURNED]).update(
        state=Pattern.State.REPLACED
    )


def next_number(project: Project) -> int:
    return int(project.patterns.aggregate(last=Max("number"))["last"] or 0) + 1


def plain_name(filename: str) -> str:
    """The file's own name as harmless text: no folders, no control signs, not too long."""
    last = PurePosixPath(filename.replace("\\", "/")).name
    shown = "".join(
        sign for sign in unicodedata.normalize("NFC", last) if sign.isprintable()
    ).strip(" .")
    if len(shown) > NAME_LENGTH:
        ending = PurePosixPath(shown).suffix[:8]
        shown = shown[: NAME_LENGTH - len(ending)] + ending
    return shown or "pattern"


def _why_not(project: Project) -> str:
    if project.stage == Project.Stage.HANDED_IN:
        return "The pattern is handed in. Take it back first if you want to change it."
    return "The pattern is approved already, so it can no longer be changed here."


__all__ = [
    "Checked",
    "PatternError",
    "ReadAhead",
    "Tracing",
    "current_pattern",
    "keep_read",
    "look_first",
    "next_number",
    "plain_name",
    "read_ahead",
    "read_in",
    "replace_current",
    "require_open",
]
