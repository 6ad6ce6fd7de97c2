"""A pattern file whose size is not known yet: kept for its student until one question is answered.

The question is "size" (a picture: what tells how large it is?) or "unit" (a drawing: what is one
unit of it?). Nothing becomes a pattern before it is answered.
"""

from __future__ import annotations

from typing import Any

from classroom.files.waiting_files import content_of, let_go, set_aside
from classroom.models import User, WaitingFile
from studio.core.reading import (
    ASK,
    Asked,
    AsksUnit,
    PatternError,
    Reference,
    TurnedDown,
    Unread,
    Upload,
)
from studio.core.reading.showing import Shown, shown_small
from studio.core.reading.uploads import require_picture
from studio.models import Pattern, Project

from .read_in import ReadAhead, Typed, keep_read, read_ahead
from .versions import require_open


def picture_to_mark(upload: Upload) -> Shown | TurnedDown:
    """The small picture in which something is marked; slow, so it is made ahead, by a worker."""
    try:
        require_picture(upload)
        return shown_small(upload.data, upload.kind)
    except PatternError as why:
        return TurnedDown(why)


def ask_for_size(
    project: Project, upload: Upload, typed: Typed, shown: Shown, *, acting: User, why: str = ""
) -> WaitingFile:
    """Keep a picture until its size is known; `shown` is what `picture_to_mark` made of it."""
    size = [shown.width, shown.height]
    known = {"question": "size", "why": why, "picture": size}
    return _wait(project, upload, typed, known, shown.jpeg, acting=acting)


def ask_for_unit(
    project: Project, upload: Upload, typed: Typed, asks: AsksUnit, *, acting: User
) -> WaitingFile:
    """Keep a drawing until its unit is known; how large it is, is kept in its own units."""
    known = {"question": "unit", "units": [asks.why.width, asks.why.height]}
    return _wait(project, upload, typed, known, acting=acting)


def _wait(
    project: Project,
    upload: Upload,
    typed: Typed,
    known: dict[str, Any],
    shown: bytes = b"",
    *,
    acting: User,
) -> WaitingFile:
    require_open(project)
    known = {**typed.to_json(), **known}
    return set_aside(acting, project, upload.data, file_name=upload.name, shown=shown, known=known)


def answer_ahead(
    project: Project,
    waiting: WaitingFile,
    *,
    width_mm: float | None = None,
    dpi: float | None = None,
    reference: Reference | None = None,
    unit: str = ASK,
) -> ReadAhead | Unread:
    """Read the waiting file with the answer, as `read_ahead` does; nothing is written.

    Raises Refused as that does, and FileNotFoundError.
    """
    asked = Asked(waiting.file_name, width_mm, dpi, None, reference, unit)
    return read_ahead(project, Upload(content_of(waiting), asked), Typed.of(waiting))


def keep_answered(ahead: ReadAhead, waiting: WaitingFile, *, acting: User) -> Pattern:
    """The pattern that was read with the answer; the file waits no longer. May raise Refused."""
    pattern = keep_read(ahead, acting=acting)
    let_go(waiting)
    return pattern
