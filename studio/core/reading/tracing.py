"""What a reader hands over: the lines of a file in millimetres, before anything is recognised.

A tracing is stored with the pattern's version, so it goes to JSON and back without change,
and a student's re-labels name its lines by id.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Self

from shapely.geometry import LinearRing, LineString, Polygon

from studio.core.drawing import Finding

Point = tuple[float, float]

TRACING_VERSION = 1


@dataclass(frozen=True, slots=True)
class Round:
    """A line that is a circle: centre and diameter in millimetres."""

    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the drawing in millimetres, y upwards.

    `id` is "1", "2", ... in the order of the file. A closed line does not repeat its first
    point. `round` is there when the line is a circle; `element` says what it was in the file
    ("path", "circle", ...) and `name` what the file calls it, if anything. `hint` is "surface"
    when a closed line of a picture has no shading, so that it is no window. `layer` is the
    file's own layer, where it has layers.
    """

    id: str
    points: tuple[Point, ...]
    closed: bool
    round: Round | None = None
    element: str = ""
    name: str = ""
    hint: str = ""
    layer: str = ""

    @property
    def polygon(self) -> Polygon:
        """The area inside a closed line; may be invalid where the line crosses itself."""
        return Polygon(self.points)

    @property
    def linework(self) -> LineString:
        return LinearRing(self.points) if self.closed else LineString(self.points)

    def to_json(self) -> dict[str, Any]:
        circle = self.round
        return {
            "id": self.id,
            "points": [list(point) for point in self.points],
            "closed": self.closed,
            "round": None if circle is None else [circle.x_mm, circle.y_mm, circle.diameter_mm],
            "element": self.element,
            "name": self.name,
            **({"hint": self.hint} if self.hint else {}),
            **({"layer": self.layer} if self.layer else {}),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        circle = data.get("round")
        return cls(
            id=data["id"],
            points=tuple((float(x), float(y)) for x, y in data["points"]),
            closed=bool(data["closed"]),
            round=None if circle is None else Round(*(float(value) for value in circle)),
            element=data.get("element", ""),
            name=data.get("name", ""),
            hint=data.get("hint", ""),
            layer=data.get("layer", ""),
        )


@dataclass(frozen=True, slots=True)
class Source:
    """Where a tracing came from and how its size was known.

    `scale_from`: "file" (the file's own units), "option" (a width was given), "unit" (a
    DXF drawing's unit was given), "resolution" (dots per inch were given), "frame" or "reference"
    (photos). `width_mm` and `height_mm` are
    those of the page or picture.
    """

    kind: str
    units: str
    scale_from: str
    width_mm: float = 0.0
    height_mm: float = 0.0

    def to_json(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "units": self.units,
            "scale_from": self.scale_from,
            "width_mm": self.width_mm,
            "height_mm": self.height_mm,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(
            data["kind"], data["units"], data["scale_from"], data["width_mm"], data["height_mm"]
        )


@dataclass(frozen=True, slots=True)
class Tracing:
    """All lines of one file, with what the reader had to say about it.

    `paper` is a small picture of the sheet as it was read, where there is one; it is kept beside
    the file and not with the lines.
    """

    source: Source
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...] = field(default=())
    paper: bytes = field(default=b"", compare=False, repr=False)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y; zeros when there are no lines."""
        xs = [x for line in self.lines for x, _ in line.points]
        ys = [y for line in self.lines for _, y in line.points]
        if not xs:
            return 0.0, 0.0, 0.0, 0.0
        return min(xs), min(ys), max(xs), max(ys)

    def to_json(self) -> dict[str, Any]:
        return {
            "version": TRACING_VERSION,
            "source": self.source.to_json(),
            "lines": [line.to_json() for line in self.lines],
            "findings": [finding.to_json() for finding in self.findings],
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(
            source=Source.from_json(data["source"]),
            lines=tuple(Line.from_json(line) for line in data["lines"]),
            findings=tuple(Finding.from_json(finding) for finding in data["findings"]),
        )


def gap(a: Point, b: Point) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])
