"""A job as flat arrays for the compiled search, and poses turned back into placements."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from studio.core.cutting.job import Job, Placement, Stock, allowed_turns, turns_apart
from studio.core.placing.rooms import room_of
from studio.core.placing.shapes import Shape, edges_left, grown, plainer, turned_edges

from .by_hand import MOST_LINES
from .kernels import Floats, Ints, Kinds, Lane, Region, Rings
from .separation import KEPT

HAIR_MM = 3e-4  # contact is allowed for by shrinking what moves
POLES = 12
POLES_SHARE = 0.88  # of the area, then no more circles are added
FIELD_CELLS = 12_000
FLUSH_LEAST_MM = 3.0
MOST_RUNS = 24
LONG_SHARE = 0.1  # an edge is worth laying flush from this share of the piece's size on
HEADING = {"E": 0.0, "N": 90.0, "W": 180.0, "S": 270.0}


@dataclass(frozen=True)
class Sheet:
    """A stock piece in the plane: its index in the job, and where it has been shifted to."""

    index: int
    dx: float
    dy: float
    box: tuple[float, float, float, float]


class Plane:
    """All stock pieces of a job, turned so that they fill along x, one behind another."""

    def __init__(self, job: Job, metals: Sequence[int], fill: str) -> None:
        self.job = job
        self.turn_deg = -HEADING[fill[0]]
        self.sheets: list[Sheet] = []
        between = max(1.0, 2.0 * job.gap_mm)
        parts: list[Polygon] = []
        clean: list[Floats] = [np.zeros((0, 4))]
        hard: list[Polygon] = []
        near: list[Floats] = [np.zeros((0, 4))]
        lines: list[Floats] = [np.zeros((0, 4))]
        at = 0.0
        for index in metals:
            metal = job.metal[index]
            room = room_of(job, metal) if job.hands is not None else None
            free = _free(metal, job.edge_gap_mm) if room is None else _plain(room.hard)
            if free.is_empty:
                continue
            turned = affinity.rotate(free, self.turn_deg, origin=(0.0, 0.0))
            x0, y0, x1, _ = turned.bounds
            laid = affinity.translate(turned, at - x0, -y0)
            self.sheets.append(Sheet(index, at - x0, -y0, laid.bounds))
            if room is None:
                parts.extend(_polygons(laid))
                if metal.clean_edges:
                    clean.append(_worth_lying_on(edges_left(laid)))
            else:
                hard.extend(_polygons(laid))
                soft = affinity.rotate(_plain(room.soft), self.turn_deg, origin=(0.0, 0.0))
                parts.extend(_polygons(affinity.translate(soft, at - x0, -y0)))
                near.append(self._here(room.rim, self.sheets[-1]))
                lines.append(self._here(room.lines, self.sheets[-1]))
            at += x1 - x0 + between
        self.outline = MultiPolygon(parts or hard)
        ends = [sheet.box[2] for sheet in self.sheets]
        self.region = _region(
            parts or hard,
            np.vstack(lines if job.hands is not None else clean),
            ends,
            job,
            hard,
            np.vstack(near),
        )

    def _here(self, edges: Floats, sheet: Sheet) -> Floats:
        """Edges of a stock piece as they lie in the plane."""
        turned = turned_edges(edges, self.turn_deg, mirror=False)
        found: Floats = turned + np.array([sheet.dx, sheet.dy, sheet.dx, sheet.dy])
        return found

    def pose(self, placement: Placement) -> tuple[float, float, float]:
        """Where a placement lies in the plane: x, y and turn in radians."""
        sheet = next(s for s in self.sheets if self.job.metal[s.index].id == placement.metal)
        c, s = _quarter(self.turn_deg)
        x = placement.x_mm * c - placement.y_mm * s + sheet.dx
        y = placement.x_mm * s + placement.y_mm * c + sheet.dy
        return x, y, math.radians(placement.turn_deg + self.turn_deg)

    def placement(
        self, shape: Shape, copy: int, mirror: bool, pose: Sequence[float], box: Floats
    ) -> Placement:
        """The placement of a pose; `box` (in the plane) says on which stock piece it lies."""
        middle = 0.5 * (float(box[0]) + float(box[2]))
        sheet = min(self.sheets, key=lambda s: max(s.box[0] - middle, middle - s.box[2], 0.0))
        c, s = _quarter(-self.turn_deg)
        px, py = float(pose[0]) - sheet.dx, float(pose[1]) - sheet.dy
        turn = (math.degrees(float(pose[2])) - self.turn_deg) % 360.0
        turn = round(turn, 6) % 360.0
        only = allowed_turns(shape.wanted, self.job.metal[sheet.index], mirror=mirror)
        if only:
            turn = min(only, key=lambda allowed: turns_apart(allowed, turn))
        return Placement(
            shape.wanted.id,
            copy,
            self.job.metal[sheet.index].id,
            mirror,
            turn,
            round(px * c - py * s, 6),
            round(px * s + py * c, 6),
        )


@dataclass(frozen=True)
class FlatShapes:
    """All kinds of pieces of a job, flat; kind numbers by shape and mirroring."""

    kinds: Kinds
    number: dict[tuple[int, bool], int]

    def mirror_of(self, kind: int) -> bool:
        return next(mirror for (_, mirror), k in self.number.items() if k == kind)


def stock_of(shapes: Sequence[Shape], plane: Plane) -> FlatShapes:
    """The kinds of all shapes, mirrored ones beside their own where that is allowed."""
    metals = [plane.job.metal[sheet.index] for sheet in plane.sheets]
    outlines: list[Polygon] = []
    owners: list[tuple[Shape, bool]] = []
    for shape in shapes:
        mirrors = (False, True) if shape.wanted.may_mirror else (False,)
        for mirror in mirrors:
            plain = shape.plain
            if mirror:
                plain = affinity.scale(plain, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
            outlines.append(orient(plain))
            owners.append((shape, mirror))
    number = {(shape.index, mirror): k for k, (shape, mirror) in enumerate(owners)}
    solids = [grown_form(o, s.gap / 2.0) for o, (s, _) in zip(outlines, owners, strict=True)]
    runs = [turned_edges(_longest(s.runs), 0.0, mirror=mirror) for s, mirror in owners]
    moving = [shrunk(o) for o in solids]
    poles = [poles_of(o) for o in moving]
    longs = [long_edges(o) for o in solids]
    true = [long_edges(o) for o in outlines]
    only = [_allowed(shape, mirror, metals) for shape, mirror in owners]
    turns = [
        _turns(shape, mirror, few, metals, plane.turn_deg)
        for (shape, mirror), few in zip(owners, only, strict=True)
    ]
    first = [p[0] for p in poles]
    kinds = Kinds(
        solid=_rings(solids),
        moving=_rings(moving),
        body=_rings([shrunk(o) for o in outlines]),
        pole_at=starts_of(poles),
        poles=np.ascontiguousarray(np.vstack(poles).T),
        size=np.array([math.sqrt(o.convex_hull.area) for o in solids]),
        reach=np.array(
            [
                (
                    math.sqrt(o.area),
                    float(np.hypot(*(shapely.get_coordinates(o) - p[:2]).T).max()),
                )
                for o, p in zip(solids, first, strict=True)
            ]
        ),
        mirrored=np.array(
            [number.get((shape.index, not mirror), -1) for shape, mirror in owners],
            dtype=np.int64,
        ),
        turn_at=starts_of(turns),
        turns=np.concatenate(turns),
        free_turn=np.array([int(few is None) for few in only], dtype=np.int64),
        flush_at=starts_of(longs),
        flush=np.vstack(longs),
        true_at=starts_of(true),
        true_flush=np.vstack(true),
        run_at=starts_of(runs),
        run=np.vstack(runs),
    )
    return FlatShapes(kinds, number)


def lane_of(stock: FlatShapes, plane: Plane, kind: Sequence[int], pose: Floats) -> Lane:
    """A lane in which the pieces lie as given; its best is what it begins with."""
    kinds = stock.kinds
    n = len(kind)
    sizes = [int(kinds.solid.at[k + 1] - kinds.solid.at[k]) for k in kind]
    poles = [int(kinds.pole_at[k + 1] - kinds.pole_at[k]) for k in kind]
    most = 8 * max(
        16, *(int(np.diff(rings.at).max()) for rings in (kinds.solid, kinds.moving, kinds.body))
    )
    own = np.array(kind, dtype=np.int64)
    return Lane(
        pose=pose.copy(),
        kind=own.copy(),
        home=np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64),
        pole_home=np.concatenate([[0], np.cumsum(poles)[:-1]]).astype(np.int64),
        world=np.zeros((sum(sizes), 2)),
        poles=np.zeros((3, sum(poles))),
        box=np.zeros((n, 4)),
        loss=np.zeros((n, n)),
        rim_loss=np.zeros(n),
        weight=np.ones((n, n)),
        rim_weight=np.ones(n),
        best_pose=pose.copy(),
        best_kind=own.copy(),
        line=np.array([plane.region.box[2], plane.region.box[2], 0.0, 0.0]),
        tally=np.array([0, 0, 0, 0, 0, int(plane.job.hands is not None)], dtype=np.int64),
        spare=np.zeros((most, 2)),
        circles=np.zeros((3, POLES)),
        order=np.zeros(n, dtype=np.int64),
        spot=np.zeros(3),
        kept=np.zeros((KEPT, 3)),
        kept_kind=np.zeros(KEPT, dtype=np.int64),
        value=np.zeros(KEPT),
        aside_pose=np.zeros((n, 3)),
        aside_kind=np.zeros(n, dtype=np.int64),
        bare=np.zeros((most, 2)),
        lines=np.zeros((MOST_LINES, 5)),
    )


def _plain(region: Polygon | MultiPolygon) -> MultiPolygon:
    return MultiPolygon([_inner(part) for part in _polygons(region)])


def _free(metal: Stock, gap: float) -> Polygon | MultiPolygon:
    parts = [_inner(part) for part in metal.parts]
    if not metal.clean_edges and gap > 0.0:
        parts = [p for part in parts for p in _polygons(part.buffer(-gap, join_style="mitre"))]
    return MultiPolygon(parts)


def _inner(part: Polygon) -> Polygon:
    """The metal with fewer vertices and nowhere larger: what is outside is made plainer."""
    if shapely.get_num_coordinates(part) <= 120:
        return part
    x0, y0, x1, y1 = part.bounds
    around = shapely.box(x0 - 10, y0 - 10, x1 + 10, y1 + 10)
    outside = Polygon(around.exterior, [part.exterior])
    shell = plainer(outside, 0.05)
    holes = [plainer(Polygon(ring), 0.05).exterior for ring in part.interiors]
    if len(shell.interiors) != 1:
        return part
    found = Polygon(shell.interiors[0], holes)
    return found if found.is_valid and part.buffer(1e-6).covers(found) else part


def _polygons(region: shapely.Geometry) -> list[Polygon]:
    return [p for p in shapely.get_parts(region) if isinstance(p, Polygon) and not p.is_empty]


def _quarter(degrees: float) -> tuple[float, float]:
    """Cosine and sine of a multiple of 90°, exact."""
    return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(degrees / 90.0) % 4]


def grown_form(outline: Polygon, by: float) -> Polygon:
    if by <= 0.0:
        return outline
    found = grown(outline, by)
    return orient(found) if isinstance(found, Polygon) else outline


def shrunk(outline: Polygon) -> Polygon:
    inner = outline.buffer(-HAIR_MM, join_style="mitre")
    return orient(inner) if isinstance(inner, Polygon) and not inner.is_empty else outline


def _rings(polygons: Sequence[Polygon]) -> Rings:
    points: list[Floats] = []
    after: list[Ints] = []
    at = [0]
    for polygon in polygons:
        begin = 0
        for ring in (polygon.exterior, *polygon.interiors):
            coords = shapely.get_coordinates(ring)[:-1]
            n = len(coords)
            points.append(coords)
            after.append(begin + (np.arange(n, dtype=np.int64) + 1) % n)
            begin += n
        at.append(at[-1] + begin)
    return Rings(np.array(at, dtype=np.int64), np.vstack(points), np.concatenate(after))


def starts_of(rows: Sequence[npt.NDArray[np.float64]]) -> Ints:
    return np.concatenate([[0], np.cumsum([len(r) for r in rows])]).astype(np.int64)


def poles_of(outline: Polygon) -> Floats:
    """Circles that fill an outline, the largest first: rows x, y, radius."""
    found: list[tuple[float, float, float]] = []
    rest: Polygon | MultiPolygon = outline
    covered = 0.0
    tolerance = 0.02 * math.sqrt(outline.area)
    while len(found) < POLES and covered < POLES_SHARE * outline.area:
        if rest.is_empty:
            break
        line = shapely.get_coordinates(shapely.maximum_inscribed_circle(rest, tolerance))
        x, y = line[0]
        radius = float(np.hypot(*(line[1] - line[0])))
        if radius < 0.2 * tolerance:
            break
        found.append((float(x), float(y), radius))
        covered += math.pi * radius * radius
        circle = shapely.Point(x, y).buffer(radius, quad_segs=6)
        rest = MultiPolygon(_polygons(rest.difference(circle)))
    if not found:
        point = outline.representative_point()
        found.append((point.x, point.y, float(point.distance(outline.boundary))))
    return np.array(found)


def long_edges(outline: Polygon) -> Floats:
    """The straight edges worth laying flush, the longest 24 at most."""
    edges = edges_left(outline)
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    least = LONG_SHARE * math.sqrt(outline.convex_hull.area)
    keep = np.flatnonzero(length >= least)
    keep = keep[np.argsort(-length[keep], kind="stable")][:24]
    found: Floats = edges[np.sort(keep)]
    return found


def _longest(edges: Floats) -> Floats:
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    found: Floats = edges[np.argsort(-length, kind="stable")[:MOST_RUNS]]
    return found


def _allowed(shape: Shape, mirror: bool, metals: Sequence[Stock]) -> list[float] | None:
    """The turns allowed on any of the metals; the judge decides where grains differ."""
    found: list[float] = []
    for metal in metals:
        only = allowed_turns(shape.wanted, metal, mirror=mirror)
        if only is None:
            return None
        found.extend(only)
    return found


def _turns(
    shape: Shape, mirror: bool, only: list[float] | None, metals: Sequence[Stock], turn_deg: float
) -> Floats:
    if only is not None:
        turns = only or [0.0]
    else:
        free = next(m for m in metals if allowed_turns(shape.wanted, m, mirror=mirror) is None)
        turns = [v.turn_deg for v in shape.variants(free, (0.0,), wide=True) if v.mirror == mirror]
        turns = turns or [0.0]
    found: Floats = np.unique(np.round(np.radians((np.array(turns) + turn_deg) % 360.0), 12))
    return found


def _worth_lying_on(edges: Floats) -> Floats:
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    found: Floats = edges[length >= FLUSH_LEAST_MM]
    return found


def _region(
    parts: Sequence[Polygon],
    clean: Floats,
    ends: list[float],
    job: Job,
    hard: Sequence[Polygon],
    near: Floats,
) -> Region:
    outline = MultiPolygon(list(parts))
    edges = edges_left(outline)
    x0, y0, x1, y1 = outline.bounds
    cell = math.sqrt((x1 - x0) * (y1 - y0) / FIELD_CELLS)
    cell = max(cell, 1e-6)
    columns, rows = math.ceil((x1 - x0) / cell) + 5, math.ceil((y1 - y0) / cell) + 5
    gx, gy = np.meshgrid(x0 + (np.arange(columns) - 2) * cell, y0 + (np.arange(rows) - 2) * cell)
    rim = outline.boundary
    shapely.prepare(rim)
    shapely.prepare(outline)
    away = shapely.distance(shapely.points(gx.ravel(), gy.ravel()), rim)
    inside = shapely.contains_xy(outline, gx.ravel(), gy.ravel())
    long = _worth_lying_on(edges)
    hands = job.hands
    rules = [0.0] * 5
    if hands is not None:
        rules = [1.0, job.kerf_mm, hands.gap_mm, hands.shared_mm, hands.straight_min_mm]
    return Region(
        edges=edges,
        starts=_starts(parts),
        long=long if len(long) else edges,
        clean=clean,
        box=np.array([x0, y0, x1, y1]),
        field=np.where(inside, away, -away).reshape(rows, columns),
        origin=np.array([x0 - 2 * cell, y0 - 2 * cell, cell]),
        ends=np.array(ends),
        kerf=float(job.gap_mm),
        rules=np.array(rules),
        hard=edges_left(MultiPolygon(list(hard))) if hard else np.zeros((0, 4)),
        hard_starts=_starts(hard),
        near=near,
        lines=clean if hands is not None else np.zeros((0, 4)),
    )


def _starts(parts: Sequence[Polygon]) -> Floats:
    """One point of every ring."""
    rings = [r for part in parts for r in (part.exterior, *part.interiors)]
    return np.array([ring.coords[0][:2] for ring in rings]).reshape(-1, 2)
