"""What is wrong with the pieces on one stock piece by the rules for hands.

One gap holds between pieces, and from pieces to clean edges. Only along free edges and shared lines
and near their ends (the zone) is the kerf enough; rough edges have a margin of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.cutting.job import Hands, Job, Placement, Stock
from studio.core.verifying.cuts import (
    MetalEdges,
    Settled,
    metal_edges,
    near_pairs,
    outlines_of,
    settle,
)
from studio.core.verifying.fault import TOLERANCE_MM, Fault, between, nearer_than, too_near
from studio.core.verifying.kept import Kept
from studio.core.verifying.saw_lines import ON_EDGE_MM, merged, spans_beside, stretch_of
from studio.core.verifying.sides import Sides
from studio.core.verifying.zones import outside

Array = npt.NDArray[np.float64]
ZONE_GAPS = 2.0
"""The zone reaches so many gaps from the ends of free edges and shared lines."""


@dataclass(frozen=True)
class _Ground:
    """Everything that rules look at, on one stock piece or one part of it."""

    job: Job
    hands: Hands
    metal: Stock
    pieces: Sequence[Placement]
    outlines: Sequence[Polygon]
    settled: Settled
    edges: MetalEdges
    kept: Kept
    numbers: Sequence[int]
    rests: dict[tuple[int, bool], tuple[bytes, Array]] = field(default_factory=dict)

    @property
    def sides(self) -> Sequence[Sides]:
        return self.settled.sides

    @property
    def reach(self) -> float:
        return ZONE_GAPS * self.hands.gap_mm + TOLERANCE_MM

    def left_outside(self, i: int, *, of_all: bool) -> tuple[bytes, Array]:
        """The edges of a piece beyond reach of free edges, or `of_all` lines of the zone.

        With them the lines that are near the piece, which is what they follow from.
        """
        if (i, of_all) not in self.rests:
            edges = self.sides[i].edges
            lines = self.zone if of_all else self.settled.free_lines
            near = lines[_box_near(lines, self.sides[i].box, self.reach)]
            beside = near.tobytes()
            key = ("outside", self.numbers[i], beside)
            rest = self.kept.get(key, lambda: outside(edges, near, self.reach))
            self.rests[i, of_all] = beside, rest
        return self.rests[i, of_all]

    @cached_property
    def zone(self) -> Array:
        return np.vstack([self.settled.free_lines, self.settled.shared_lines])


def by_hand_faults(
    job: Job,
    metal: Stock,
    pieces: Sequence[Placement],
    standing: Collection[Placement],
    off: Collection[Placement],
    kept: Kept,
) -> list[Fault]:
    """The faults of pieces on one stock piece, or on one part of it, against its edges and against
    each other; edges that cuts have made are passed over.

    All of `pieces` lie on `metal` and name what the job knows, and the job has rules for hands.
    Those `standing` where the job has fixed them are judged only against pieces that do not, those
    `off` the metal against no edge.
    """
    hands = job.hands
    assert hands is not None
    ground = _Ground(
        job,
        hands,
        metal,
        pieces,
        outlines_of(job, pieces, kept),
        settle(job, hands, metal, pieces, kept),
        metal_edges(job, hands, metal, kept),
        kept,
        kept.numbers(pieces),
    )
    stand = [p in standing for p in pieces]
    found: list[Fault] = []
    for i, stands in enumerate(stand):
        if not stands and pieces[i] not in off:
            found.extend(_against_edges(ground, i))
    reach = max(hands.gap_mm, hands.shared_mm, job.kerf_mm, TOLERANCE_MM)
    for i, j in near_pairs(ground.sides, reach):
        if not (stand[i] and stand[j]):
            found.extend(_against_piece(ground, i, j, reach))
    return found


def _against_edges(ground: _Ground, i: int) -> Iterable[Fault]:
    p, outline = ground.pieces[i], ground.outlines[i]
    rough, clean = ground.edges.rough, ground.edges.clean
    least = ground.job.edge_gap_mm
    gaps = ground.kept.get(
        ("from edges", ground.metal.id, p),
        lambda: (_distance(outline, rough), _distance(outline, clean)),
    )
    if gaps[0] < least - TOLERANCE_MM:
        yield _edge_fault(p, gaps[0], least, between(outline, rough), "that is not clean")
    gap, kerf = ground.hands.gap_mm, ground.job.kerf_mm
    if gaps[1] >= gap - TOLERANCE_MM:
        return
    for of_all, wanted in ((False, kerf), (True, gap)):
        beside, rest = ground.left_outside(i, of_all=of_all)
        near = ground.kept.get(
            ("nearest clean", ground.metal.id, ground.numbers[i], beside, wanted),
            partial(_nearest, rest, clean, wanted - TOLERANCE_MM),
        )
        if near is not None:
            yield _edge_fault(p, near[0], wanted, near[1], "where it does not lie along it")
            return


def _edge_fault(
    p: Placement, gap: float, least: float, at: tuple[float, float] | None, which: str
) -> Fault:
    message = f"{gap:.3f} mm from an edge {which}; {least:g} mm is the least"
    return Fault("too-near-edge", message, p.piece, p.copy, at=at, value_mm=gap, limit_mm=least)


def _against_piece(ground: _Ground, i: int, j: int, reach: float) -> Iterable[Fault]:
    p, q = ground.pieces[i], ground.pieces[j]
    one, other = ground.outlines[i], ground.outlines[j]
    gap, kerf = ground.hands.gap_mm, ground.job.kerf_mm
    near, within_kerf, faces = ground.kept.get(
        ("nearness", ground.numbers[i], ground.numbers[j]), _nearness(ground, i, j, reach)
    )
    if not near:
        return
    if within_kerf:
        told = "too near", ground.numbers[i], ground.numbers[j]
        yield ground.kept.get(told, lambda: too_near(p, q, one, other, kerf))
        return
    if faces is not None:
        yield too_near(p, q, faces, other, ground.hands.shared_mm, "too-near-line")
        return
    if gap <= kerf:
        return
    found = []
    for own, its, outline in ((i, j, other), (j, i, one)):
        beside, rest = ground.left_outside(own, of_all=True)
        nearest = ground.kept.get(
            ("nearest", ground.numbers[own], ground.numbers[its], beside),
            partial(_nearest, rest, outline, gap - TOLERANCE_MM),
        )
        if nearest is not None:
            found.append(nearest)
    if found:
        distance, at = min(found)
        message = f"{distance:.3f} mm from {q.piece}, copy {q.copy}; {gap:g} is the least"
        yield Fault("too-near-piece", message, p.piece, p.copy, q.piece, q.copy, at, distance, gap)


def _nearness(
    ground: _Ground, i: int, j: int, reach: float
) -> Callable[[], tuple[bool, bool, MultiLineString | None]]:
    """Whether two pieces are within reach, within the kerf, and the runs that are too near."""

    def judged() -> tuple[bool, bool, MultiLineString | None]:
        one, other = ground.outlines[i], ground.outlines[j]
        if not shapely.dwithin(one, other, reach):
            return False, False, None
        if nearer_than(one, other, ground.job.kerf_mm):
            return True, True, None
        return True, False, _too_narrow(ground.sides[i], ground.sides[j], ground.hands)

    return judged


def _too_narrow(one: Sides, other: Sides, hands: Hands) -> MultiLineString | None:
    """The straight runs of a piece that face another's nearer than a shared line is wide."""
    # what keeps the gap needs no shared line, however wide that would be
    narrow = min(hands.shared_mm - ON_EDGE_MM, hands.gap_mm) - TOLERANCE_MM
    if narrow <= 0.0 or not len(one.runs) or not len(other.runs):
        return None
    least = max(hands.straight_min_mm, 1e-6)
    half = narrow / 2.0
    spans = spans_beside(one.runs, other.runs, gap=half, facing=-1.0, least=least, true_to=half)
    lines = [
        stretch_of(one.runs[k], span) for k, of_run in spans.items() for span in merged(of_run)
    ]
    lines = [line for line in lines if line.length >= least - 1e-6]
    return MultiLineString(lines) if lines else None


def _nearest(
    edges: Array, other: BaseGeometry, less_than: float
) -> tuple[float, tuple[float, float]] | None:
    """How near edges come to a geometry, and where, if nearer than so much."""
    if not len(edges) or other.is_empty or less_than <= 0.0:
        return None
    edges = edges[_box_near(edges, np.array(other.bounds), less_than)]
    if not len(edges):
        return None
    gaps = np.asarray(shapely.distance(shapely.linestrings(edges.reshape(-1, 2, 2)), other))
    k = int(np.argmin(gaps))
    if gaps[k] >= less_than:
        return None
    at = between(LineString(edges[k].reshape(2, 2)), other)
    assert at is not None
    return float(gaps[k]), at


def _distance(outline: Polygon, edges: MultiLineString) -> float:
    return float("inf") if edges.is_empty else float(outline.distance(edges))


def _box_near(lines: Array, box: Array, reach: float) -> npt.NDArray[np.bool_]:
    """Which lines have boxes that come within reach of a box."""
    low = np.minimum(lines[:, :2], lines[:, 2:])
    high = np.maximum(lines[:, :2], lines[:, 2:])
    low_enough, high_enough = low <= box[2:] + reach, high >= box[:2] - reach
    return np.asarray((low_enough & high_enough).all(axis=1))
