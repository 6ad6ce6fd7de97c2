"""Which edges of a piece of metal are clean, and which rough?

The rings of an outline are divided into straight edges, which a person can tick on a picture,
and the rest: curves and short sides. A stock piece keeps the rough stretches of its outline
beside whether it has clean ones at all.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import shapely
from shapely import wkt
from shapely.affinity import translate
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

ON_LINE_MM: Final = 0.05
"""Points of a straight edge lie on one line, and stretches on the outline, as true as this."""
LEAST_EDGE_MM: Final = 5.0
"""Shorter sides are not worth a tick of their own."""
MOST_EDGES: Final = 24
LEAST_SAWN: Final = 2
"""So many straight edges that were sawn are ticked as one."""
MOST_POINTS: Final = 20_000
"""Of all rough stretches; an outline with more is taken for rough all round."""
CRUMB_MM: Final = 0.2
SAME_WAY_DEG: Final = 15.0

REST: Final = "rest"
SAWN: Final = "sawn"
_WAYS: Final = (
    "right edge",
    "upper right edge",
    "top edge",
    "upper left edge",
    "left edge",
    "lower left edge",
    "bottom edge",
    "lower right edge",
)


@dataclass(frozen=True, slots=True)
class Edge:
    """A straight edge, or the rest of the outline (`key` REST, whose `way_deg` is None).

    `way_deg` is the direction away from the metal.
    """

    key: str
    name: str
    lines: tuple[LineString, ...]
    way_deg: float | None = None

    @property
    def length_mm(self) -> float:
        return sum(line.length for line in self.lines)


@dataclass(frozen=True, slots=True)
class Edges:
    """What a stock piece's row says of its edges: whether it has clean ones, and the stretches
    that are not (none: all are alike)."""

    clean: bool
    rough: MultiLineString | None = None

    @property
    def fields(self) -> dict[str, object]:
        return {"clean_edges": self.clean, "rough_edges": edges_text(self.rough)}


ALL_CLEAN: Final = Edges(clean=True)
ALL_ROUGH: Final = Edges(clean=False)


def edges_text(rough: MultiLineString | None) -> str:
    """Well-known text as it is stored: millimetres to four places; empty for none."""
    return "" if rough is None else str(wkt.dumps(rough, rounding_precision=4, trim=True))


def edges_from(clean: bool, text: str) -> Edges:
    """What the two columns of a stock piece say."""
    lines = wkt.loads(text) if text else None
    assert lines is None or isinstance(lines, MultiLineString)
    return Edges(clean, lines)


def edges_of(outline: Polygon | MultiPolygon) -> list[Edge]:
    """The edges that can be told apart, straight ones first, from the bottom anticlockwise."""
    straight: list[tuple[LineString, bool]] = []
    rest: list[LineString] = []
    for part in outline.geoms if isinstance(outline, MultiPolygon) else (outline,):
        ordered = shapely.geometry.polygon.orient(part)
        for number, ring in enumerate((ordered.exterior, *ordered.interiors)):
            for line in _runs(list(ring.coords)[:-1]):
                if math.dist(line.coords[0], line.coords[-1]) >= LEAST_EDGE_MM:
                    straight.append((line, number > 0))
                else:
                    rest.append(line)
    longest = sorted(straight, key=lambda one: -one[0].length)
    rest += [line for line, _ in longest[MOST_EDGES:]]
    kept = sorted(longest[:MOST_EDGES], key=lambda one: (one[1], (_way(one[0]) + 112.5) % 360.0))
    edges = [
        Edge(str(number), "edge of a window" if window else _name(line), (line,), _way(line))
        for number, (line, window) in enumerate(kept, start=1)
    ]
    if rest:
        name = "curves and short sides" if edges else "its whole edge"
        edges.append(Edge(REST, name, tuple(rest)))
    return edges


def sawn_as_one(
    outline: Polygon | MultiPolygon, edges: Sequence[Edge], clean: Collection[str]
) -> list[Edge]:
    """The edges with everything that was sawn into the metal as one; the same list where there
    is little of it, or where only a part of it is among the `clean` keys.

    Sheets are rectangles, so what lies within the hull of a piece was sawn, whatever its way.
    """
    hull = outline.convex_hull.boundary
    inner = [
        edge
        for edge in edges
        if edge.key == REST
        or any(hull.distance(shapely.Point(at)) > ON_LINE_MM for at in _thirds(edge.lines[0]))
    ]
    keys = {edge.key for edge in inner}
    if len(keys - {REST}) < LEAST_SAWN or keys & set(clean) not in (set(), keys):
        return list(edges)
    rest = [edge for edge in edges if edge.key not in keys]
    lines = tuple(line for edge in inner for line in edge.lines)
    return [*rest, Edge(SAWN, "everything that was sawn", lines)]


def _thirds(line: LineString) -> Sequence[tuple[float, ...]]:
    """Places within a straight edge: its ends may lie on the hull where it does not."""
    return [line.interpolate(part, normalized=True).coords[0] for part in (0.33, 0.67)]


def _runs(points: Sequence[tuple[float, ...]]) -> list[LineString]:
    """The ring in runs that are straight, each with all its points."""
    middle = shapely.Point(shapely.get_coordinates(shapely.points(points)).mean(axis=0))
    # Begun at the point farthest out, which is a corner whatever the outline.
    first = max(range(len(points)), key=lambda i: math.dist(points[i][:2], middle.coords[0]))
    ring = [*points[first:], *points[:first], points[first]]
    kept = iter(shapely.LineString(ring).simplify(ON_LINE_MM, preserve_topology=False).coords)
    ends, wanted = [], next(kept)
    for number, point in enumerate(ring):
        if wanted is not None and point[:2] == wanted[:2]:
            ends.append(number)
            wanted = next(kept, None)  # type: ignore[arg-type]
    runs: list[list[tuple[float, ...]]] = []
    for start, end in pairwise(ends):
        run = ring[start : end + 1]
        if runs and _is_straight([*runs[-1], *run[1:]]):
            runs[-1] += run[1:]
        else:
            runs.append(run)
    return [LineString(run) for run in runs]


def _is_straight(points: Sequence[tuple[float, ...]]) -> bool:
    chord = LineString([points[0], points[-1]])
    if chord.length < LEAST_EDGE_MM:
        return False
    return bool((shapely.distance(shapely.points(points), chord) <= ON_LINE_MM).all())


def _way(line: LineString) -> float:
    """The direction away from the metal, which lies on the left of every ring."""
    (x0, y0), (x1, y1) = line.coords[0][:2], line.coords[-1][:2]
    return math.degrees(math.atan2(x0 - x1, y1 - y0)) % 360.0


def _name(line: LineString) -> str:
    return _WAYS[round(_way(line) / 45.0) % 8]


def clean_keys(edges: Iterable[Edge], now: Edges) -> set[str]:
    """Keys of the edges that are clean all along."""
    if not now.clean:
        return set()
    if now.rough is None:
        return {edge.key for edge in edges}
    band = now.rough.buffer(ON_LINE_MM, cap_style="flat")
    return {
        edge.key
        for edge in edges
        if MultiLineString(edge.lines).intersection(band).length <= CRUMB_MM * (1 + len(edge.lines))
    }


def with_clean(edges: Sequence[Edge], keys: Collection[str]) -> Edges:
    """What the row says where just these edges are clean."""
    rough = [line for edge in edges if edge.key not in keys for line in edge.lines]
    if not rough:
        return ALL_CLEAN
    if len(keys) == 0 or sum(len(line.coords) for line in rough) > MOST_POINTS:
        return ALL_ROUGH
    return Edges(True, MultiLineString(rough))


def named(outline: Polygon | MultiPolygon, now: Edges) -> str:
    """The clean edges by name: "all", "none", or such as "bottom edge, left edge"."""
    if not now.clean or now.rough is None:
        return "all" if now.clean else "none"
    edges = edges_of(outline)
    keys = clean_keys(edges, now)
    return ", ".join(edge.name for edge in edges if edge.key in keys) or "parts of edges"


def left_on_offcut(
    parent: Polygon | MultiPolygon,
    now: Edges,
    offcut: Polygon,
    own: Polygon,
    *,
    clean_cuts: bool = False,
) -> Edges:
    """The edges of an offcut as it lies in its parent; `own` is the same at its own origin.

    What lies on a clean edge of the parent stays clean; every other edge was sawn, and is rough.
    With `clean_cuts` the cuts left clean edges, so only the parent's rough ones are rough.
    """
    if not now.clean and not clean_cuts:
        return ALL_ROUGH
    if now.clean and now.rough is None and clean_cuts:
        return ALL_CLEAN
    rim: BaseGeometry = parent.boundary
    if clean_cuts and now.rough is not None:
        rim = now.rough
    elif now.rough is not None:
        rim = rim.difference(now.rough.buffer(ON_LINE_MM, cap_style="flat"))
    x0, y0, *_ = offcut.bounds
    band = translate(rim, -x0, -y0).buffer(ON_LINE_MM, cap_style="flat", join_style="mitre")
    left = own.boundary.intersection(band) if clean_cuts else own.boundary.difference(band)
    lines = shapely.line_merge(left) if isinstance(left, MultiLineString) else left
    rough = [line for line in shapely.get_parts(lines) if line.length > CRUMB_MM]
    if not rough:
        return ALL_CLEAN
    if sum(len(line.coords) for line in rough) > MOST_POINTS:
        return ALL_ROUGH
    found = Edges(True, MultiLineString(rough))
    edges = edges_of(own)
    return found if clean_keys(edges, found) - {REST} else ALL_ROUGH


def carried_over(old: Polygon | MultiPolygon, now: Edges, new: Polygon | MultiPolygon) -> Edges:
    """The edges after the outline was corrected: each is what the one that faced its way was.

    Where that cannot be told, all are rough: a pattern then keeps its distance.
    """
    if now.rough is None:
        return now
    before, after = edges_of(old), edges_of(new)
    clean = clean_keys(before, now)
    rough = [edge for edge in before if edge.key not in clean]
    keys = set()
    for edge in after:
        alike = [one for one in before if _same_way(one, edge)]
        if alike and all(one.key in clean for one in alike):
            keys.add(edge.key)
    met = all(any(_same_way(one, edge) for edge in after) for one in rough)
    return with_clean(after, keys) if met else ALL_ROUGH


def _same_way(one: Edge, other: Edge) -> bool:
    if one.way_deg is None or other.way_deg is None:
        return one.way_deg is other.way_deg
    return abs((one.way_deg - other.way_deg + 180.0) % 360.0 - 180.0) <= SAME_WAY_DEG
