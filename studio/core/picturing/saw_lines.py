"""What is done to a stock piece in order: holes, saw lines, and cuts that free an offcut."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shapely.geometry import LineString, MultiLineString, Point

from .cuts_for_two import CutForTwo
from .parted.cuts import PartCut


class LineKind(StrEnum):
    """What a saw line frees."""

    WINDOW = "window"
    OUTLINE = "outline"


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole to drill, numbered in drilling order.

    A pilot without diameter was put there for threading the blade, with `room_mm` of window
    round it; the blade says how wide it is drilled.
    """

    number: int
    piece: str
    copy: int
    at: Point
    diameter_mm: float | None
    pilot: bool
    room_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class SawLine:
    """One turn of the saw, numbered in sawing order.

    `ring` is the whole rim as it lies on the metal, `cut` the stretches of it still to be sawn
    when its turn comes and `length_mm` their length; `shared` are the stretches that free a
    neighbour too (sawn with whichever comes first), `free` those on the metal's own edge.
    `own_mm` is the piece's part of the sawing, where each of two bears half of a cut for both,
    and `already_mm` what was sawn before with a neighbour.
    Sawing begins at `start`: a pilot hole, or where the metal's edge is nearest. `out_of_reach`
    says that some of the rim lies deeper in the metal than the saw frame reaches.
    """

    number: int
    kind: LineKind
    piece: str
    copy: int
    ring: LineString
    cut: MultiLineString
    shared: MultiLineString
    free: MultiLineString
    length_mm: float
    own_mm: float
    already_mm: float
    start: Point
    depth_mm: float
    out_of_reach: bool


@dataclass(frozen=True, slots=True)
class OffcutCut:
    """A cut that frees an offcut from the scrap round it, numbered after all saw lines.

    No piece needs it, so it is in no saw line of a plan and in no price.
    """

    number: int
    offcut: int  # of the plan's offcuts on this stock piece, from 0
    line: LineString

    @property
    def length_mm(self) -> float:
        return float(self.line.length)


@dataclass(frozen=True, slots=True)
class SawingOrder:
    """What to do to one stock piece, in order: first the cuts that part it, which are numbered
    through with the saw lines; those of a saw are sawing too."""

    metal: str
    holes: tuple[Hole, ...]
    lines: tuple[SawLine, ...]
    for_two: tuple[CutForTwo, ...] = ()  # by the indices of the placements on the stock piece
    offcut_cuts: tuple[OffcutCut, ...] = ()
    parting: tuple[PartCut, ...] = ()
    sawn_apart: bool = False

    @property
    def parting_mm(self) -> float:
        """Length of the cuts that part it."""
        return sum(cut.length_mm for cut in self.parting)

    @property
    def sawn_mm(self) -> float:
        """Length of all sawing that the plan measures: round the pieces, and to part the metal
        where a saw does."""
        return self.length_mm + (self.parting_mm if self.sawn_apart else 0.0)

    @property
    def length_mm(self) -> float:
        """Length of all sawing round the pieces."""
        return sum(line.length_mm for line in self.lines)

    @property
    def shared_cuts(self) -> tuple[LineString, ...]:
        """The way of the blade in all cuts that free two pieces."""
        return tuple(line for cut in self.for_two for line in cut.line.geoms)

    @property
    def offcut_cuts_mm(self) -> float:
        """Length of the cuts that free offcuts, which come on top of it."""
        return sum(cut.length_mm for cut in self.offcut_cuts)

    @property
    def deep(self) -> tuple[int, ...]:
        """Numbers of the lines that lie deeper in the metal than the saw frame reaches."""
        return tuple(line.number for line in self.lines if line.out_of_reach)

    @property
    def deepest_mm(self) -> float:
        """How far from the nearest edge the deepest of all lines lies."""
        return max((line.depth_mm for line in self.lines), default=0.0)
