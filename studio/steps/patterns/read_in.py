"""A student's file becomes the current version of the pattern, or nothing happens at all."""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import IO, Any

from django.db import transaction

from classroom.models import User
from classroom.refusals import Refused
from inventory.models import Metal
from studio.core.reading import ASK, Reference, read_uploaded
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

from .recheck import look_at, put_down
from .versions import add_version, drop_files, require_open, take_the_project

NAME_LENGTH = 120


@dataclass(frozen=True, slots=True)
class ReadAhead:
    """A pattern that was read and checked, and of which nothing is stored yet."""

    fresh: Pattern
    data: bytes
    metal: Metal | None
    paper: bytes


def read_in(project: Project, upload: IO[bytes], *, acting: User, **said: Any) -> Pattern:
    """Read the file, check the drawing and store both as the project's current version.

    The file is read and checked before anything is written, so a file that cannot be read
    leaves no trace. Sending the same file twice gives the same version. `said` and what is
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
    """Store what was read as the current version. Raises Refused where a rule speaks by now."""
    return _store(ahead.fresh, ahead.data, ahead.metal, ahead.paper, acting=acting)


def require_allowed(project: Project, metal: Metal | None) -> None:
    if metal is not None and not project.brief.metals.filter(pk=metal.pk).exists():
        raise Refused("The brief does not allow that metal.")


def _store(
    fresh: Pattern, data: bytes, metal: Metal | None, paper: bytes, *, acting: User
) -> Pattern:
    try:
        with transaction.atomic():
            take_the_project(fresh.project, metal=metal)
            return add_version(
                fresh,
                data,
                acting=acting,
                verb="pattern-uploaded",
                words=lambda number: f"uploaded pattern {number} ({fresh.file_name})",
                paper=paper,
            )
    except BaseException:
        drop_files(fresh)
        raise


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
