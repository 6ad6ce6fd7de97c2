"""The lines of a pattern as a list: what each looks like, what it was taken for, what it may be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from classroom.models import School
from classroom.units import Units, format_length
from studio.core.reading import LABEL_WORDS, Label, Line, Tracing, assemble
from studio.models import Pattern


def read_lines(pattern: Pattern) -> tuple[tuple[Line, ...], dict[str, str]]:
    """The tracing's lines, and by line id what each is taken for with the student's names."""
    tracing = Tracing.from_json(pattern.tracing)
    labels = assemble(tracing, pattern.relabels).labels
    return tracing.lines, {line: str(label) for line, label in labels.items()}


def line_rows(
    lines: Sequence[Line],
    labels: Mapping[str, str],
    relabels: Mapping[str, str],
    school: School,
) -> list[dict[str, Any]]:
    """One row for each line: id, looks, what it is now, and the label the student gave."""
    units = Units(school.units)
    return [
        {
            "id": line.id,
            "looks": _looks(line, units),
            "name": line.name,
            "label": labels.get(line.id, ""),
            "is_now": LABEL_WORDS[Label(labels[line.id])] if line.id in labels else "",
            "given": relabels.get(line.id, ""),
            "closed": line.closed,
        }
        for line in lines
    ]


def _looks(line: Line, units: Units) -> str:
    if line.round is not None:
        fine = Units.MM if units is Units.MM else Units.INCH_DECIMAL
        return f"circle, {format_length(line.round.diameter_mm, fine, places=2)} across"
    xs, ys = zip(*line.points, strict=True)
    width, height = max(xs) - min(xs), max(ys) - min(ys)
    size = f"{format_length(width, units)} × {format_length(height, units)}"
    return f"{'closed' if line.closed else 'open'} line, {size}"
