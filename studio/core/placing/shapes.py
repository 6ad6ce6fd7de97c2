"""Pieces as the search sees them: plainer outlines, the turns worth trying, grown by the kerf."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from studio.core.cutting.job import Job, Stock, Wanted, allowed_turns

SIMPLIFY_MM = 0.05  # the search's outlines are never further outside the true ones than this
SLACK_MM = 0.0003  # contact is allowed for by shrinking the moving piece, once, here
MOST_VARIANTS = 2_000
NARROW_MM, SHARP, BLUNT = 0.6, 3.0, 1.25  # how far mitres reach, in times of what is grown
LINE_MM = 1e-6  # what goes on in one line is one edge
SIMPLE_VERTICES = 24  # outlines with fewer vertices are taken as they are

Array = npt.NDArray[np.float64]


def plainer(polygon: Polygon, most_mm: float) -> Polygon:
    """A polygon of fewer vertices that covers `polygon`, nowhere further out than `most_mm`.

    Straight edges stay in their lines, so that they can still be laid flush.
    """
    polygon = orient(polygon)
    if shapely.get_num_coordinates(polygon) <= SIMPLE_VERTICES:
        return polygon
    shell = _plainer_ring(shapely.get_coordinates(polygon.exterior)[:-1], most_mm)
    windows = [
        _plainer_ring(shapely.get_coordinates(ring)[:-1], most_mm) for ring in polygon.interiors
    ]
    found = Polygon(shell, [w for w in windows if len(w) >= 3])
    if not found.is_valid or found.area < polygon.area or not found.buffer(1e-6).covers(polygon):
        return polygon
    return found


def _plainer_ring(points: Array, most: float) -> list[tuple[float, float]]:
    """The ring (solid on its left) with vertices taken away so that the solid only grows."""
    ring = [(float(x), float(y)) for x, y in points]
    drift = [0.0] * len(ring)  # how far each vertex already lies outside the true outline
    changed = True
    while changed and len(ring) > 4:
        changed = False
        i = 0
        while i < len(ring) and len(ring) > 4:
            n = len(ring)
            a, b, c = ring[i - 1], ring[i], ring[(i + 1) % n]
            if _turn(a, b, c) <= 0.0:  # an inward corner: filling it only adds metal
                off = _away(b, a, c) + max(drift[i - 1], drift[(i + 1) % n])
                if off <= most:
                    del ring[i], drift[i]
                    if i < len(ring):
                        drift[i] = max(drift[i], off if off > 1e-9 else 0.0)
                    changed = True
                    continue
            else:  # two outward corners in a row: meet where their outer edges cross
                d = ring[(i + 2) % n]
                meet = _cross(a, b, d, c) if _turn(b, c, d) > 0.0 else None
                if meet is not None:
                    off = _away(meet, b, c) + max(drift[i], drift[(i + 1) % n])
                    if off <= most:
                        ring[i], drift[i] = meet, off
                        j = (i + 1) % n
                        del ring[j], drift[j]
                        changed = True
                        continue
            i += 1
    return ring


Point = tuple[float, float]


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _away(p: Point, a: Point, b: Point) -> float:
    length = math.dist(a, b)
    if length < 1e-12:
        return math.dist(p, a)
    return abs((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / length


def _cross(a: Point, b: Point, d: Point, c: Point) -> Point | None:
    """Where the line a-b, lengthened past b, meets d-c, lengthened past c."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    det = ux * vy - uy * vx
    if abs(det) < 1e-12:
        return None
    s = ((d[0] - a[0]) * vy - (d[1] - a[1]) * vx) / det
    t = ((d[0] - a[0]) * uy - (d[1] - a[1]) * ux) / det
    if s < 1.0 or t < 1.0:
        return None
    return a[0] + ux * s, a[1] + uy * s


def edges_left(region: Polygon | MultiPolygon) -> Array:
    """All edges (x0, y0, x1, y1) of a region, its inside on their left, ring after ring."""
    rings = shapely.get_rings(shapely.get_parts(shapely.orient_polygons(region)))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    edges = np.hstack([coords[:-1], coords[1:]])[ring[:-1] == ring[1:]]
    found: Array = edges[np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]) > 1e-9]
    return found


def straight_lines(edges: Array, least: float) -> Array:
    """Edges that go on in one line joined, and of them those of at least `least` mm."""
    if not len(edges):
        return edges
    joined: list[list[float]] = []
    for x0, y0, x1, y1 in edges.tolist():
        last = joined[-1] if joined else None
        if last is not None and _goes_on(last, x0, y0, x1, y1):
            last[2], last[3] = x1, y1
        else:
            joined.append([x0, y0, x1, y1])
    rows = np.array(joined)
    found: Array = rows[np.hypot(rows[:, 2] - rows[:, 0], rows[:, 3] - rows[:, 1]) >= least - 1e-9]
    return found


def runs_of(outline: Polygon, least: float, *, windows: bool = True) -> Array:
    """The straight runs of an outline that are long enough to be shared, the piece on the left."""
    rings = [outline.exterior, *(outline.interiors if windows else ())]
    plain = Polygon(
        shapely.simplify(rings[0], LINE_MM), [shapely.simplify(ring, LINE_MM) for ring in rings[1:]]
    )
    return straight_lines(edges_left(plain if plain.is_valid else outline), least)


def _goes_on(line: Sequence[float], x0: float, y0: float, x1: float, y1: float) -> bool:
    if abs(line[2] - x0) > LINE_MM or abs(line[3] - y0) > LINE_MM:
        return False
    ux, uy = line[2] - line[0], line[3] - line[1]
    vx, vy = x1 - x0, y1 - y0
    length = math.hypot(ux, uy)
    return abs(ux * vy - uy * vx) <= LINE_MM * length and ux * vx + uy * vy > 0.0


def grown(outline: Polygon, by: float) -> Polygon:
    """An outline with so much around it: no less anywhere, a little more at corners."""
    if by <= 0.0:
        return outline
    # a wide gap would reach far beyond sharp corners; a narrow one keeps edges few
    limit = SHARP if by <= NARROW_MM else BLUNT
    return outline.buffer(by, join_style="mitre", mitre_limit=limit)


def polygonal(region: shapely.Geometry, least: float = 0.0) -> Polygon | MultiPolygon:
    """The polygons of a region larger than `least`, without the points and lines that touching
    leaves behind."""
    if isinstance(region, Polygon):
        return region
    parts = [p for p in shapely.get_parts(region) if isinstance(p, Polygon) and p.area > least]
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


@dataclass(frozen=True)
class Variant:
    """A piece at one turn, mirrored or not, about the origin."""

    turn_deg: float
    mirror: bool
    outline: Polygon  # plainer, but covering the true outline
    gap: float  # what stays free around it
    shape: int  # index of the shape that this is a variant of
    runs: Array  # its straight runs where the rules for hands ask for them (`rooms.runs_of`)

    @cached_property
    def shrunk(self) -> Polygon:
        """What must lie within the free region: contact is no overlap."""
        inner = self.outline.buffer(-SLACK_MM, join_style="mitre")
        whole = isinstance(inner, Polygon) and not inner.is_empty
        return inner if whole else self.outline

    @cached_property
    def grown(self) -> Polygon:
        """What is no longer free once the piece lies there."""
        return self.grown_by(self.gap)

    def grown_by(self, gap: float) -> Polygon:
        """The outline with so much around it, or a little more at corners."""
        return grown(self.outline, gap)

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        x0, y0, x1, y1 = self.outline.bounds
        return x0, y0, x1, y1

    @cached_property
    def inside_mm(self) -> float:
        """Radius of a circle that lies within the piece, a little less than the largest."""
        radius = shapely.maximum_inscribed_circle(self.shrunk).length
        return max(0.0, float(radius) * 0.98 - SLACK_MM)

    @cached_property
    def edges(self) -> Array:
        return edges_left(self.outline)

    @cached_property
    def corners(self) -> Array:
        """Outward corners between straight edges long enough to be laid flush: at most 12 rows
        (x, y, direction of the edge that arrives, direction of the edge that leaves)."""
        return corners_of(self.edges, least=2.0)[:12]


def corners_of(edges: Array, *, least: float) -> Array:
    """Corners that turn left between edges of at least `least` mm, the longest edges first."""
    count = len(edges)
    if not count:
        return np.zeros((0, 4))
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    heading = np.arctan2(edges[:, 3] - edges[:, 1], edges[:, 2] - edges[:, 0])
    # the edge before: the row above, or the ring's last row for the first one of a ring
    before = np.arange(count) - 1
    starts = np.flatnonzero(np.abs(edges[:, :2] - edges[before, 2:]).max(axis=1) > 1e-8)
    starts = np.unique(np.append(starts, 0))
    before[starts] = np.append(starts[1:], count) - 1
    bend = (heading - heading[before] + np.pi) % (2 * np.pi) - np.pi
    shorter = np.minimum(length, length[before])
    rows = np.flatnonzero((shorter >= least) & (bend > 1e-3))
    rows = rows[np.argsort(-shorter[rows], kind="stable")]
    return np.column_stack([edges[rows, :2], heading[before[rows]], heading[rows]])


class Shape:
    """A wanted piece ready for the search; its variants are made when first asked for."""

    def __init__(self, index: int, wanted: Wanted, job: Job, runs: Array | None = None) -> None:
        self.index = index
        self.wanted = wanted
        self.gap = job.gap_mm
        self.runs = np.zeros((0, 4)) if runs is None else runs
        if runs is None and job.hands is not None:
            self.runs = runs_of(wanted.outline, job.hands.straight_min_mm)
        size = math.sqrt(wanted.outline.area)
        self.plain = plainer(wanted.outline, min(SIMPLIFY_MM, 0.002 * size))
        self.area = float(wanted.outline.area)
        self.covered = float(Polygon(wanted.outline.exterior).area)  # windows and all
        x0, y0, x1, y1 = wanted.outline.bounds
        self.longest = math.hypot(x1 - x0, y1 - y0)
        self.width = max(x1 - x0, y1 - y0)  # no turn makes it fit a smaller span
        self._variants: dict[tuple[float, bool], Variant] = {}

    def variant(self, turn_deg: float, mirror: bool) -> Variant:
        key = (round(turn_deg % 360.0, 6) % 360.0, mirror)
        if len(self._variants) > MOST_VARIANTS:  # a search at any turn makes new ones for ever
            self._variants.clear()
        if key not in self._variants:
            plain = self.plain
            if mirror:
                plain = affinity.scale(plain, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
            turned = affinity.rotate(plain, key[0], origin=(0.0, 0.0))
            runs = turned_edges(self.runs, key[0], mirror=mirror)
            self._variants[key] = Variant(
                key[0], mirror, orient(turned), self.gap, self.index, runs
            )
        return self._variants[key]

    def variants(
        self, metal: Stock, metal_angles: tuple[float, ...], *, wide: bool
    ) -> list[Variant]:
        """Variants worth trying on a metal whose long edges run at `metal_angles`.

        `wide` adds mirrored ones and, where any turn is allowed, a regular fan.
        """
        key = (metal_angles, metal.grain_deg, wide)
        cached = self._sets.get(key)
        if cached is None:
            cached = self._sets[key] = self._choose(metal, metal_angles, wide)
        return cached

    @cached_property
    def _sets(self) -> dict[tuple[tuple[float, ...], float | None, bool], list[Variant]]:
        return {}

    def _choose(self, metal: Stock, metal_angles: tuple[float, ...], wide: bool) -> list[Variant]:
        mirrors = (False, True) if wide and self.wanted.may_mirror else (False,)
        found: list[Variant] = []
        seen: set[tuple[tuple[float, float], ...]] = set()
        for mirror in mirrors:
            only = allowed_turns(self.wanted, metal, mirror=mirror)
            if only is None:
                turns = self._turns_along(metal_angles, wide)
            else:
                turns = list(only if wide else only[:8])
            for turn in turns:
                variant = self.variant(turn, mirror)
                look = _look(variant)
                if look not in seen:
                    seen.add(look)
                    found.append(variant)
        return found

    def _turns_along(self, metal_angles: tuple[float, ...], wide: bool) -> list[float]:
        """Turns that bring the piece's long edges along the metal's, and with `wide` a fan."""
        turns: list[float] = []
        headings = _headings(self.plain)[: 4 if wide else 2]
        for angle in metal_angles[: 2 if wide else 1]:
            for heading in headings:
                turns.extend((angle - heading + quarter) % 360.0 for quarter in QUARTERS)
        if wide:
            turns.extend(float(turn) for turn in range(0, 360, 15))
        return turns


QUARTERS = (0.0, 90.0, 180.0, 270.0)


def turned_edges(edges: Array, turn_deg: float, *, mirror: bool) -> Array:
    """Edges mirrored (and turned about, so that the piece stays on their left), then turned."""
    if not len(edges):
        return edges
    if mirror:
        edges = np.column_stack([-edges[:, 2], edges[:, 3], -edges[:, 0], edges[:, 1]])
    quarters = turn_deg / 90.0
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    if quarters == round(quarters):  # as exact as the outlines
        c, s = float(round(c)), float(round(s))
    turn = np.array([[c, s], [-s, c]])
    return np.hstack([edges[:, :2] @ turn, edges[:, 2:] @ turn])


def _look(variant: Variant) -> tuple[tuple[float, float], ...]:
    """The variant's vertices from its lower left corner: equal for turns that look the same."""
    x0, y0, _, _ = variant.bounds
    coords = np.round(shapely.get_coordinates(variant.outline) - (x0, y0), 3) + 0.0
    return tuple(sorted({(x, y) for x, y in coords.tolist()}))


def _headings(polygon: Polygon) -> list[float]:
    """Directions (degrees, modulo 90) that matter on a piece: long straight edges, tightest box."""
    edges = edges_left(polygon)
    dx, dy = edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]
    length = np.hypot(dx, dy)
    angle = np.degrees(np.arctan2(dy, dx)) % 90.0
    weight: dict[float, float] = {}
    x0, y0, x1, y1 = polygon.bounds
    for turn, run in zip(np.round(angle, 6).tolist(), length.tolist(), strict=True):
        if run >= 0.12 * max(x1 - x0, y1 - y0):
            near = next((a for a in weight if _apart(a, turn) < 0.02), None)
            weight[turn if near is None else near] = weight.get(near or turn, 0.0) + run
    found = sorted(weight, key=lambda a: -weight[a])[:3]
    tight = polygon.minimum_rotated_rectangle
    if isinstance(tight, Polygon):
        corners = shapely.get_coordinates(tight)
        side = corners[1] - corners[0]
        heading = math.degrees(math.atan2(side[1], side[0])) % 90.0
        if all(_apart(heading, a) > 0.5 for a in found):
            found.insert(min(1, len(found)), heading)
    return found or [0.0]


def _apart(a: float, b: float) -> float:
    away = abs(a - b) % 90.0
    return min(away, 90.0 - away)
