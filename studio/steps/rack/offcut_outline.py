"""Which outline of metal does an uploaded drawing show? For offcuts too odd to be typed in.

The same strict reader takes it as takes a student's pattern. What is a window in the drawing is
a window in the metal, and so is every drilled hole; lines on the metal's surface do not matter.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import Polygon

from classroom.refusals import Refused
from inventory.rack.outlines import checked_outline
from studio.core.drawing import Finding, Weight
from studio.core.reading import (
    Label,
    PatternError,
    Read,
    TurnedDown,
    Unread,
    Upload,
    assemble,
    read_upload,
)
from studio.core.reading.bounds import MAX_BYTES

_HOLES = (Label.RING, Label.RIVET)


class OutlineNotClear(Refused):
    """The drawing has stops; `findings` are all of them, each with its point."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        self.findings = findings
        super().__init__("The outline is not clear yet. Mend what stands below and upload again.")


@dataclass(frozen=True, slots=True)
class DrawnOutline:
    """One piece of metal as drawn: outline with windows in mm, where its size came from."""

    outline: Polygon
    scale_from: str
    cautions: tuple[Finding, ...]


def read_outline(upload: Upload) -> DrawnOutline | Unread:
    """Read the one piece of metal that the file shows, or say why it cannot be read at all.

    Raises OutlineNotClear (it has stops) or Refused (it shows no piece or several, or none that
    a rack can hold).
    """
    if len(upload.data) > MAX_BYTES:
        return TurnedDown(
            PatternError(
                "file-too-large",
                f"This file is larger than {MAX_BYTES // 1_000_000} MB.",
                "Save only the outline, without pictures and hidden layers.",
            )
        )
    found = read_upload(upload)
    if not isinstance(found, Read):
        return found
    tracing = found.tracing
    drilled = {
        line: str(Label.WINDOW)
        for line, label in assemble(tracing).labels.items()
        if label in _HOLES
    }
    assembly = assemble(tracing, drilled)
    findings = (*tracing.findings, *assembly.findings)
    stops = tuple(finding for finding in findings if finding.weight is Weight.STOP)
    if stops:
        raise OutlineNotClear(stops)
    pieces = assembly.drawing.pieces
    if len(pieces) != 1:
        count = "no closed outline" if not pieces else f"{len(pieces)} separate outlines"
        raise Refused(
            f"The drawing shows {count}: upload one piece of metal at a time, its outline closed."
        )
    return DrawnOutline(
        outline=checked_outline(pieces[0].outline),
        scale_from=tracing.source.scale_from,
        cautions=tuple(finding for finding in findings if finding.weight is Weight.CAUTION),
    )
