"""A brief with one metal, and small SVG patterns of known size, for tests of the pattern's way."""

from __future__ import annotations

import datetime as dt
import html
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from classroom.models import Seat
from inventory.models import Metal
from studio.core.reading import ASK, Asked, Upload
from studio.models import Brief, Pattern, Project
from studio.steps.briefs.write import write_brief
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.read_in import read_in
from studio.steps.patterns.start_project import start_project
from tests.people import Cast


def svg(body: str, width: float = 60, height: float = 40) -> bytes:
    """A page of that many millimetres with black lines."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}"><g fill="none" stroke="black">{body}</g></svg>'
    ).encode()


DISC = svg('<circle cx="20" cy="20" r="15"/><circle cx="20" cy="8.4" r="0.8"/>')
"""30 mm across with a hole for a ring, no finding at all."""
RINGED = svg('<circle cx="20" cy="20" r="15"/><circle cx="20" cy="20" r="1.5"/>')
"""30 mm across with a circle of 3 mm in its middle: read as a rivet hole, could be a window."""
BAR = svg('<path d="M5 5H45V25H5Z"/><path d="M10 15H30"/>')
"""40 by 20 mm with one surface line."""
THIN = svg(
    '<path d="M5 5H45V25H5Z"/><rect x="8" y="10" width="8" height="8" rx="2"/>'
    '<rect x="17" y="10" width="8" height="8" rx="2"/>'
)
"""Two windows with a bridge of 1 mm between them: a stop under a limit of 2 mm."""
LARGE = svg('<circle cx="40" cy="40" r="35"/>', 80, 80)
"""70 mm across: too large for a brief of 60 mm."""
OPEN = svg('<path d="M5 5H45V25H5"/>')
"""One open line and no piece."""


def make_metal(cast: Cast, code: str = "C11000", thickness: str = "0.812") -> Metal:
    return Metal.objects.create(
        school=cast.school, alloy_code=code, thickness_mm=Decimal(thickness)
    )


def make_brief(cast: Cast, *metals: Metal, **other: Any) -> Brief:
    brief = Brief(
        course=cast.course,
        title="Harbour pendant",
        allowance=Decimal("6.00"),
        due_on=dt.date(2026, 12, 11),
        **other,
    )
    return write_brief(brief, metals or [make_metal(cast)], acting=cast.teacher)


def make_project(cast: Cast, brief: Brief | None = None, seat: Seat | None = None) -> Project:
    own = seat or cast.seat
    return start_project(brief or make_brief(cast), own, acting=own.student)


def bring(project: Project, data: bytes = DISC, **options: Any) -> Pattern:
    """The project's student uploads the file."""
    typed = {name: options.pop(name) for name in ("copies", "metal") if name in options}
    said = Asked(**({"filename": "disc.svg", "unit": ASK} | options))
    return read_in(project, Upload.taken(BytesIO(data), said), acting=project.student, **typed)


def handed_in(project: Project, data: bytes = DISC) -> Pattern:
    pattern = bring(project, data)
    hand_in(pattern, acting=project.student)
    pattern.refresh_from_db()
    return pattern


def mine(pattern: Pattern) -> Pattern:
    """The same version, freshly asked for: as a window of its own has it."""
    return Pattern.objects.select_related("project__brief__course", "project__metal").get(
        pk=pattern.pk
    )


def upload(data: bytes = DISC, name: str = "disc.svg", **typed: Any) -> dict[str, Any]:
    """What the upload form posts."""
    file = SimpleUploadedFile(name, data, content_type="image/svg+xml")
    return {"file": file, "copies": "1", "width_mm": "", **typed}


def fresh(project: Project) -> Project:
    return Project.objects.get(pk=project.pk)


def words(answer: Any) -> str:
    """The page as one line of plain text, tags left in, spaces and entities made simple."""
    return html.unescape(" ".join(answer.content.decode().split()))


def files_in(folder: Path) -> list[Path]:
    """Every file that is kept there, at any depth."""
    return [path for path in folder.rglob("*") if path.is_file()]
