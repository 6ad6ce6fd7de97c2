"""A pattern file whose size is not known yet: kept for its student until one question is answered.

The question is "size" (a picture: what tells how large it is?) or "unit" (a drawing: what is one
unit of it?). Nothing becomes a pattern before it is answered.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import Any

from classroom.files.waiting_files import content_of, let_go, set_aside
from classroom.models import User, WaitingFile
from inventory.models import Metal
from studio.core.reading import ASK, PatternError, Reference
from studio.core.reading.showing import Shown, shown_small
from studio.core.reading.sources import PICTURES, check_bytes, kind_of
from studio.models import Pattern, Project

from .read_in import ReadAhead, keep_read, plain_name, read_ahead
from .versions import require_open

ASKS_FOR_SIZE = frozenset(
    {
        "size-unknown",
        "frame-missing",
        "frame-hidden",
        "frame-odd",
        "photo-coarse",
        "picture-size",
        "scan-coarse",
    }
)
"""Refusals of a picture that another answer about its size mends."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What the student said with the file; it comes along to the answer."""

    copies: int = 1
    metal: Metal | None = None

    def to_json(self) -> dict[str, Any]:
        return {"copies": self.copies, "metal": None if self.metal is None else self.metal.pk}

    @classmethod
    def of(cls, waiting: WaitingFile) -> Typed:
        metal = Metal.objects.filter(pk=waiting.known.get("metal")).first()
        return cls(int(waiting.known.get("copies", 1)), metal)


def require_picture(data: bytes, filename: str) -> None:
    """Quickly, by its first bytes. Raises PatternError for what is no picture."""
    name = plain_name(filename)
    check_bytes(data, name)
    if kind_of(data, name) not in PICTURES:
        raise PatternError(
            "no-picture",
            "Only in a scan or photo something can be marked.",
            "Leave that choice empty for a drawing.",
        )


def picture_to_mark(data: bytes, filename: str) -> Shown:
    """The small picture in which something is marked; slow, so it is made ahead, by a worker."""
    require_picture(data, filename)
    return shown_small(data, kind_of(data, plain_name(filename)))


def ask_for_size(
    project: Project,
    data: bytes,
    filename: str,
    shown: Shown,
    typed: Typed,
    *,
    acting: User,
    why: str = "",
) -> WaitingFile:
    """Keep a picture until its size is known; `shown` is what `picture_to_mark` made of it."""
    require_open(project)
    size = [shown.width, shown.height]
    known = {**typed.to_json(), "question": "size", "why": why, "picture": size}
    name = plain_name(filename)
    return set_aside(acting, project, data, file_name=name, shown=shown.jpeg, known=known)


def ask_for_unit(
    project: Project,
    data: bytes,
    filename: str,
    typed: Typed,
    size: tuple[float, float],
    *,
    acting: User,
) -> WaitingFile:
    """Keep a drawing until its unit is known; `size` is in its own units."""
    require_open(project)
    known = {**typed.to_json(), "question": "unit", "units": list(size)}
    return set_aside(acting, project, data, file_name=plain_name(filename), known=known)


def answer_ahead(
    project: Project,
    waiting: WaitingFile,
    *,
    width_mm: float | None = None,
    dpi: float | None = None,
    reference: Reference | None = None,
    unit: str = ASK,
) -> ReadAhead:
    """Read the waiting file with the answer, as `read_ahead` does; nothing is written.

    Raises PatternError and Refused as that does, and FileNotFoundError.
    """
    typed = Typed.of(waiting)
    return read_ahead(
        project,
        BytesIO(content_of(waiting)),
        filename=waiting.file_name,
        width_mm=width_mm,
        dpi=dpi,
        reference=reference,
        unit=unit,
        copies=typed.copies,
        metal=typed.metal,
    )


def keep_answered(ahead: ReadAhead, waiting: WaitingFile, *, acting: User) -> Pattern:
    """The pattern that was read with the answer; the file waits no longer. May raise Refused."""
    pattern = keep_read(ahead, acting=acting)
    let_go(waiting)
    return pattern
