"""In which order to drill and saw a cut plan, so that the sheet stays stiff as long as it can.

Cuts that part the metal come first, and then each blank by itself. Holes are drilled first, while
the metal lies whole on the bench; then windows, small to large, each after the pieces that lie in
it; then outlines, those nearest the metal's edge first, so that the rest is held by whole metal to
the end; last the cuts that free an offcut from the scrap round it. Where metal is passed on, one
student after the other does so, each windows and outlines. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely
import shapely.ops
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon

from studio.core.areas import united, without
from studio.core.cutting.job import Cut, Job, Offcut, Placement, Stock
from studio.core.drawing import DrillKind, Piece

from .cuts_for_two import CutForTwo, Spared, cuts_of_metal
from .parted.cuts import parted_metal
from .paths import lay_point, polygons_of
from .saw_lines import Hole, LineKind, OffcutCut, SawingOrder, SawLine

__all__ = [
    "FRAME_DEPTH_MM",
    "Hole",
    "LineKind",
    "OffcutCut",
    "SawLine",
    "SawingOrder",
    "pilot_spot",
    "sawing_orders",
    "sawn_by_group",
]

FRAME_DEPTH_MM = 76.0
"""Depth of the usual 3 inch saw frame (weak source; editable per school)."""

NEAR_MM = 0.06  # a stretch belongs to the rim that it lies on, to this
BESIDE_MM = 0.2  # an offcut's edge so near to a cut or to the metal's edge is that edge
CORNER_SHARE = 0.25  # of the square of the least offcut's width
OFFCUT_CUT_LEAST_MM = 3.0  # what is shorter breaks off by itself


@dataclass
class _Laid:
    """A piece as it lies, with its stretches that need no cut of their own."""

    placement: Placement
    outline: Polygon
    free: list[LineString] = field(default_factory=list)
    spared: list[Spared] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Rim:
    """One rim to saw: the piece's index, its ring, and the pieces that lie in its window."""

    kind: LineKind
    piece: int
    ring: LineString
    inside: tuple[int, ...] = ()


def sawing_orders(
    job: Job,
    placements: Sequence[Placement],
    pieces: Mapping[str, Piece] | None = None,
    frame_depth_mm: float = FRAME_DEPTH_MM,
    offcuts: Sequence[Offcut] = (),
    *,
    turns: Sequence[str] = (),
    cuts: Sequence[Cut] = (),
) -> tuple[SawingOrder, ...]:
    """The order of work for every stock piece touched, in the job's order of metals.

    `pieces` gives the drawings' pieces by the job's piece ids, for their drill marks; without
    them only a pilot hole for each window is listed. `offcuts` are those of the plan, where the
    cuts that free them are wanted too. `turns` are groups in the order in which they saw, one
    after the other, where metal is passed on; groups that are not among them come last, all
    together. `cuts` are the plan's, where metal is parted.
    """
    found = []
    for metal in job.metal:
        own = [p for p in placements if p.metal == metal.id]
        if own:
            left = [one.outline for one in offcuts if one.metal == metal.id]
            work = _Work(job, pieces or {}, frame_depth_mm, tuple(turns))
            found.append(_one_stock_piece(work, metal, own, left, cuts))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Work:
    """What holds for every stock piece of a plan."""

    job: Job
    pieces: Mapping[str, Piece]
    frame_depth_mm: float
    turns: tuple[str, ...]

    def in_turns(self, laid: Sequence[_Laid]) -> list[list[int]]:
        """The pieces by index, those of one turn together."""
        groups = [self.job.wanted_by_id[one.placement.piece].group or "" for one in laid]
        turns = {group: number for number, group in enumerate(self.turns)}
        found: dict[int, list[int]] = {}
        for k, group in enumerate(groups):
            found.setdefault(turns.get(group, len(turns)), []).append(k)
        return [found[turn] for turn in sorted(found)]


def _one_stock_piece(
    work: _Work,
    metal: Stock,
    own: Sequence[Placement],
    offcuts: Sequence[Polygon],
    cuts: Sequence[Cut],
) -> SawingOrder:
    parted = parted_metal(work.job, metal, own, cuts)
    index = {(p.piece, p.copy): k for k, p in enumerate(own)}
    holes: list[Hole] = []
    lines: list[SawLine] = []
    for_two: list[CutForTwo] = []
    laid_on = []
    for ground in parted.grounds:
        laid = [_Laid(p, p.lay(work.job.wanted_by_id[p.piece].outline)) for p in ground.pieces]
        if not laid:
            continue
        laid_on.append((ground.metal, laid))
        order = _one_metal(work, ground.metal, laid)
        before = len(parted.cuts) + len(lines)
        holes += [replace(hole, number=len(holes) + hole.number) for hole in order.holes]
        lines += [replace(line, number=before + line.number) for line in order.lines]
        places = [index[p.piece, p.copy] for p in ground.pieces]
        for_two += [
            replace(cut, pieces=(places[cut.pieces[0]], places[cut.pieces[1]]))
            for cut in order.for_two
        ]
    freed: list[OffcutCut] = []
    for part, laid in laid_on if offcuts else ():
        before = len(parted.cuts) + len(lines) + len(freed)
        on_it = [
            (k, offcut)
            for k, offcut in enumerate(offcuts)
            if not parted.cuts or part.outline.intersects(offcut.representative_point())
        ]
        freed += _offcut_cuts(work.job, part, laid, on_it, before)
    return SawingOrder(
        metal.id,
        tuple(holes),
        tuple(lines),
        tuple(for_two),
        tuple(freed),
        parted.cuts,
        parted.sawn,
    )


def sawn_by_group(job: Job, orders: Iterable[SawingOrder]) -> dict[str, float]:
    """Millimetres of saw line by the job's groups, adding up to the plan's saw line.

    A cut that frees two pieces counts half for each. A piece without a group counts as a project
    of its own, by the piece's id.
    """
    found: dict[str, float] = {}
    for order in orders:
        for line in order.lines:
            group = job.wanted_by_id[line.piece].group or line.piece
            found[group] = found.get(group, 0.0) + line.own_mm
    return found


def _offcut_cuts(
    job: Job,
    metal: Stock,
    laid: list[_Laid],
    numbered: Sequence[tuple[int, Polygon]],
    before: int,
) -> tuple[OffcutCut, ...]:
    """The stretches of the offcuts' outlines where neither a saw line nor the metal's edge is.

    What they part is scrap; a corner that is too small to be worth its cut stays on the offcut.
    """
    sawn = united([one.outline for one in laid]).buffer(job.kerf_mm + BESIDE_MM)
    free = united([sawn, metal.outline.boundary.buffer(BESIDE_MM)])
    rest = without(metal.outline, united([sawn, *(offcut for _, offcut in numbered)]))
    worth_it = [
        part for part in polygons_of(rest) if part.area >= CORNER_SHARE * job.offcut_min_width_mm**2
    ]
    found: list[OffcutCut] = []
    for index, offcut in numbered:
        lines = _lines(shapely.line_merge(offcut.boundary.difference(free))).geoms
        for line in sorted(lines, key=lambda one: one.bounds[:2]):
            middle = line.interpolate(0.5, normalized=True)
            parts = any(shapely.dwithin(part, middle, BESIDE_MM) for part in worth_it)
            if parts and line.length >= OFFCUT_CUT_LEAST_MM:
                found.append(OffcutCut(before + len(found) + 1, index, line))
    return tuple(found)


def pilot_spot(window: Polygon, inside: Sequence[Polygon] = ()) -> tuple[Point, float]:
    """Where a window has most room for the hole that opens it, and how wide that room is.

    `inside` are pieces that lie in the window, whose metal is not drilled.
    """
    room = without(window, united(list(inside))) if inside else window
    assert isinstance(room, Polygon | MultiPolygon)
    circle = shapely.maximum_inscribed_circle(room)
    return Point(circle.coords[0]), 2.0 * float(circle.length)


def _one_metal(work: _Work, metal: Stock, laid: list[_Laid]) -> SawingOrder:
    cuts = cuts_of_metal(work.job, metal, [one.placement for one in laid])
    for piece, line in cuts.free:
        laid[piece].free.append(line)
    for piece, spared in cuts.spared:
        laid[piece].spared.append(spared)
    edge = united([part.exterior for part in metal.parts])
    turns = work.in_turns(laid)
    rims = [rim for turn in turns for rim in _in_order(laid, edge, turn)]
    holes = _holes(laid, work.pieces, rims, [k for turn in turns for k in turn])
    pilots = {id(rim): hole for rim, hole in holes if rim is not None}
    lines: list[SawLine] = []
    for number, rim in enumerate(rims, start=1):
        pilot = pilots.get(id(rim))
        start = pilot.at if pilot else shapely.ops.nearest_points(rim.ring, edge)[0]
        earlier = {id(r) for r in rims[: number - 1]}
        depth = work.frame_depth_mm
        lines.append(_line(number, rim, laid, rims, earlier, start, edge, depth))
    return SawingOrder(
        metal.id,
        tuple(hole for _, hole in holes),
        tuple(lines),
        cuts.for_two,
    )


def _in_order(laid: list[_Laid], edge: shapely.Geometry, turn: Sequence[int]) -> list[_Rim]:
    """Of the pieces whose turn it is: windows, small to large, each after the pieces in it; then
    outlines from the edge inward."""
    windows: list[tuple[float, int, LineString, tuple[int, ...]]] = []
    for k in turn:
        for interior in laid[k].outline.interiors:
            window = Polygon(interior)
            inside = tuple(
                i for i, other in enumerate(laid) if i != k and window.covers(other.outline)
            )
            windows.append((window.area, k, LineString(interior.coords), inside))
    windows.sort(key=lambda entry: entry[:2])
    rims: list[_Rim] = []
    freed: set[int] = set()
    for _, k, ring, inside in windows:
        # what lies in a smaller window inside this one has been freed with that window
        for i in inside:
            if i in turn and i not in freed:
                freed.add(i)
                rims.append(_outline_rim(laid, i))
        rims.append(_Rim(LineKind.WINDOW, k, ring, inside))
    rest = [k for k in turn if k not in freed]
    rest.sort(key=lambda k: (round(float(laid[k].outline.centroid.distance(edge)), 3), k))
    rims.extend(_outline_rim(laid, k) for k in rest)
    return rims


def _outline_rim(laid: list[_Laid], k: int) -> _Rim:
    return _Rim(LineKind.OUTLINE, k, LineString(laid[k].outline.exterior.coords))


def _holes(
    laid: list[_Laid], pieces: Mapping[str, Piece], rims: list[_Rim], in_turn: Sequence[int]
) -> list[tuple[_Rim | None, Hole]]:
    """Every hole to drill, those of one piece together; with the rim that a pilot opens."""
    found: list[tuple[_Rim | None, Hole]] = []
    for k in in_turn:
        p = laid[k].placement
        marks = pieces[p.piece].drill_marks if p.piece in pieces else ()
        windows = [rim for rim in rims if rim.kind is LineKind.WINDOW and rim.piece == k]
        opened: set[int] = set()
        for mark in marks:
            at = lay_point(p, mark.centre)
            rim = next((w for w in windows if Polygon(w.ring).contains(at)), None)
            if rim is not None and id(rim) in opened:
                rim = None
            if rim is not None:
                opened.add(id(rim))
            pilot = mark.kind is DrillKind.PILOT
            hole = Hole(len(found) + 1, p.piece, p.copy, at, mark.diameter_mm, pilot)
            found.append((rim, hole))
        for window in windows:
            if id(window) not in opened:
                inside = [laid[i].outline for i in window.inside]
                spot, room = pilot_spot(Polygon(window.ring), inside)
                hole = Hole(len(found) + 1, p.piece, p.copy, spot, None, True, room)
                found.append((window, hole))
    return found


def _line(
    number: int,
    rim: _Rim,
    laid: list[_Laid],
    rims: list[_Rim],
    earlier: set[int],
    start: Point,
    edge: shapely.Geometry,
    frame_depth: float,
) -> SawLine:
    one = laid[rim.piece]
    free = [line for line in one.free if _on(line, rim.ring)]
    spared = [each for each in one.spared if _on(each.line, rim.ring)]
    done = [
        each
        for each in spared
        if any(
            id(r) in earlier and r.piece == each.other and _on(each.line, r.ring, each.width_mm)
            for r in rims
        )
    ]
    first = [each for each in spared if each not in done]
    saved = [*free, *(each.line for each in (*done, *(e for e in first if e.middle)))]
    cut = rim.ring.difference(united(line.buffer(NEAR_MM, cap_style="flat") for line in saved))
    middles = [line for each in first for line in each.middle]
    deepest = max(float(Point(at).distance(edge)) for at in rim.ring.coords)
    free_mm = sum(line.length for line in free)
    return SawLine(
        number=number,
        kind=rim.kind,
        piece=one.placement.piece,
        copy=one.placement.copy,
        ring=rim.ring,
        cut=MultiLineString([*_lines(cut).geoms, *middles]),
        shared=MultiLineString([each.line for each in spared]),
        free=MultiLineString(free),
        length_mm=rim.ring.length
        - free_mm
        - sum(each.second_mm for each in done)
        - sum(each.first_mm for each in first),
        own_mm=rim.ring.length
        - free_mm
        - sum((each.first_mm + each.second_mm) / 2.0 for each in spared),
        already_mm=sum(each.second_mm for each in done),
        start=start,
        depth_mm=deepest,
        out_of_reach=deepest > frame_depth,
    )


def _on(line: LineString, ring: LineString, near: float = 0.0) -> bool:
    """Whether a stretch lies on a ring, or within `near` of it."""
    middle = line.interpolate(0.5, normalized=True)
    return bool(shapely.dwithin(middle, ring, NEAR_MM + near))


def _lines(geometry: shapely.Geometry) -> MultiLineString:
    if isinstance(geometry, LineString):
        return MultiLineString([] if geometry.is_empty else [geometry])
    return MultiLineString([g for g in shapely.get_parts(geometry) if isinstance(g, LineString)])
