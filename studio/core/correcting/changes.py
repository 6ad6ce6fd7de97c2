"""What can be changed of a pattern's lines.

A change names a line by its id and says what becomes of it. Changes are kept in order beside the
tracing (`Pattern.changes`), which itself is evidence and stays as it was read.
"""

from __future__ import annotations

from dataclasses import dataclass

from studio.core.reading.tracing import Point, Round

MAX_CHANGES = 1_000


@dataclass(frozen=True, slots=True)
class Redraw:
    """The line `line` runs through other points from now on; `why` is a short code.

    A closed line does not repeat its first point. `round` says that it is a true circle.
    """

    line: str
    points: tuple[Point, ...]
    closed: bool
    round: Round | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class MovePoint:
    """Point number `index` (from 0) goes to `to`.

    The line's other points within `reach_mm` along the line go with it, less and less with their
    distance, so that a curve stays a curve; 0 moves the one point alone.
    """

    line: str
    index: int
    to: Point
    reach_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class AddPoint:
    """A new point `at`, after point number `after` (from 0)."""

    line: str
    after: int
    at: Point


@dataclass(frozen=True, slots=True)
class RemovePoint:
    """The line runs straight past point number `index`."""

    line: str
    index: int


@dataclass(frozen=True, slots=True)
class MoveLine:
    """The whole line goes `by` so much across and up, as a drill mark does when it is dragged."""

    line: str
    by: Point


@dataclass(frozen=True, slots=True)
class Join:
    """Closes a gap between two open ends; each is the "first" or "last" point of its line.

    With `line` and `other` the same, the line closes. Else they become one line that keeps the
    id `line`.
    """

    line: str
    end: str
    other: str
    other_end: str


@dataclass(frozen=True, slots=True)
class Diameter:
    """The closed line becomes a true circle of this diameter about its own middle."""

    line: str
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class NewHole:
    """A new circle at a point, to be drilled. Its line takes the next free number as id."""

    at: Point
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class Name:
    """What lines are: line id to label, "" for as it was read; "ignore" leaves a line out."""

    labels: tuple[tuple[str, str], ...]


Change = Redraw | MovePoint | AddPoint | RemovePoint | MoveLine | Join | Diameter | NewHole | Name
