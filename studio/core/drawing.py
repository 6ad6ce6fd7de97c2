"""What a pattern is once it has been read: pieces with windows, drill marks and surface lines.

Everything here is in millimetres with y pointing up, frozen, and free of Django. Readers
(`studio.core.reading`) make drawings; checking, placing, pricing and printing take them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Self

from shapely import wkt
from shapely.geometry import LineString, Point, Polygon

from classroom.figures.rounding import told_mm

FLATTENING_TOLERANCE_MM = 0.02
"""No flattened point lies further than this from the true curve."""


class DrillKind(StrEnum):
    """What a drilled hole is for."""

    RING = "ring"  # takes a jump ring or an ear wire, near an edge
    RIVET = "rivet"  # takes a rivet, or is an ornament
    PILOT = "pilot"  # inside a window: the saw blade is threaded through it


class Weight(StrEnum):
    """How heavily a finding weighs: a stop blocks handing in, a caution does not."""

    STOP = "stop"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True)
class DrillMark:
    """A round hole made by a drill; centre and diameter in millimetres."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    kind: DrillKind

    @property
    def centre(self) -> Point:
        return Point(self.x_mm, self.y_mm)

    def to_json(self) -> dict[str, Any]:
        return {
            "x_mm": self.x_mm,
            "y_mm": self.y_mm,
            "diameter_mm": self.diameter_mm,
            "kind": str(self.kind),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(data["x_mm"], data["y_mm"], data["diameter_mm"], DrillKind(data["kind"]))


@dataclass(frozen=True, slots=True)
class Piece:
    """One closed outline that is sawn out and kept.

    `outline` is a valid polygon: its shell is the outer saw line, its holes are the windows.
    Drill marks are not holes of the polygon; surface lines are never sawn.
    """

    id: str
    outline: Polygon
    drill_marks: tuple[DrillMark, ...] = ()
    surface_lines: tuple[LineString, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Metal kept in the piece: outline less windows (drilled holes are not subtracted)."""
        return float(self.outline.area)

    @property
    def saw_line_mm(self) -> float:
        """Length of shell and windows together, nothing shared and no free edge."""
        return float(self.outline.length)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the upright box around the piece."""
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0

    def to_json(self) -> dict[str, Any]:
        return {
            "id": self.id,
            "outline": wkt.dumps(self.outline, rounding_precision=6, trim=True),
            "drill_marks": [mark.to_json() for mark in self.drill_marks],
            "surface_lines": [
                wkt.dumps(line, rounding_precision=6, trim=True) for line in self.surface_lines
            ],
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(
            id=data["id"],
            outline=_polygon(data["outline"]),
            drill_marks=tuple(DrillMark.from_json(mark) for mark in data["drill_marks"]),
            surface_lines=tuple(_line(line) for line in data["surface_lines"]),
        )


def _polygon(text: str) -> Polygon:
    shape = wkt.loads(text)
    if not isinstance(shape, Polygon):
        raise TypeError(f"an outline is a polygon, not a {shape.geom_type}")
    return shape


def _line(text: str) -> LineString:
    shape = wkt.loads(text)
    if not isinstance(shape, LineString):
        raise TypeError(f"a surface line is a line, not a {shape.geom_type}")
    return shape


@dataclass(frozen=True, slots=True)
class Drawing:
    """All pieces read out of one pattern."""

    pieces: tuple[Piece, ...]

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y over all pieces; zeros when there are none."""
        if not self.pieces:
            return 0.0, 0.0, 0.0, 0.0
        boxes = [piece.outline.bounds for piece in self.pieces]
        x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
        x1, y1 = max(box[2] for box in boxes), max(box[3] for box in boxes)
        return x0, y0, x1, y1

    @property
    def area_mm2(self) -> float:
        return sum(piece.area_mm2 for piece in self.pieces)

    @property
    def saw_line_mm(self) -> float:
        return sum(piece.saw_line_mm for piece in self.pieces)

    @property
    def hole_count(self) -> int:
        """Holes that a drill makes: every drill mark, and a pilot for each unmarked window."""
        return sum(
            len(piece.drill_marks) + len(windows_without_pilot(piece)) for piece in self.pieces
        )

    @property
    def window_count(self) -> int:
        return sum(len(piece.outline.interiors) for piece in self.pieces)

    def to_json(self) -> list[dict[str, Any]]:
        return [piece.to_json() for piece in self.pieces]

    @classmethod
    def from_json(cls, data: list[dict[str, Any]]) -> Self:
        return cls(tuple(Piece.from_json(piece) for piece in data))


def windows_without_pilot(piece: Piece) -> tuple[Polygon, ...]:
    """The piece's windows in which no drill mark lies, each as a polygon of its own."""
    windows = (Polygon(ring) for ring in piece.outline.interiors)
    return tuple(
        window
        for window in windows
        if not any(window.contains(mark.centre) for mark in piece.drill_marks)
    )


@dataclass(frozen=True, slots=True)
class Finding:
    """One remark of the reader or the pattern check.

    `code` is a short kebab-case name that never changes; `at` is a point in the drawing's
    millimetres, to be drawn on the student's own picture; `value_mm` and `limit_mm` are the
    measured value and the limit where there are any; `message` says what is wrong and `mend`
    how to put it right, in words a 14-year-old understands.
    """

    code: str
    weight: Weight
    message: str
    mend: str
    piece: str | None = None
    at: tuple[float, float] | None = None
    value_mm: float | None = None
    limit_mm: float | None = None

    def to_json(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "weight": str(self.weight),
            "piece": self.piece,
            "at": None if self.at is None else [round(self.at[0], 3), round(self.at[1], 3)],
            "value_mm": None if self.value_mm is None else round(self.value_mm, 3),
            "limit_mm": None if self.limit_mm is None else round(self.limit_mm, 3),
            "message": self.message,
            "mend": self.mend,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        at = data.get("at")
        return cls(
            code=data["code"],
            weight=Weight(data["weight"]),
            message=_told_alike(data["message"], data.get("value_mm"), data.get("limit_mm")),
            mend=data.get("mend", ""),
            piece=data.get("piece"),
            at=None if at is None else (at[0], at[1]),
            value_mm=data.get("value_mm"),
            limit_mm=data.get("limit_mm"),
        )


def _told_alike(message: str, value_mm: float | None, limit_mm: float | None) -> str:
    """A stored finding's words with its stored value as it is told today.

    Earlier words rounded what was measured, the rows beside them what was stored of it: 1.91 and
    1.92 for one place.
    """
    if value_mm is None:
        return message
    told = told_mm(value_mm, limit_mm)

    def one(found: re.Match[str]) -> str:
        return told if abs(float(found[0]) - value_mm) < _TOLD_OTHERWISE_MM else found[0]

    return _HUNDREDTHS.sub(one, message, count=1)


_HUNDREDTHS = re.compile(r"\d+\.\d\d(?= mm\b)")
_TOLD_OTHERWISE_MM = 0.0061


@dataclass(frozen=True, slots=True)
class Limits:
    """What a drawing is checked against. Millimetres; the brief gives them.

    The defaults are a studio's novice values: common practice, no source.
    """

    max_width_mm: float = 100.0
    max_height_mm: float = 100.0
    least_bridge_mm: float = 2.0  # between two windows
    least_web_mm: float = 2.0  # from a window to the outside
    least_hole_edge_mm: float = 2.0  # edge of a drilled hole to the nearest edge of metal
    least_window_mm: float = 2.0  # across a window: pilot hole and room to turn the blade
    least_inside_radius_mm: float = 0.5  # a corner the blade can turn in without pivoting
    least_holding_mm: float = 10.0  # a smaller piece cannot be held while it is sawn
    kerf_mm: float = 0.3
