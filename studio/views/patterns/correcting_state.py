"""Everything that the correcting page shows of a pattern, for its template and for its script.

Millimetres, y upwards, numbered as the server knows them; the script turns y over itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.template.loader import render_to_string
from django.urls import reverse

from classroom.figures.units import Units
from classroom.models import School
from studio.core.correcting import Gap, gaps
from studio.core.reading import LABEL_WORDS, Label, Line, assemble
from studio.models import Pattern
from studio.steps.patterns.correct import version_of
from studio.steps.patterns.sheet_picture import has_paper

from .findings import FindingList, counted, exact_length, numbered, tally
from .lines import line_rows
from .picture import box_of, number
from .picture_points import place_points

PLACES = 4  # of a point's millimetres on their way to the script: a tenth of a micrometre


@dataclass(frozen=True, slots=True)
class Correcting:
    """A pattern as it stands: lines, what each is taken for, gaps, and the findings."""

    pattern: Pattern
    school: School
    lines: tuple[Line, ...]
    labels: Mapping[str, str]
    gaps: tuple[Gap, ...]
    findings: FindingList

    @classmethod
    def of(cls, pattern: Pattern, school: School) -> Correcting:
        traced = pattern.traced
        found = assemble(traced, pattern.relabels)
        labels = {line: str(label) for line, label in found.labels.items()}
        return cls(
            pattern,
            school,
            traced.lines,
            labels,
            gaps(traced, labels),
            numbered(pattern.findings, school),
        )

    @property
    def box(self) -> tuple[float, float, float, float]:
        return box_of(self.pattern.drawing, self.lines, self.findings)

    @property
    def rows(self) -> list[dict[str, Any]]:
        return line_rows(self.lines, self.labels, self.pattern.relabels, self.school)

    def line(self, line_id: str | None) -> Line | None:
        return next((line for line in self.lines if line.id == line_id), None)


def whole_state(now: Correcting) -> dict[str, Any]:
    """For the script that begins with nothing."""
    return _common(now) | {"lines": _lines(now), "all": True}


def state_after(now: Correcting, before: Mapping[str, Line]) -> dict[str, Any]:
    """For the script that knows the lines `before`: those that are other now, all labels."""
    fresh = [line for line in now.lines if before.get(line.id) != line]
    gone = sorted(before.keys() - {line.id for line in now.lines})
    return _common(now) | {
        "lines": _lines(now, {line.id for line in fresh}),
        "gone": gone,
        "all": False,
    }


def undone(before: list[dict[str, Any]], pattern: Pattern) -> list[dict[str, Any]]:
    """The changes that an undo has taken off, for a page that offers to do them again."""
    return before[len(pattern.changes) :]


def _common(now: Correcting) -> dict[str, Any]:
    pattern = now.pattern
    found = tally(pattern.findings)
    return {
        "version": version_of(pattern),
        "count": len(pattern.changes),
        "urls": {
            "page": reverse("pattern_correct", args=[pattern.pk]),
            "change": reverse("pattern_change", args=[pattern.pk]),
            "undo": reverse("pattern_undo", args=[pattern.pk]),
            "back": reverse("pattern", args=[pattern.pk]),
        },
        "labels": {
            row["id"]: {"label": row["label"], "now": row["is_now"], "looks": row["looks"]}
            for row in now.rows
        },
        "gaps": [_gap(gap, now.school) for gap in now.gaps],
        "points": _points(now),
        "findings": render_to_string(
            "studio/patterns/finding/findings.html", {"findings": now.findings, "empty_text": ""}
        ),
        "tally": found,
        "summary": counted(found),
    }


def _lines(now: Correcting, wanted: set[str] | None = None) -> list[dict[str, Any]]:
    return [
        {
            "id": line.id,
            "points": [[round(x, PLACES), round(y, PLACES)] for x, y in line.points],
            "closed": line.closed,
            "round": None
            if line.round is None
            else [line.round.x_mm, line.round.y_mm, line.round.diameter_mm],
        }
        for line in now.lines
        if wanted is None or line.id in wanted
    ]


def _gap(gap: Gap, school: School) -> dict[str, Any]:
    return gap_row(gap, school) | {"at": gap.at, "to": gap.to}


def gap_row(gap: Gap, school: School) -> dict[str, Any]:
    own = gap.line == gap.other
    where = f"in line {gap.line}" if own else f"between lines {gap.line} and {gap.other}"
    return {
        "ends": f"{gap.line}|{gap.end}|{gap.other}|{gap.other_end}",
        "words": f"{exact_length(gap.width_mm, school)} {where}",
        "x": number(gap.at[0]),
        "y": number(-gap.at[1]),
        "to_x": number(gap.to[0]),
        "to_y": number(-gap.to[1]),
    }


def _points(now: Correcting) -> list[dict[str, Any]]:
    box = now.box
    span = max(box[2] - box[0], box[3] - box[1])
    return [
        {
            "number": point.number,
            "weight": point.weight,
            "x": float(point.x),
            "y": float(point.y),
            "r": float(point.r),
            "dot_x": float(point.dot_x),
            "dot_y": float(point.dot_y),
        }
        for point in place_points(now.findings, box, span)
    ]


def sheet_of(pattern: Pattern) -> dict[str, str] | None:
    """Where the picture of the sheet lies under the lines; None for a drawing file."""
    source = pattern.tracing["source"]
    wide, high = float(source["width_mm"]), float(source["height_mm"])
    if not (wide > 0 and high > 0) or not has_paper(pattern):
        return None
    return {
        "url": reverse("pattern_paper", args=[pattern.pk]),
        "x": "0",
        "y": number(-high),
        "width": number(wide),
        "height": number(high),
    }


def unit_words(school: School) -> dict[str, Any]:
    """How the script shows lengths: name, millimetres in one, decimals, and the small step."""
    if Units(school.units) is Units.MM:
        return {"name": "mm", "mm": 1.0, "places": 2, "step": 0.1}
    return {"name": "in", "mm": 25.4, "places": 4, "step": 0.127}


LABEL_NAMES = {str(label): words for label, words in LABEL_WORDS.items() if label is not Label.OPEN}
