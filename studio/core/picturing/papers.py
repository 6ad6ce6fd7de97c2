"""Which papers are cut out for a stock piece, and how far does each reach beyond its lines?

A pattern's paper keeps a rim beyond the line, so that its edge does not lift under the saw. One
student's pieces that lie too near to each other to be stuck on one by one share one paper. Rims
of two papers meet in the middle of the gap; where too little would be left, and where the metal
ends, the paper's edge is the line itself. Millimetres, as the pieces lie on the metal. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.verifying import shared_stretches

from .paths import polygons_of

JOINED_BELOW_MM = 1.5
"""Hands stick papers about 0.5 mm true: nearer than this, pieces are printed on one paper."""

TRIMMED_BELOW_MM = 0.7
"""A narrower rim is not worth cutting: the paper ends at the line."""

SMOOTH_MM = 0.03
STEP_MM = 0.1  # between the distances at which two rims are compared
SAMPLE_MM = 0.3  # along a line, between the places where the rim is measured
LEAST_RUN_MM = 1.0  # shorter stretches without a rim are no edge to trim
LEAST_TAB_MM = 2.0  # shorter rims between two trimmed stretches are trimmed too
SCRAP_MM = 0.2  # half the width of paper that is not worth its cut

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class OnPaper:
    """A piece as it lies, and whose it is; pieces of different owners share no paper."""

    outline: Polygon
    owner: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper: the indices of the pieces on it, its edge, and the lines at which it ends.

    The outline has a hole where a piece of another paper lies in a window. `flush` are the
    stretches of the pieces' own lines that are the paper's edge.
    """

    holds: tuple[int, ...]
    outline: Polygon
    flush: MultiLineString = field(default_factory=MultiLineString)


def papers_on_metal(
    pieces: Sequence[OnPaper],
    metal: Polygon | MultiPolygon,
    *,
    rim_mm: float,
    shared_mm: float = 0.0,
) -> tuple[Paper, ...]:
    """The papers of one stock piece, in the order of their first pieces; none overlaps another.

    `rim_mm` is how far a paper reaches beyond its lines. Pieces of one owner less than
    `JOINED_BELOW_MM` apart, or along a line that is `shared_mm` wide, lie on one paper.
    """
    if not pieces:
        return ()
    outlines = [_smooth(piece.outline) for piece in pieces]
    groups = _joined(pieces, outlines, metal, shared_mm)
    found: list[Paper] = []
    for holds in groups:
        others = [k for k in range(len(pieces)) if k not in holds]
        found += _papers(holds, others, outlines, metal, rim_mm)
    return tuple(sorted(found, key=lambda paper: paper.holds[0]))


def plain_paper(outline: Polygon, *, rim_mm: float) -> Polygon:
    """The paper of a piece that lies nowhere yet: its rim all round."""
    return _grown(Polygon(_smooth(outline).exterior), rim_mm)


def _joined(
    pieces: Sequence[OnPaper],
    outlines: list[Polygon],
    metal: Polygon | MultiPolygon,
    shared_mm: float,
) -> list[tuple[int, ...]]:
    """Pieces that come on one paper, by index."""
    home = list(range(len(pieces)))

    def root(k: int) -> int:
        while home[k] != k:
            k = home[k]
        return k

    part = [_part_of(outline, metal) for outline in outlines]
    near = shapely.STRtree(outlines).query(
        outlines, predicate="dwithin", distance=JOINED_BELOW_MM - 1e-6
    )
    pairs = [(i, j) for i, j in near.T.tolist() if i < j]
    if shared_mm >= JOINED_BELOW_MM:
        exact = [piece.outline for piece in pieces]
        pairs += [
            (one.piece, one.other)
            for one in shared_stretches(exact, shared_mm)
            if one.other is not None
        ]
    for i, j in pairs:
        if pieces[i].owner == pieces[j].owner and part[i] == part[j]:
            home[max(root(i), root(j))] = min(root(i), root(j))
    groups: dict[int, list[int]] = {}
    for k in range(len(pieces)):
        groups.setdefault(root(k), []).append(k)
    return [tuple(group) for group in groups.values()]


def _part_of(outline: Polygon, metal: Polygon | MultiPolygon) -> int:
    """Which part of the metal a piece lies on: paper does not bridge a gap between two."""
    parts = polygons_of(metal)
    if len(parts) < 2:
        return 0
    spot = outline.representative_point()
    return min(range(len(parts)), key=lambda k: float(parts[k].distance(spot)))


def _papers(
    holds: tuple[int, ...],
    others: list[int],
    outlines: list[Polygon],
    metal: Polygon | MultiPolygon,
    rim: float,
) -> list[Paper]:
    """The paper of some pieces: one, or several where a neighbour's metal parts them."""
    solids = [_solid(outlines[k], [outlines[o] for o in others]) for k in holds]
    own = united(solids)
    within = united([Polygon(outlines[k].exterior) for k in holds])
    near = [outlines[o] for o in others if shapely.dwithin(within, outlines[o], 2 * rim)]
    reach = _reach(own, near, rim).intersection(metal)
    whole = _filled(united([reach, own]), near)
    flush = [_flush(solid, whole, rim) for solid in solids]
    lines = [line for runs in flush for line in runs]
    if lines:
        cut = united([line.buffer(TRIMMED_BELOW_MM, cap_style="flat") for line in lines])
        whole = without(whole, without(cut, own))
    whole = whole.buffer(-SCRAP_MM, quad_segs=4).buffer(SCRAP_MM, quad_segs=4).intersection(whole)
    parts = polygons_of(united([whole.simplify(SMOOTH_MM / 2), *solids]))
    found = []
    for part in parts:
        inside = [n for n in range(len(holds)) if part.intersects(outlines[holds[n]])]
        if inside:
            runs = [line for n in inside for line in flush[n]]
            outline = _filled(part, near)
            assert isinstance(outline, Polygon)
            found.append(Paper(tuple(holds[n] for n in inside), outline, MultiLineString(runs)))
    return found


def _solid(outline: Polygon, others: list[Polygon]) -> Polygon:
    """A piece with those windows alone in which a piece of another paper lies."""
    windows = [Polygon(ring) for ring in outline.interiors]
    open_ones = [one for one in windows if any(one.covers(other) for other in others)]
    return Polygon(outline.exterior, [one.exterior for one in open_ones])


def _reach(own: BaseGeometry, near: list[Polygon], rim: float) -> BaseGeometry:
    """What lies within the rim of own pieces, and nearer to them than to any other."""
    if not near:
        return own.buffer(rim, quad_segs=6)
    theirs = united(near)
    steps = max(2, round(rim / STEP_MM))
    rings = []
    for k in range(steps):
        least, most = rim * k / steps, rim * (k + 1) / steps
        ring = own.buffer(most, quad_segs=4)
        rings.append(without(ring, theirs.buffer((least + most) / 2, quad_segs=4)))
    return united(rings)


def _filled(shape: BaseGeometry, others: list[Polygon]) -> BaseGeometry:
    """Without the holes in which no piece of another paper lies."""
    parts = []
    for part in polygons_of(shape):
        holes = [Polygon(ring) for ring in part.interiors]
        kept = [h.exterior for h in holes if any(h.intersects(other) for other in others)]
        parts.append(Polygon(part.exterior, kept))
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def _flush(solid: Polygon, paper: BaseGeometry, rim: float) -> list[LineString]:
    """Stretches of a piece's lines beyond which less paper is left than is worth cutting."""
    room = paper.buffer(SMOOTH_MM)
    shapely.prepare(room)
    least = min(TRIMMED_BELOW_MM, rim)
    found: list[LineString] = []
    for number, ring in enumerate((solid.exterior, *solid.interiors)):
        clockwise = bool(shapely.is_ccw(ring)) != (number == 0)
        coords = shapely.get_coordinates(ring)
        found += _runs(coords[::-1] if clockwise else coords, room, least)
    return found


def _runs(coords: Array, room: BaseGeometry, least: float) -> list[LineString]:
    """The runs of a closed ring (the piece on its left) whose outside is narrower than `least`."""
    starts, ends = _samples(coords)
    middles, along = (starts + ends) / 2, ends - starts
    lengths = np.hypot(along[:, 0], along[:, 1])
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / lengths[:, None]
    rays = shapely.linestrings(np.stack([middles, middles + least * outward], axis=1))
    thin: Flags = ~np.asarray(shapely.covers(room, rays))
    thin = _without_short(thin, lengths, LEAST_TAB_MM, value=False)
    thin = _without_short(thin, lengths, LEAST_RUN_MM, value=True)
    if not thin.any():
        return []
    if thin.all():
        return [LineString(np.vstack([starts, starts[:1]]))]
    first = int(np.flatnonzero(thin & ~np.roll(thin, 1))[0])
    starts, ends = np.roll(starts, -first, axis=0), np.roll(ends, -first, axis=0)
    thin = np.roll(thin, -first)
    found: list[LineString] = []
    for run in _stretches(thin):
        if thin[run[0]]:
            points = np.vstack([starts[run], ends[run[-1:]]])
            plain = LineString(points).simplify(1e-6)
            assert isinstance(plain, LineString)
            found.append(plain)
    return found


def _samples(coords: Array) -> tuple[Array, Array]:
    """A ring's edges cut into short pieces: where each begins and ends."""
    a, b = coords[:-1], coords[1:]
    lengths = np.hypot(*(b - a).T)
    a, b, lengths = a[lengths > 1e-9], b[lengths > 1e-9], lengths[lengths > 1e-9]
    counts = np.maximum(1, np.ceil(lengths / SAMPLE_MM)).astype(np.int64)
    edge = np.repeat(np.arange(len(a)), counts)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (step / counts[edge])[:, None]
    further = ((step + 1) / counts[edge])[:, None]
    return a[edge] + share * (b - a)[edge], a[edge] + further * (b - a)[edge]


def _without_short(thin: Flags, lengths: Array, least: float, *, value: bool) -> Flags:
    """Runs of `value` that are shorter than `least` turned into the other, round the ring."""
    if thin.all() or not thin.any():
        return thin
    first = int(np.flatnonzero(thin != np.roll(thin, 1))[0])
    turned, sizes = np.roll(thin, -first), np.roll(lengths, -first)
    for run in _stretches(turned.copy()):
        if turned[run[0]] == value and sizes[run].sum() < least:
            turned[run] = not value
    return np.roll(turned, first)


def _stretches(values: Flags) -> list[npt.NDArray[np.int64]]:
    """The indices of each run of equal values."""
    return list(np.split(np.arange(len(values)), np.flatnonzero(np.diff(values)) + 1))


def _grown(shell: Polygon, rim: float) -> Polygon:
    grown = shell.buffer(rim, quad_segs=6).simplify(SMOOTH_MM / 2)
    largest = max(polygons_of(grown), key=lambda part: part.area)
    return Polygon(largest.exterior)


def _smooth(outline: Polygon) -> Polygon:
    simple = outline.simplify(SMOOTH_MM)
    return simple if isinstance(simple, Polygon) and not simple.is_empty else outline


def area_of(papers: Sequence[Paper]) -> float:
    """How much metal papers cover: what is abraded."""
    return math.fsum(paper.outline.area for paper in papers)
