"""Which cuts free the pieces on one stock piece, by the rules for hands.

A free edge needs none; along a shared line, and wherever two outlines run near each other, one
cut frees two pieces. The rules of versions 1 and 1.1 are those of `saw_lines`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon

from studio.core.cutting.job import Hands, Job, Placement, Stock
from studio.core.verifying.kept import Kept
from studio.core.verifying.pairs import pairs_across
from studio.core.verifying.part_metal import PartMetal
from studio.core.verifying.saw_lines import (
    ON_EDGE_MM,
    Stretch,
    free_stretches,
    merged,
    shared_stretches,
    spans_beside,
    stretch_of,
)
from studio.core.verifying.sides import Sides, Span, sides_of

ONE_CUT_MM = 1.5 - 1e-6
"""Where outlines run less than 1.5 mm apart, one cut down the middle frees both: at just that
each has a cut of its own."""

FACING = math.cos(math.radians(45.0))
"""Sides that turn further from each other than this do not run along each other."""

SMOOTH = math.radians(30.0)
"""A corner that turns by less belongs to a curve; a sharper one ends what runs along it."""

BEYOND_CELLS = 1.1
"""What lies across from an edge is nearer to it than so many times its distance from the edge's
line: where the rim bends, an edge reaches past its end by half of `SMOOTH` at most."""

_BESIDE_CUT_MM = 1e-4  # so near an edge that a cut has made an edge is that one

Array = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Ways = tuple[Array, Array]


@dataclass(frozen=True, slots=True)
class MiddleCut:
    """One cut between two pieces that run near each other, and frees both.

    `line` is the way of the blade, `own` and `others` the stretches of the rims of `piece` and
    of `other` (by index) that it frees. The cut counts `length_mm`: half of both stretches.
    """

    piece: int
    other: int
    line: MultiLineString
    own: MultiLineString
    others: MultiLineString
    own_mm: float
    others_mm: float

    @property
    def length_mm(self) -> float:
        return (self.own_mm + self.others_mm) / 2.0


@dataclass(frozen=True, slots=True)
class Cuts:
    """What need not be sawn, or only once, on one stock piece: each stretch in one of three."""

    free: tuple[Stretch, ...]
    shared: tuple[Stretch, ...]
    middle: tuple[MiddleCut, ...]


def cuts(job: Job, metal: Stock, placements: Sequence[Placement]) -> Cuts:
    """The free edges, shared lines and middle cuts of the pieces on one stock piece.

    Parameters
    ----------
    job, metal
        Whose rules hold; in versions 1 and 1.1 there are no middle cuts.
    placements
        Those on `metal`, all of pieces that the job knows. Stretches name them by their index.

    Returns
    -------
    Cuts
        Lengths in mm. The saw line of the stock piece is the length of all outlines, less the
        free edges, less the shared lines once, less every middle cut's `length_mm` once.

    Examples
    --------
    Two squares 1.0 mm apart, the first in the corner of a sheet:

    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Hands, Job, Placement, Stock, Wanted
    >>> sheet = Stock("S1", box(0, 0, 100, 50))
    >>> job = Job((sheet,), (Wanted("a", box(0, 0, 20, 20), 2),), hands=Hands(1.0, 0.5))
    >>> laid = [Placement("a", k, "S1", False, 0.0, 21.0 * k, 0.0) for k in (0, 1)]
    >>> found = cuts(job, sheet, laid)
    >>> [(round(one.line.length, 3), one.piece) for one in found.free]
    [(20.0, 0), (20.0, 0), (20.0, 1)]
    >>> [(one.piece, one.other, round(one.length_mm, 3)) for one in found.middle]
    [(0, 1, 20.0)]
    >>> [list(line.coords) for line in found.middle[0].line.geoms]
    [[(20.5, 0.0), (20.5, 20.0)]]
    """
    outlines = [p.lay(job.wanted_by_id[p.piece].outline) for p in placements]
    if job.hands is None:
        free = free_stretches(outlines, metal.parts) if metal.clean_edges else []
        return Cuts(tuple(free), tuple(shared_stretches(outlines, job.kerf_mm)), ())
    settled = settle(job, job.hands, metal, placements, Kept())
    return Cuts(settled.free_stretches(), settled.shared_stretches(), settled.middle_cuts())


@dataclass(frozen=True, slots=True)
class MetalEdges:
    """The edges of a stock piece, or of a part of one: clean and rough ones, and the straight runs
    of the clean. Those that cuts have made are neither (`PartMetal.cut_edges`)."""

    clean: MultiLineString
    rough: MultiLineString
    runs: Array


def metal_edges(job: Job, hands: Hands, metal: Stock, kept: Kept) -> MetalEdges:
    """Which edges of a stock piece are clean, and which are not."""
    return kept.get(("metal edges", metal.id), lambda: _metal_edges(hands, metal))


def _metal_edges(hands: Hands, metal: Stock) -> MetalEdges:
    rim = _lines_of(metal.outline.boundary)
    none = np.empty((0, 4))
    cut = metal.cut_edges if isinstance(metal, PartMetal) else MultiLineString()
    if not cut.is_empty:
        rim = _lines_of(rim.difference(cut.buffer(_BESIDE_CUT_MM, cap_style="flat")))
    if not metal.clean_edges:
        return MetalEdges(MultiLineString(), rim, none)
    runs = np.vstack([sides_of(part, hands.straight_min_mm).runs for part in metal.parts])
    rough = metal.rough_edges or MultiLineString()
    if rough.is_empty and cut.is_empty:
        return MetalEdges(rim, MultiLineString(), runs)
    along = rough.buffer(ON_EDGE_MM, cap_style="flat")
    wider = MultiLineString([*rough.geoms, *cut.geoms]).buffer(2.0 * ON_EDGE_MM, cap_style="flat")
    shapely.prepare(wider)
    clean = [
        _same_way(rest, run)
        for run in runs
        for line in [_as_line(run)]
        for rest in (_lines_of(line.difference(wider)).geoms if wider.intersects(line) else [line])
    ]
    return MetalEdges(
        _lines_of(rim.difference(along)),
        rough,
        np.array(clean).reshape(-1, 4) if clean else none,
    )


def _same_way(line: LineString, run: Array) -> list[float]:
    """The ends of a part of a run, in the run's own order."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    forward = (x1 - x0) * (run[2] - run[0]) + (y1 - y0) * (run[3] - run[1]) > 0.0
    return [x0, y0, x1, y1] if forward else [x1, y1, x0, y0]


def _lines_of(geometry: shapely.Geometry) -> MultiLineString:
    parts = [
        one for one in shapely.get_parts(geometry) if not (one.is_empty or one.geom_type == "Point")
    ]
    return MultiLineString([LineString(one.coords) for one in parts])


@dataclass(frozen=True, slots=True)
class Between:
    """What two pieces have with each other; spans along the rims of the one and of the other."""

    shared: tuple[tuple[Span, ...], tuple[Span, ...]]
    lines: tuple[Array, Array]
    near: tuple[tuple[Span, ...], tuple[Span, ...]]


NOTHING_BETWEEN = Between(((), ()), (np.empty((0, 4)), np.empty((0, 4))), ((), ()))


@dataclass
class Settled:
    """The cuts of one stock piece as spans along the rims, nothing in two of them."""

    sides: Sequence[Sides]
    free: list[tuple[int, Array, Span]] = field(default_factory=list)
    shared: list[tuple[int, int, Array, Span]] = field(default_factory=list)
    across: list[Array] = field(default_factory=list)  # the shared lines, on the second piece
    middle: list[tuple[int, int, list[Span], list[Span]]] = field(default_factory=list)

    @property
    def free_mm(self) -> float:
        return _total(span for _, _, span in self.free)

    @property
    def shared_mm(self) -> float:
        return _total(span for *_, span in self.shared)

    @property
    def middle_mm(self) -> float:
        """The length of all middle cuts, each counted once."""
        return sum((_total(own) + _total(others)) / 2.0 for _, _, own, others in self.middle)

    @cached_property
    def free_lines(self) -> Array:
        return np.array([line for _, line, _ in self.free]).reshape(-1, 4)

    @cached_property
    def shared_lines(self) -> Array:
        """On both of the pieces that share them."""
        own = [line for _, _, line, _ in self.shared]
        return np.array([*own, *self.across]).reshape(-1, 4)

    def spared_mm(self) -> list[float]:
        """How much of each piece's rim is not sawn for it: of a cut for two, half is each one's."""
        spared = [0.0] * len(self.sides)
        for i, _, span in self.free:
            spared[i] += span[1] - span[0]
        for i, j, _, span in self.shared:
            spared[i] += (span[1] - span[0]) / 2.0
            spared[j] += (span[1] - span[0]) / 2.0
        for i, j, own, others in self.middle:
            mine, theirs = _total(own), _total(others)
            if mine and theirs:
                half = (mine + theirs) / 4.0
                spared[i] += mine - half
                spared[j] += theirs - half
            else:  # the other's rim turns away
                spared[i] += mine / 2.0
                spared[j] += theirs / 2.0
        return spared

    def free_stretches(self) -> tuple[Stretch, ...]:
        return tuple(Stretch(i, _as_line(line)) for i, line, _ in self.free)

    def shared_stretches(self) -> tuple[Stretch, ...]:
        return tuple(Stretch(i, _as_line(line), j) for i, j, line, _ in self.shared)

    def middle_cuts(self) -> tuple[MiddleCut, ...]:
        return tuple(
            MiddleCut(
                i,
                j,
                _middle_line(self.sides[i], own, self.sides[j])
                if own
                else _middle_line(self.sides[j], others, self.sides[i]),
                _stretches(self.sides[i], own),
                _stretches(self.sides[j], others),
                _total(own),
                _total(others),
            )
            for i, j, own, others in self.middle
        )


def settle(
    job: Job, hands: Hands, metal: Stock, placements: Sequence[Placement], kept: Kept
) -> Settled:
    """Which stretches of the rims on one stock piece need no cut, or share one.

    Free edges first, then shared lines, then what runs near another piece; among those whoever
    comes first in `placements`, so that nothing is saved twice.
    """
    key = ("cuts", metal.id, *placements)
    return kept.get(key, lambda: _settled(job, hands, metal, placements, kept))


def _settled(
    job: Job, hands: Hands, metal: Stock, placements: Sequence[Placement], kept: Kept
) -> Settled:
    sides = [laid_sides(job, hands, p, kept) for p in placements]
    found = Settled(sides)
    taken: list[list[Span]] = [[] for _ in sides]
    runs = metal_edges(job, hands, metal, kept).runs
    for i, (rims, p) in enumerate(zip(sides, placements, strict=True)):
        for line, span in kept.get(("free", metal.id, p), partial(_free, rims, runs, hands)):
            found.free.append((i, line, span))
            taken[i].append(span)
    reach = max(ONE_CUT_MM, hands.shared_mm + ON_EDGE_MM)
    outlines, numbers = outlines_of(job, placements, kept), kept.numbers(placements)
    pairs = []
    for i, j in near_pairs(sides, reach):
        make = partial(_pair, (sides[i], sides[j]), (outlines[i], outlines[j]), hands, reach)
        pairs.append((i, j, kept.get(("between", numbers[i], numbers[j]), make)))
    for i, j, pair in pairs:
        for line, span in zip(pair.lines[0], pair.shared[0], strict=True):
            found.shared.append((i, j, line, span))
        found.across.extend(pair.lines[1])
        taken[i].extend(pair.shared[0])
        taken[j].extend(pair.shared[1])
    for i, j, pair in pairs:
        if pair.near[0] or pair.near[1]:
            own, others = _without(pair.near[0], taken[i]), _without(pair.near[1], taken[j])
            if own or others:
                found.middle.append((i, j, own, others))
                taken[i].extend(own)
                taken[j].extend(others)
    return found


def laid_sides(job: Job, hands: Hands, p: Placement, kept: Kept) -> Sides:
    """The sides of a piece as it lies."""
    drawn = kept.get(
        ("sides", p.piece, p.mirror),
        lambda: sides_of(job.wanted_by_id[p.piece].outline, hands.straight_min_mm, mirror=p.mirror),
    )
    return kept.get(("laid sides", p), lambda: drawn.laid(p))


def near_pairs(sides: Sequence[Sides], reach: float) -> list[tuple[int, int]]:
    """The pairs whose boxes come within `reach` of each other, in order."""
    if len(sides) < 2:
        return []
    boxes = np.array([one.box for one in sides])
    low, high = boxes[:, :2], boxes[:, 2:]
    apart = (low[:, None] > high[None] + reach) | (low[None] > high[:, None] + reach)
    near = np.argwhere(np.triu(~apart.any(axis=2), 1))
    return [(i, j) for i, j in near.tolist()]


def _pair(
    sides: tuple[Sides, Sides], outlines: tuple[Polygon, Polygon], hands: Hands, reach: float
) -> Between:
    if not shapely.dwithin(*outlines, BEYOND_CELLS * reach + ON_EDGE_MM):
        return NOTHING_BETWEEN
    one, other = sides
    own, lines = _shared(one, other, hands)
    others, across = _shared(other, one, hands)
    near = _running_near(one, other), _running_near(other, one)
    return Between((own, others), (lines, across), near)


def _free(own: Sides, runs: Array, hands: Hands) -> list[tuple[Array, Span]]:
    shell = own.runs[own.spans[:, 0] < _shell_mm(own)]
    if not len(shell) or not len(runs):
        return []
    least = max(hands.straight_min_mm, 1e-6)
    spans = spans_beside(shell, runs, gap=0.0, facing=1.0, least=least)
    return [
        (_line_of(shell[k], span), _along(own, k, span))
        for k in sorted(spans)
        for span in merged(spans[k])
    ]


def _shell_mm(own: Sides) -> float:
    """Where the shell ends along the rims."""
    ends = np.flatnonzero(own.after < np.arange(len(own.after)))
    return float(own.at[ends[0]]) + 1e-9


def _shared(one: Sides, other: Sides, hands: Hands) -> tuple[tuple[Span, ...], Array]:
    if not len(one.runs) or not len(other.runs):
        return (), np.empty((0, 4))
    least = max(hands.straight_min_mm, 1e-6)
    spans = spans_beside(one.runs, other.runs, gap=hands.shared_mm, facing=-1.0, least=least)
    found = [(k, span) for k in sorted(spans) for span in merged(spans[k])]
    lines = np.array([_line_of(one.runs[k], span) for k, span in found]).reshape(-1, 4)
    return tuple(_along(one, k, span) for k, span in found), lines


def _line_of(run: Array, span: Span) -> Array:
    line: Array = shapely.get_coordinates(stretch_of(run, span)).ravel()
    return line


def _along(own: Sides, k: int, span: Span) -> Span:
    """A span of a run as one along the rims."""
    begin, end = own.spans[k].tolist()
    run = own.runs[k]
    scale = (end - begin) / math.hypot(run[2] - run[0], run[3] - run[1])
    return begin + span[0] * scale, begin + span[1] * scale


def _running_near(one: Sides, other: Sides) -> tuple[Span, ...]:
    """Where the rims of one piece run within `ONE_CUT_MM` of another's, facing it."""
    mine = _in_reach(one.edges, other.edges)
    theirs = _in_reach(other.edges, one.edges)
    if not len(mine) or not len(theirs):
        return ()
    starts, ends = _ends_of_cells(other, theirs)
    f = other.edges[theirs]
    ways = _directions(f)
    before, after = _beyond(ways, starts, 1.0), _beyond(ways, ends, -1.0)
    spans: list[Span] = []
    for a, b in pairs_across(one.edges[mine], f, before, after, ONE_CUT_MM):
        spans += _facing_spans(one, mine[a], f[b], _of(starts, b), _of(ends, b))
    return tuple(merged(spans))


def _facing_spans(one: Sides, edges: Numbers, f: Array, starts: Ways, ends: Ways) -> list[Span]:
    """Where edges of one piece lie across from others, each from the one beside it in `f`."""
    e = one.edges[edges]
    length = np.hypot(e[:, 2] - e[:, 0], e[:, 3] - e[:, 1])
    ux, uy = (e[:, 2] - e[:, 0]) / length, (e[:, 3] - e[:, 1]) / length
    vx, vy = _directions(f)
    facing = np.flatnonzero(ux * vx + uy * vy <= -FACING)
    if not len(facing):
        return []
    x, y, f, length = e[facing, 0], e[facing, 1], f[facing], length[facing]
    ux, uy, vx, vy = ux[facing], uy[facing], vx[facing], vy[facing]
    # how far right of the other's edge an edge begins, and how that grows along it
    across = (x - f[:, 0]) * vy - (y - f[:, 1]) * vx
    slope = ux * vy - uy * vx
    low, high = _where(across, slope, 0.0, ONE_CUT_MM)
    for at, (cx, cy), sign in ((0, _of(starts, facing), 1.0), (2, _of(ends, facing), -1.0)):
        begin = sign * ((x - f[:, at]) * cx + (y - f[:, at + 1]) * cy)
        step = sign * (ux * cx + uy * cy)
        more_low, more_high = _where(begin, step, 0.0, np.inf)
        low, high = np.maximum(low, more_low), np.minimum(high, more_high)
    low, high = np.maximum(low, 0.0), np.minimum(high, length)
    found = np.flatnonzero(high - low > 1e-6)
    begins = one.at[edges[facing[found]]]
    return list(zip((begins + low[found]).tolist(), (begins + high[found]).tolist(), strict=True))


def _beyond(ways: Ways, cells: Ways, sign: float) -> Array:
    """How far a cell reaches beyond its edge's end, for each millimetre from the edge's line."""
    (vx, vy), (cx, cy) = ways, cells
    return np.maximum(0.0, sign * (cx * vy - cy * vx) / np.maximum(cx * vx + cy * vy, 1e-12))


def _of(ways: Ways, chosen: Numbers) -> Ways:
    return ways[0][chosen], ways[1][chosen]


def _in_reach(edges: Array, others: Array) -> Numbers:
    """The edges whose boxes come within `ONE_CUT_MM` of the other piece's."""
    low = np.minimum(others[:, :2].min(axis=0), others[:, 2:].min(axis=0)) - ONE_CUT_MM
    high = np.maximum(others[:, :2].max(axis=0), others[:, 2:].max(axis=0)) + ONE_CUT_MM
    reach = (np.maximum(edges[:, :2], edges[:, 2:]) >= low).all(axis=1)
    reach &= (np.minimum(edges[:, :2], edges[:, 2:]) <= high).all(axis=1)
    return np.flatnonzero(reach)


def _directions(edges: Array) -> tuple[Array, Array]:
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    return (edges[:, 2] - edges[:, 0]) / length, (edges[:, 3] - edges[:, 1]) / length


def _ends_of_cells(own: Sides, edges: Numbers) -> tuple[Ways, Ways]:
    """Across which lines through its two ends an edge hands over to its neighbours.

    Each is told by the direction across it, forward along the rim. Where the rim bends it is the
    line that halves the bend; a sharp corner that stands out hands over to nobody, so there the
    edge ends square.
    """
    vx, vy = _directions(own.edges)
    mine = vx[edges], vy[edges]
    found = []
    for neighbours, at_start in ((own.before, True), (own.after, False)):
        next_to = vx[neighbours[edges]], vy[neighbours[edges]]
        first, second = (next_to, mine) if at_start else (mine, next_to)
        turn = np.arctan2(
            first[0] * second[1] - first[1] * second[0], first[0] * second[0] + first[1] * second[1]
        )
        halves = mine[0] + next_to[0], mine[1] + next_to[1]
        bends = (turn <= SMOOTH) & (np.hypot(*halves) > 1e-6)
        found.append((np.where(bends, halves[0], mine[0]), np.where(bends, halves[1], mine[1])))
    return found[0], found[1]


def _where(start: Array, step: Array, least: float, most: float) -> tuple[Array, Array]:
    """For which t the sum start + step · t lies between two bounds."""
    still = np.abs(step) < 1e-9
    by = np.where(still, 1.0, step)
    one = (least - start) / by
    other = np.where(np.sign(by) > 0, np.inf, -np.inf) if most == np.inf else (most - start) / by
    inside = (start >= least - 1e-9) & (start <= most)
    low = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, other))
    high = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(one, other))
    return low, high


def _without(spans: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """What is left of spans beside those that are taken."""
    left = list(spans)
    for begin, end in taken:
        if any(low < end and high > begin for low, high in left):
            left = [
                rest
                for low, high in left
                for rest in ((low, min(high, begin)), (max(low, end), high))
                if rest[1] - rest[0] > 1e-6
            ]
    return left


def _total(spans: Iterable[Span]) -> float:
    return sum(high - low for low, high in spans)


def _as_line(line: Array) -> LineString:
    return LineString([line[:2], line[2:]])


def _stretches(own: Sides, spans: Sequence[Span]) -> MultiLineString:
    return MultiLineString([line for span in spans for line in own.lines(*span)])


def _middle_line(one: Sides, spans: Sequence[Span], other: Sides) -> MultiLineString:
    """Half way from stretches of one piece to the other's rim."""
    rims = MultiLineString(list(other.edges.reshape(-1, 2, 2)))
    found = []
    for stretch in _stretches(one, spans).geoms:
        points = shapely.points(shapely.get_coordinates(stretch))
        nearest = shapely.get_coordinates(shapely.shortest_line(points, rims)).reshape(-1, 4)
        middles = (nearest[:, :2] + nearest[:, 2:]) / 2.0
        found.append(LineString(middles))
    return MultiLineString(found)


def outlines_of(job: Job, placements: Iterable[Placement], kept: Kept) -> list[Polygon]:
    """The outlines as they lie."""
    return [
        kept.get(("outline", p), partial(p.lay, job.wanted_by_id[p.piece].outline))
        for p in placements
    ]
