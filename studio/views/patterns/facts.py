"""What was recognised in a pattern: pieces, windows, drill marks, surface lines, in numbers."""

from __future__ import annotations

from collections import Counter
from typing import Any

from classroom.figures.rounding import drill_size, short_mm
from classroom.figures.units import Units, format_length
from classroom.models import School
from inventory.metals import drill_nearest
from studio.core.drawing import Drawing, DrillKind
from studio.models import Pattern

_KIND_WORDS = {
    DrillKind.RING: "for a ring",
    DrillKind.RIVET: "for a rivet or as an ornament",
    DrillKind.PILOT: "pilot hole for the saw blade",
}
_SCALES = {
    "option": "from the width that was typed",
    "unit": "from the unit that was named",
    "resolution": "from the resolution that was typed",
    "frame": "from the capture frame in the photo",
    "reference": "from the thing of known size in the photo",
}
MOST_ROWS = 30
"""Rows of pieces or kinds of drill marks shown; what is beyond is counted."""


def facts_of(pattern: Pattern, school: School) -> dict[str, Any]:
    """Sizes in the school's units; areas in mm2 for the template's own tags."""
    drawing = pattern.drawing
    units = Units(school.units)
    x0, y0, x1, y1 = drawing.bounds_mm
    return {
        "width": format_length(x1 - x0, units),
        "height": format_length(y1 - y0, units),
        "has_pieces": bool(drawing.pieces),
        "pieces": [
            {
                "id": piece.id,
                "width": format_length(piece.size_mm[0], units),
                "height": format_length(piece.size_mm[1], units),
                "area_mm2": piece.area_mm2,
                "windows": len(piece.outline.interiors),
                "drill_marks": len(piece.drill_marks),
                "surface_lines": len(piece.surface_lines),
            }
            for piece in drawing.pieces[:MOST_ROWS]
        ],
        "more_pieces": max(0, len(drawing.pieces) - MOST_ROWS),
        "piece_count": len(drawing.pieces),
        "window_count": drawing.window_count,
        "surface_count": sum(len(piece.surface_lines) for piece in drawing.pieces),
        "drills": _drills(drawing, units),
        "saw_line": format_length(drawing.saw_line_mm, units, places=0),
        "area_mm2": drawing.area_mm2,
        "mass_g": pattern.project.metal.mass_g(drawing.area_mm2 * pattern.copies)
        if pattern.project.metal
        else None,
        "scale_from": _scale_words(pattern),
    }


def _drills(drawing: Drawing, units: Units) -> list[dict[str, Any]]:
    marks = Counter(
        (drill_size(mark.diameter_mm), mark.kind)
        for piece in drawing.pieces
        for mark in piece.drill_marks
    )
    return [
        {
            "count": count,
            "diameter": _diameter(diameter, units),
            "kind": _KIND_WORDS[kind],
            "drill": drill_nearest(diameter).drill.label,
        }
        for (diameter, kind), count in sorted(marks.items())[:MOST_ROWS]
    ]


def _diameter(mm: float, units: Units) -> str:
    if units is Units.MM:
        return f"{short_mm(mm)} mm"
    return format_length(mm, Units.INCH_DECIMAL)


def _scale_words(pattern: Pattern) -> str:
    if pattern.width_mm is not None:
        return "from the width that was typed"
    return _SCALES.get(pattern.tracing["source"]["scale_from"], "from the file")
