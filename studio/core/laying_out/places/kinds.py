"""What can be chosen for a piece, and what comes of it. Lengths in mm, angles in degrees."""

from __future__ import annotations

from dataclasses import dataclass

from studio.core.cutting.job import Placement
from studio.core.verifying import Fault


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of a stock piece, by its number among `corners_of`."""

    metal: str
    number: int


@dataclass(frozen=True, slots=True)
class Edge:
    """A clean straight edge of a stock piece, by its number among `edges_of`."""

    metal: str
    number: int


@dataclass(frozen=True, slots=True)
class Beside:
    """Beside another piece that lies: along a straight side of it where it has one."""

    piece: str
    copy: int


@dataclass(frozen=True, slots=True)
class Free:
    """Wherever there is room first; on one stock piece, or on any."""

    metal: str | None = None


@dataclass(frozen=True, slots=True)
class At:
    """At numbers: where the lower left of the box around the piece is to lie, and its turn."""

    metal: str
    x_mm: float
    y_mm: float
    turn_deg: float


Place = Corner | Edge | Beside | Free | At


@dataclass(frozen=True, slots=True)
class Found:
    """Where the piece comes to lie, and what the judge says of that; no faults: it is good."""

    placement: Placement
    faults: tuple[Fault, ...]
