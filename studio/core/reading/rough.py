"""What every reader returns before tidying: lines without ids, as found in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from studio.core.drawing import Finding

from .tracing import Round, Source

ASK = "ask"
"""Instead of a unit: rather ask than guess."""


@dataclass(frozen=True, slots=True)
class RoughLine:
    """One line in millimetres, y upwards; `points` has the shape (n, 2).

    `hint` is what the reader takes a line for where the rule would take it for something else:
    "surface" for a line on paper that closes but has no shading, or what the file's own layer or
    name says (`labels`), else empty. `layer` is the file's own layer, where it has layers.
    """

    points: NDArray[np.float64]
    closed: bool
    round: Round | None = None
    element: str = ""
    name: str = ""
    hint: str = ""
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Rough:
    """All that one reader found in one file.

    `paper` is a small JPEG of the sheet for pictures (`scan.paper`), else empty.
    """

    source: Source
    lines: list[RoughLine]
    findings: list[Finding]
    paper: bytes = b""


@dataclass(frozen=True, slots=True)
class Reference:
    """A thing of known size in a picture, as the student marked it.

    `kind` is "length" (two points, `width_mm` apart), "coin" (three or more points on its rim,
    `width_mm` across) or "card" (its four corners; `width_mm` along the longer side). `points`
    are dots of the upright picture, x to the right and y down.
    """

    kind: str
    points: tuple[tuple[float, float], ...]
    width_mm: float
    height_mm: float = 0.0

    def to_json(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "points": [list(point) for point in self.points],
            "width_mm": self.width_mm,
            "height_mm": self.height_mm,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(
            str(data["kind"]),
            tuple((float(x), float(y)) for x, y in data["points"]),
            float(data["width_mm"]),
            float(data.get("height_mm", 0.0)),
        )


@dataclass(frozen=True, slots=True)
class Asked:
    """What the person who uploads a file says about it.

    `unit` ("mm", "cm", "m", "in", "ft") is one unit of a drawing whose file names none; `ASK`
    refuses such a drawing with `UnitUnknown`, and None takes it for millimetres with a caution.
    """

    filename: str = ""
    width_mm: float | None = None
    dpi: float | None = None
    frame: str | None = None
    reference: Reference | None = None
    unit: str | None = None

    def to_json(self) -> dict[str, Any]:
        return {
            "filename": self.filename,
            "width_mm": self.width_mm,
            "dpi": self.dpi,
            "frame": self.frame,
            "reference": None if self.reference is None else self.reference.to_json(),
            "unit": self.unit,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        given = data["reference"]
        return cls(
            data["filename"],
            data["width_mm"],
            data["dpi"],
            data["frame"],
            None if given is None else Reference.from_json(given),
            data["unit"],
        )
