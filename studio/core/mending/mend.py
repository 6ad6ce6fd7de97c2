"""What an offer to neaten a drawing consists of."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Final

from studio.core.correcting import Redraw, change_to_json
from studio.core.reading.tracing import Point

STRAIGHT: Final = "straight"
SQUARE: Final = "square"
PARALLEL: Final = "parallel"
CIRCLE: Final = "circle"
ELLIPSE: Final = "ellipse"
SYMMETRIC: Final = "symmetric"
SMOOTH: Final = "smooth"

CODES: Final = (STRAIGHT, SQUARE, PARALLEL, CIRCLE, ELLIPSE, SYMMETRIC, SMOOTH)


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line as the picture shows it; a closed one does not repeat its first point."""

    line: str
    points: tuple[Point, ...]
    closed: bool


@dataclass(frozen=True, slots=True)
class Mend:
    """One thing that could be drawn more neatly, and how.

    `lines` are the ids of the lines that are neatened (neighbours that follow are in `changes`
    only). `moved_mm` is the furthest that any point of them moves, at `at`; `deed` says in a
    few words what the button does and `done` what the history says of it.
    """

    code: str
    lines: tuple[str, ...]
    sentence: str
    deed: str
    done: str
    moved_mm: float
    at: Point
    changes: tuple[Redraw, ...]
    before: tuple[Stroke, ...]
    after: tuple[Stroke, ...]

    @property
    def key(self) -> str:
        """A name that stays the same as long as the very same mend is offered."""
        told = json.dumps(
            [self.code, *self.lines, *(change_to_json(change) for change in self.changes)],
            sort_keys=True,
        )
        return hashlib.sha256(told.encode()).hexdigest()[:16]
