"""The lines of a pattern as a list: what each looks like, what it was taken for, what it may be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from classroom.figures.units import Units, format_length
from classroom.models import School
from studio.core.reading import LABEL_WORDS, Label, Line, assemble
from studio.models import Pattern


def read_lines(pattern: Pattern) -> tuple[tuple[Line, ...], dict[str, str]]:
    """The lines as corrected, and by line id what each is taken for with the student's names."""
    tracing = pattern.traced
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


LAYER_CHOICES = [
    ("read", "as they were read"),
    (str(Label.SURFACE), LABEL_WORDS[Label.SURFACE]),
    (str(Label.IGNORE), LABEL_WORDS[Label.IGNORE]),
]
"""What may be said of all lines of a layer at once."""


def layer_rows(lines: Sequence[Line], labels: Mapping[str, str]) -> list[dict[str, Any]]:
    """One row for each layer of the file, in its order; none where there are not several."""
    layers: dict[str, list[Line]] = {}
    for line in lines:
        layers.setdefault(line.layer, []).append(line)
    if len(layers) < 2:
        return []
    rows = []
    for number, (name, members) in enumerate(layers.items()):
        out = sum(labels.get(line.id) == Label.IGNORE for line in members)
        row = {"number": number, "name": name or "(no name)", "count": len(members), "out": out}
        rows.append(row)
    return rows


def labels_of_layers(lines: Sequence[Line], wanted: Mapping[str, str]) -> dict[str, str]:
    """Line id to label, from layer number to choice; "" and unknown layers change nothing."""
    layers = list(dict.fromkeys(line.layer for line in lines))
    found: dict[str, str] = {}
    for number, layer in enumerate(layers):
        choice = wanted.get(str(number), "")
        if choice in dict(LAYER_CHOICES):
            label = "" if choice == "read" else choice
            found |= {line.id: label for line in lines if line.layer == layer}
    return found


def _looks(line: Line, units: Units) -> str:
    if line.round is not None:
        fine = Units.MM if units is Units.MM else Units.INCH_DECIMAL
        return f"circle, {format_length(line.round.diameter_mm, fine, places=2)} across"
    xs, ys = zip(*line.points, strict=True)
    width, height = max(xs) - min(xs), max(ys) - min(ys)
    size = f"{format_length(width, units)} × {format_length(height, units)}"
    return f"{'closed' if line.closed else 'open'} line, {size}"
