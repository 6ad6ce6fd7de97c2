"""What is to be placed on what, and what came out: the job and the plan.

Lengths are millimetres, areas mm², angles degrees anticlockwise, y upwards, prices in the
school's currency per mm². Nothing here searches, so the judge may use it too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from shapely import affinity, wkt
from shapely.geometry import MultiLineString, MultiPolygon, Polygon

Goal = Literal["plan", "strip"]
Worth = Literal["one", "two"]
CutWay = Literal["shear", "saw"]

TURN_TOLERANCE_DEG = 1e-6


@dataclass(frozen=True)
class Stock:
    """One stock piece: a full sheet or an offcut of any outline, of one part or several.

    With `clean_edges` a piece may lie on the metal's edge itself; without, one kerf stays free.
    `rough_edges` are stretches of the outline that are not clean where the rest is.
    `grain_deg` is the direction of rolling, either way; None where it does not matter.
    """

    id: str
    outline: Polygon | MultiPolygon
    price_per_mm2: float = 0.0
    clean_edges: bool = True
    grain_deg: float | None = None
    rough_edges: MultiLineString | None = None

    @cached_property
    def parts(self) -> tuple[Polygon, ...]:
        """The connected parts of the outline."""
        if isinstance(self.outline, Polygon):
            return (self.outline,)
        return tuple(self.outline.geoms)


@dataclass(frozen=True)
class Wanted:
    """A piece wanted `count` times. `turns_deg` None means that it may lie at any turn.

    `grain_deg` is the direction in the piece's own drawing that must run along the metal's grain,
    either way; None where it does not matter.
    """

    id: str
    outline: Polygon
    count: int = 1
    turns_deg: tuple[float, ...] | None = None
    may_mirror: bool = False
    group: str | None = None
    grain_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Hands:
    """What hands, paper, saw and file need of a plan: the rules of version 1.2 of a job.

    `gap_mm` is the least distance between two pieces, and between a piece and a clean edge.
    It holds everywhere except along shared lines and free edges and within twice the gap of
    their ends; there the kerf is the least. A *shared line* is a straight run of two pieces,
    `shared_mm` apart; a *free edge* a straight run of a piece on a clean edge of the metal;
    straight means that every point lies within 0.05 mm of one line, and neither is shorter than
    `straight_min_mm`. A curve that grazes an edge is none, and keeps the gap.
    """

    gap_mm: float
    shared_mm: float
    straight_min_mm: float = 8.0


@dataclass(frozen=True, slots=True)
class Parting:
    """How metal is parted, so that every group gets a blank of its own: by straight cuts, each
    through the whole of one part.

    `margin_mm` is the least distance from a piece to the edge that a cut makes, `strip_least_mm`
    the narrowest part that a cut may leave. `cut_longest_mm` is the longest cut of the shear,
    `throat_mm` the depth of the saw frame: no point of a saw cut may lie further from the outline
    of the part that it goes through; None where nothing bounds them. A saw cut takes the job's
    kerf, and its line is the kerf's middle; a shear cut takes nothing. Cut edges are never free.
    """

    way: CutWay
    margin_mm: float
    strip_least_mm: float
    cut_longest_mm: float | None = None
    throat_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Cut:
    """One parting cut: all of the straight line from `start` to `end` that lies in the part.

    Part 0 is the stock piece; cut number i of a stock piece, from 0, makes the parts 2i + 1, on
    the left of start → end, and 2i + 2, on its right.
    """

    metal: str
    part: int
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Blank:
    """The part of a stock piece that one group gets (None: the pieces without a group)."""

    metal: str
    part: int
    group: str | None
    outline: Polygon


@dataclass(frozen=True)
class Job:
    """Pieces, the metal offered for them, and what decides between two plans.

    `hands` None means the rules of versions 1 and 1.1: one kerf between pieces, and a piece may
    touch a clean edge anywhere. `worth` says whether leftovers count their second rectangle too.
    `fixed` placements stand as they are and count as wanted copies; `start` are placements to
    begin from. With `parting` every group gets metal of its own (`Parting`); only by hand.
    """

    metal: tuple[Stock, ...]
    pieces: tuple[Wanted, ...]
    kerf_mm: float = 0.3
    saw_cost_per_mm: float = 0.002
    scrap_worth: float = 0.1
    offcut_min_width_mm: float = 12.0
    offcut_min_area_mm2: float = 600.0
    goal: Goal = "plan"
    edge_margin_mm: float = 0.0
    hands: Hands | None = None
    worth: Worth = "one"
    fixed: tuple[Placement, ...] = ()
    start: tuple[Placement, ...] = ()
    parting: Parting | None = None

    @cached_property
    def wanted_by_id(self) -> dict[str, Wanted]:
        return {wanted.id: wanted for wanted in self.pieces}

    @cached_property
    def stock_by_id(self) -> dict[str, Stock]:
        return {stock.id: stock for stock in self.metal}

    @property
    def gap_mm(self) -> float:
        """The least distance between two outlines that holds everywhere but along lines that
        hands may share: the gap, or the kerf under the rules of versions 1 and 1.1."""
        return self.kerf_mm if self.hands is None else self.hands.gap_mm

    @property
    def edge_gap_mm(self) -> float:
        """What stays free along an edge that is not clean: the kerf, or the margin where wider."""
        return max(self.kerf_mm, self.edge_margin_mm)

    @property
    def copies(self) -> int:
        """How many pieces are wanted in all."""
        return sum(wanted.count for wanted in self.pieces)


def allowed_turns(wanted: Wanted, stock: Stock, *, mirror: bool) -> tuple[float, ...] | None:
    """The turns at which a piece may lie on a metal: None for any, empty for none at all.

    Where both have a grain, only the two turns that bring one along the other are left. A
    mirrored piece (x becomes −x) carries its grain at 180° less the angle.
    """
    if wanted.grain_deg is None or stock.grain_deg is None:
        return wanted.turns_deg
    own = 180.0 - wanted.grain_deg if mirror else wanted.grain_deg
    along = ((stock.grain_deg - own) % 360.0, (stock.grain_deg - own + 180.0) % 360.0)
    if wanted.turns_deg is None:
        return along
    return tuple(
        turn
        for turn in wanted.turns_deg
        if any(turns_apart(turn, other) <= TURN_TOLERANCE_DEG for other in along)
    )


def turns_apart(one: float, other: float) -> float:
    """The angle between two turns, 0 to 180 degrees."""
    return abs((one - other + 180.0) % 360.0 - 180.0)


@dataclass(frozen=True, slots=True)
class Placement:
    """Where one copy of a piece lies: mirrored first (x becomes −x), turned about the origin,
    then shifted by (x_mm, y_mm)."""

    piece: str
    copy: int
    metal: str
    mirror: bool
    turn_deg: float
    x_mm: float
    y_mm: float

    @property
    def is_finite(self) -> bool:
        """Whether turn and shift are numbers."""
        return all(math.isfinite(value) for value in (self.turn_deg, self.x_mm, self.y_mm))

    def lay(self, outline: Polygon) -> Polygon:
        """The outline as it lies on the metal."""
        if self.mirror:
            outline = affinity.scale(outline, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
        turned = affinity.rotate(outline, self.turn_deg, origin=(0.0, 0.0))
        return affinity.translate(turned, self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True)
class Offcut:
    """Metal that goes back to the rack: outline on its stock piece, and worth in money."""

    metal: str
    outline: Polygon
    worth: float


@dataclass(frozen=True, slots=True)
class Measures:
    """The figures of a plan, over the stock pieces it touches.

    How each is reckoned: studio/core/verifying/README.md, "What is best".
    """

    piece_area_mm2: float = 0.0
    consumed_mm2: float = 0.0
    kept_mm2: float = 0.0
    scrap_mm2: float = 0.0
    largest_offcut_mm2: float = 0.0
    largest_rectangle_mm: tuple[float, float] = (0.0, 0.0)
    saw_line_mm: float = 0.0
    shared_line_mm: float = 0.0
    free_edge_mm: float = 0.0
    strip_length_mm: float = 0.0
    cost: float = 0.0
    cut_line_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A piece that found no place, and why."""

    piece: str
    copy: int
    why: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Placements that the judge has found no fault with, and what they come to.

    `by_hand` where the job's rules were those of version 1.2 (`Hands`). Where the metal is parted,
    `cuts` are in the order of cutting and `blanks` what they make for the groups.
    """

    placements: tuple[Placement, ...]
    unplaced: tuple[Unplaced, ...]
    measures: Measures
    offcuts: tuple[Offcut, ...]
    seed: int
    seconds: float
    rounds: int
    by_hand: bool = False
    cuts: tuple[Cut, ...] = ()
    blanks: tuple[Blank, ...] = ()

    @property
    def status(self) -> Literal["complete", "partial"]:
        return "partial" if self.unplaced else "complete"


def to_wkt(outline: Polygon | MultiPolygon | MultiLineString) -> str:
    """Well-known text in millimetres to a nanometre."""
    return wkt.dumps(outline, rounding_precision=6, trim=True)
