"""Copies of a piece joined edge to edge into blocks that lie as a whole.

What is joined keeps its shared lines however it is moved: two halves of a rectangle, a column of
tags, a grid of frames. A job with blocks for pieces is searched like any other; its plans are
taken apart again before they are judged.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from studio.core.areas import united
from studio.core.cutting.job import Job, Placement, Wanted, turns_apart
from studio.core.placing.shapes import edges_left, runs_of, turned_edges
from studio.core.placing.spacing import Spacing

from .construct import Builder

RECTANGULAR = 0.9  # share of its rectangle that a unit must cover to be joined to others
PAIR_GAIN = 0.05  # by how much more two halves must cover than one alone
WORTH_PAIRING = 0.4  # what covers less of its rectangle is hardly half of one
LEAST_MM = 3.0
HAIR_MM = 1e-4
OUT_MM = 0.01
MOST_ORDERS = 24
MOST_VERTICES = 400  # of a block: a larger one takes longer to move than it saves

Array = npt.NDArray[np.float64]
Spot = tuple[float, float, float]  # turn in degrees, x, y within the block


@dataclass(frozen=True)
class Unit:
    """The smallest block of a piece: one copy, or two of which one is turned about."""

    outline: Polygon
    spots: tuple[Spot, ...]
    turn: float  # radians: the direction of its rectangle's first side
    sides: tuple[float, float]


@dataclass(frozen=True)
class Form:
    """A job as it is searched: some of its pieces joined into blocks, or none.

    `members` has, by a block's id, what each of its copies is made of: piece, copy and spot.
    """

    whole: Job  # the job as it was asked for
    job: Job
    members: dict[str, tuple[tuple[tuple[str, int, Spot], ...], ...]]
    runs: dict[str, Array] = field(default_factory=dict)  # of blocks: those of what they hold

    @cached_property
    def builder(self) -> Builder:
        return Builder(self.job, self.runs)

    def taken_apart(self, placements: Sequence[Placement]) -> list[Placement]:
        """The placements of the pieces themselves."""
        found: list[Placement] = []
        for laid in placements:
            if laid.piece not in self.members:
                found.append(laid)
                continue
            turn = math.radians(laid.turn_deg)
            c, s = math.cos(turn), math.sin(turn)
            for piece, copy, (own, x, y) in self.members[laid.piece][laid.copy]:
                only = self.whole.wanted_by_id[piece].turns_deg
                angle = round((laid.turn_deg + own) % 360.0, 6) % 360.0
                if only is not None:
                    angle = min(only, key=lambda allowed: turns_apart(allowed, angle))
                found.append(
                    Placement(
                        piece,
                        copy,
                        laid.metal,
                        laid.mirror,  # of a single copy: blocks are never mirrored
                        angle,
                        round(laid.x_mm + x * c - y * s, 6),
                        round(laid.y_mm + x * s + y * c, 6),
                    )
                )
        return found


def units_of(job: Job) -> dict[int, Unit]:
    """What can be joined, by the index of the piece."""
    size = [-wanted.count * wanted.outline.area for wanted in job.pieces]
    found: dict[int, Unit] = {}
    tried = 0
    for index in np.argsort(size, kind="stable").tolist():
        wanted = job.pieces[index]
        few = shapely.get_num_coordinates(wanted.outline) <= MOST_VERTICES // 2
        if not few or wanted.count < 2 or wanted.grain_deg is not None:
            continue
        rectangle = _rectangle(wanted.outline)
        if rectangle is None or rectangle[0] < WORTH_PAIRING:
            continue
        unit = _unit(wanted, Joints(job), rectangle)
        if unit is not None:
            found[index] = unit
        tried += 1
        if tried == MOST_ORDERS:
            break
    return found


def joined_at_random(
    job: Job, units: dict[int, Unit], rng: np.random.Generator, *, full: bool = False
) -> Form | None:
    """The job with some pieces in blocks; None where nothing was joined.

    `full` blocks are as long and as wide as the largest metal holds.
    """
    pieces: list[Wanted] = []
    members: dict[str, tuple[tuple[tuple[str, int, Spot], ...], ...]] = {}
    x0, y0, x1, y1 = max(job.metal, key=lambda metal: metal.outline.area).outline.bounds
    rooms = (x1 - x0, y1 - y0)
    joints = Joints(job)
    runs: dict[str, Array] = {}
    for index, wanted in enumerate(job.pieces):
        unit = units.get(index)
        copies = list(range(wanted.count))
        if unit is not None and rng.random() < 0.85:
            for number, (a, b, count) in enumerate(
                _grids(unit, wanted.count, job, rooms, rng, full=full)
            ):
                spots = joints.grid(wanted, unit, a, b)
                block = None if spots is None else _block(wanted, spots, joints, count, number)
                if spots is None or block is None:
                    continue
                pieces.append(block)
                if job.hands is not None:
                    runs[block.id] = joints.outer_runs(wanted.outline, spots, block.outline)
                members[block.id] = tuple(
                    tuple((wanted.id, copies.pop(0), spot) for spot in spots) for _ in range(count)
                )
        if copies and len(copies) == wanted.count:
            pieces.append(wanted)
        elif copies:  # single copies keep their own numbers
            name = f"{wanted.id}\n1"
            pieces.append(replace(wanted, id=name, count=len(copies)))
            members[name] = tuple(((wanted.id, copy, (0.0, 0.0, 0.0)),) for copy in copies)
    if not members or len({wanted.id for wanted in pieces}) < len(pieces):
        return None
    return Form(job, replace(job, pieces=tuple(pieces)), members, runs)


def _grids(
    unit: Unit,
    count: int,
    job: Job,
    rooms: tuple[float, float],
    rng: np.random.Generator,
    *,
    full: bool = False,
) -> list[tuple[int, int, int]]:
    """Blocks of so many units along the first and the second side, and how many of them."""
    wanted = count // len(unit.spots)
    if not full and rng.random() < 0.15:
        return [(1, 1, wanted)] if len(unit.spots) > 1 else []
    axis = int(rng.integers(0, 2))
    side = int(rng.integers(0, 2))
    room = rooms[side]
    join = Joints(job).line
    most = int((room + join) / (unit.sides[axis] + join) + 1e-9)
    along = max(1, min(most, wanted))
    across = 1
    if full:
        held = int((rooms[1 - side] + join) / (unit.sides[1 - axis] + join) + 1e-9)
        across = max(1, min(held, wanted // along))
    if not full and along > 2 and rng.random() < 0.3:
        along = int(rng.integers(2, along + 1))
    if not full and rng.random() < 0.4:
        across = int(rng.integers(1, max(1, wanted // along) + 1))
    rest = wanted % (along * across)
    shares = [(along, across, wanted // (along * across)), (along, 1, rest // along)]
    shares.append((rest % along, 1, 1))
    least = 1 if len(unit.spots) > 1 else 2
    return [(a, b, n) if axis == 0 else (b, a, n) for a, b, n in shares if n > 0 and a * b >= least]


class Joints:
    """How near copies of a piece may be joined.

    `line` mm lie between two that share a line, `wide` mm between two that do not; under the
    rules of versions 1 and 1.1 both are the kerf.
    """

    def __init__(self, job: Job) -> None:
        self.wide = job.gap_mm
        self.line = job.kerf_mm if job.hands is None else job.hands.shared_mm
        self.least = LEAST_MM if job.hands is None else job.hands.straight_min_mm
        self._spacing = None if job.hands is None else Spacing(job, job.hands)

    def may_stand(self, outline: Polygon, spots: Sequence[Spot]) -> bool:
        """Whether copies of an outline may lie so beside each other."""
        laid = [_laid(outline, spot) for spot in spots]
        if self._spacing is not None:
            return self._spacing.stand_together(laid, self._runs(outline, spots))
        one, other = laid[0], laid[-1]
        near = one.distance(other) >= self.line - 1e-6
        return near and not one.intersection(other).area > 1e-9

    def _runs(self, outline: Polygon, spots: Sequence[Spot]) -> list[Array]:
        """The straight runs of each copy."""
        runs = runs_of(outline, self.least)
        return [
            turned_edges(runs, turn, mirror=False) + np.array([x, y, x, y]) for turn, x, y in spots
        ]

    def outer_runs(self, outline: Polygon, spots: Sequence[Spot], block: Polygon) -> Array:
        """The runs of the copies in a block that others can share: each as long as it is itself,
        however long the block's own edge."""
        runs = np.vstack(self._runs(outline, spots))
        length = np.hypot(runs[:, 2] - runs[:, 0], runs[:, 3] - runs[:, 1])
        x = 0.5 * (runs[:, 0] + runs[:, 2]) + OUT_MM * (runs[:, 3] - runs[:, 1]) / length
        y = 0.5 * (runs[:, 1] + runs[:, 3]) - OUT_MM * (runs[:, 2] - runs[:, 0]) / length
        found: Array = runs[~shapely.contains_xy(block, x, y)]
        return found

    def grid(self, wanted: Wanted, unit: Unit, a: int, b: int) -> list[Spot] | None:
        """So many units along the first and second side of their rectangle, as near as may be;
        None where they may not stand so."""
        if self._spacing is None:
            return _spots(unit, a, b, self.line, self.line)
        for along, across in ((self.line, self.line), (self.line, self.wide)):
            for u, v in ((along, across), (across, along)):
                # what holds for a corner of the grid holds all over
                few = _spots(unit, min(a, 2), min(b, 2), u, v)
                if self.may_stand(wanted.outline, few):
                    return _spots(unit, a, b, u, v)
        return None


def _unit(
    wanted: Wanted, joints: Joints, rectangle: tuple[float, float, tuple[float, float]]
) -> Unit | None:
    cover, turn, sides = rectangle
    best: tuple[float, Unit] | None = None
    if cover >= RECTANGULAR:
        best = (cover + PAIR_GAIN, Unit(wanted.outline, ((0.0, 0.0, 0.0),), turn, sides))
    half_turns = wanted.turns_deg is None or any(
        turns_apart(one, other + 180.0) <= 1e-6
        for one in wanted.turns_deg
        for other in wanted.turns_deg
    )
    if half_turns and (best is None or cover < 0.99):
        for spots in _pairs(wanted.outline, joints, turn):
            outline = _outline(wanted.outline, spots, joints)
            found = None if outline is None else _rectangle(outline)
            if outline is None or found is None or found[0] < RECTANGULAR:
                continue
            if found[0] > cover + PAIR_GAIN and (best is None or found[0] > best[0]):
                best = (found[0], Unit(outline, spots, found[1], found[2]))
    return None if best is None else best[1]


def _pairs(outline: Polygon, joints: Joints, turn: float) -> list[tuple[Spot, ...]]:
    """Two copies, the second turned about: edge on edge, or slid together along a side."""
    found: list[tuple[Spot, ...]] = []
    edges = _edges(outline)
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    for k in np.argsort(-length, kind="stable")[:6].tolist():
        if length[k] < joints.least:
            break
        x0, y0, x1, y1 = edges[k].tolist()
        nx, ny = (y1 - y0) / length[k], -(x1 - x0) / length[k]  # outwards
        spot = (180.0, x0 + x1 + nx * joints.line, y0 + y1 + ny * joints.line)
        pair = ((0.0, 0.0, 0.0), spot)
        if joints.may_stand(outline, pair):
            found.append(pair)
    rim = shapely.get_coordinates(outline.exterior)
    for side in range(4):
        angle = turn + side * math.pi / 2.0
        ux, uy = math.cos(angle), math.sin(angle)
        along = rim @ np.array([ux, uy])
        across = rim @ np.array([-uy, ux])
        middle = float(across.min() + across.max())  # the copy lies level with the piece
        wide = joints.wide
        far, near = float(2.0 * along.max() + 2.0 * wide), float(along.max() + along.min())
        for _ in range(40):
            at = 0.5 * (far + near)
            spot = (180.0, at * ux - middle * uy, at * uy + middle * ux)
            if outline.distance(_laid(outline, spot)) >= wide + 1e-7:
                far = at
            else:
                near = at
        spot = (180.0, far * ux - middle * uy, far * uy + middle * ux)
        if outline.distance(_laid(outline, spot)) >= wide - 1e-6:
            found.append(((0.0, 0.0, 0.0), spot))
    return found


def _spots(unit: Unit, a: int, b: int, along: float, across: float) -> list[Spot]:
    c, s = math.cos(unit.turn), math.sin(unit.turn)
    found: list[Spot] = []
    for i in range(a):
        for j in range(b):
            u, v = i * (unit.sides[0] + along), j * (unit.sides[1] + across)
            found.extend((t, x + u * c - v * s, y + u * s + v * c) for t, x, y in unit.spots)
    return found


def _block(
    wanted: Wanted, spots: list[Spot], joints: Joints, count: int, number: int
) -> Wanted | None:
    if shapely.get_num_coordinates(wanted.outline) * len(spots) > MOST_VERTICES:
        return None
    outline = _outline(wanted.outline, spots, joints)
    if outline is None:
        return None
    turns = wanted.turns_deg
    if turns is not None and len({t for t, _, _ in spots}) > 1:
        turns = tuple(
            t for t in turns if any(turns_apart(t + 180.0, other) <= 1e-6 for other in turns)
        )
    return Wanted(f"{wanted.id}\n{len(spots)}\n{number}", outline, count, turns)


def _outline(outline: Polygon, spots: Sequence[Spot], joints: Joints) -> Polygon | None:
    """All copies and the saw lines between them as one; None where they do not hang together."""
    laid = [_laid(outline, spot) for spot in spots]
    if len(laid) == 1:
        return laid[0]
    by = joints.wide / 2.0 + HAIR_MM
    union = united(laid)
    closed = union.buffer(by, join_style="mitre").buffer(-by, join_style="mitre")
    whole = united([closed, *laid])
    if not isinstance(whole, Polygon):
        return None
    plain = whole.simplify(1e-6)
    return plain if isinstance(plain, Polygon) and plain.is_valid else None


def _laid(outline: Polygon, spot: Spot) -> Polygon:
    turn, x, y = spot
    turned = affinity.rotate(outline, turn, origin=(0.0, 0.0)) if turn else outline
    return affinity.translate(turned, x, y)


def _edges(outline: Polygon) -> Array:
    """Edges of the shell with the piece on the left."""
    return edges_left(Polygon(shapely.simplify(outline.exterior, 1e-6)))


def _rectangle(outline: Polygon) -> tuple[float, float, tuple[float, float]] | None:
    """The least rectangle around a shell: share of it covered, direction (radians), sides."""
    hull = outline.convex_hull
    if not isinstance(hull, Polygon):
        return None
    edges = _edges(hull)
    best: tuple[float, float, tuple[float, float]] | None = None
    for x0, y0, x1, y1 in edges.tolist():
        if math.hypot(x1 - x0, y1 - y0) < LEAST_MM:
            continue
        turn = math.atan2(y1 - y0, x1 - x0)
        u = np.array([math.cos(turn), math.sin(turn)])
        v = np.array([-u[1], u[0]])
        wide, high = float(np.ptp(edges[:, :2] @ u)), float(np.ptp(edges[:, :2] @ v))
        if best is None or wide * high < best[2][0] * best[2][1] - 1e-9:
            best = (0.0, turn, (wide, high))
    if best is None:
        return None
    _, turn, (wide, high) = best
    return Polygon(outline.exterior).area / (wide * high), turn, (wide, high)
