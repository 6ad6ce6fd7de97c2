"""The parting cuts of a plan's layout, and the parts that they make, as the table shows them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import shapely
from django.utils.translation import gettext as _
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.units import format_length, length_to_type
from studio.core.cutting import Job, Placement
from studio.core.laying_out.parting import (
    Parts,
    from_edges,
    groups_in,
    half_kerf_mm,
    parts_on,
    runs_in,
)
from studio.core.picturing.colours import marks_of
from studio.core.picturing.plan import labels_of
from studio.forms.layouts.placing import side_words
from studio.models import Layout

PLACES = 4


def parting_state(layout: Layout, placements: Sequence[Placement]) -> dict[str, Any] | None:
    """For script and forms: cuts with their lines, parts with whose they are and their size; None
    for a layout whose metal is not parted. Millimetres, y upwards."""
    job = layout.asked
    if job.parting is None:
        return None
    letters, school = labels_of(job), layout.course.school
    cuts: list[dict[str, Any]] = []
    parts: list[dict[str, Any]] = []
    for metal in job.metal:
        found = parts_on(job, metal.id, layout.parted)
        cuts += [_cut(found, number, school.units) for number in range(len(found.cuts))]
        parts += _parts(job, found, placements, letters, school.units)
    for row in (*cuts, *parts):
        row["on"] = f" ({row['metal']})" if len(job.metal) > 1 else ""
    return {"way": job.parting.way, "cuts": cuts, "parts": parts}


def cut_gap_mm(job: Job) -> float:
    """How far pieces stay from the line of a cut: with the saw that is the middle of the kerf."""
    if job.parting is None:
        return 0.0
    return job.parting.margin_mm + half_kerf_mm(job)


def _cut(found: Parts, number: int, units: str) -> dict[str, Any]:
    """`sides` are what lies on its left and on its right, with how far the part's edge is there."""
    cut = found.cuts[number]
    shape, line = found.shapes.get(cut.part), found.line(number)
    sides = []
    runs: list[list[float]] = []
    if shape is not None and line is not None and not shape.is_empty:
        right, left = from_edges(line, shape)
        x, y = line.left
        for key, way, mm in (("l", 1.0, left), ("r", -1.0, right)):
            words = side_words(way * x, way * y)
            sides.append(
                {
                    "key": key,
                    "words": words,
                    "mm": round(mm, PLACES),
                    "typed": length_to_type(max(0.0, mm), units),
                    "far": format_length(max(0.0, mm), units),
                }
            )
        # a person measures from the left or from below, where the edge is one of these
        sides.sort(key=lambda side: side["words"] not in (_("left edge"), _("lower edge")))
        runs = [_rounded((*start, *end)) for start, end in runs_in(line, shape)]
    return {
        "id": f"{found.metal}|{number}",
        "metal": found.metal,
        "number": number + 1,
        "name": _("cut %(number)s") % {"number": number + 1},
        "line": _rounded((*cut.start, *cut.end)),
        "degrees": round(0.0 if line is None else line.turn_deg % 180.0, 2),
        "part": _polygons(shape),
        "runs": runs,
        "sides": sides,
        "last": found.is_last(number),
    }


def _parts(
    job: Job,
    found: Parts,
    placements: Iterable[Placement],
    letters: dict[str, str],
    units: str,
) -> list[dict[str, Any]]:
    groups, marks = groups_in(job, found, placements), marks_of(job)
    rows = []
    for number, shape in found.leaves.items():
        whose = sorted(groups.get(number, ()), key=lambda group: list(letters).index(group))
        x0, y0, x1, y1 = shape.bounds
        wide, high = format_length(x1 - x0, units), format_length(y1 - y0, units)
        letter = ", ".join(letters[group] for group in whose)
        size = f"{wide} × {high}"
        rows.append(
            {
                "id": f"{found.metal}|{number}",
                "metal": found.metal,
                "part": number,
                "rings": _polygons(shape),
                "groups": whose,
                "letter": letter,
                "name": _("blank of %(student)s") % {"student": letter}
                if letter
                else _("left over"),
                "size": size,
                "wide": length_to_type(x1 - x0, units),
                "high": length_to_type(y1 - y0, units),
                "box": _rounded((x0, y0, x1, y1)),
                "marks": [
                    {"hue": marks[group].hue, "weave": marks[group].weave}
                    for group in whose
                    if group in marks
                ],
            }
        )
    return rows


def _polygons(shape: BaseGeometry | None) -> list[list[list[list[float]]]]:
    """Each polygon's rings, corners once."""
    if shape is None or shape.is_empty:
        return []
    return [
        [_ring(ring.coords) for ring in (part.exterior, *part.interiors)]
        for part in shapely.get_parts(shape)
        if isinstance(part, Polygon)
    ]


def _ring(coords: Iterable[tuple[float, ...]]) -> list[list[float]]:
    points = [_rounded(point[:2]) for point in coords]
    return points[:-1] if len(points) > 1 and points[0] == points[-1] else points


def _rounded(values: Iterable[float]) -> list[float]:
    return [round(value, PLACES) for value in values]
