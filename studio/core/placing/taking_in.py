"""What found no place takes part: laid on the metal over what lies there, then moved apart.

Two lanes, each with an attempt of its own, over all metal offered. The first tries with as many
of those left out as the metal's area could hold, the other with half of them; an attempt that
fails takes in half as many the next time. Where pieces cannot all be moved apart, those that
stay in conflict are dropped again, which may still leave fewer out than before.

One rectangle with listed turns is drawn in from a longer one besides (`strips.longer`), on tables.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon, box

from studio.core.cutting.job import Job, Placement, Stock, Wanted

from .rooms import room_of
from .separating.flat import FlatShapes, Plane, lane_of, stock_of
from .separating.kernels import Floats, Ints, Lane
from .separating.lanes import LANES, lane_seed, on_all_lanes
from .separating.taking_in import (
    APART,
    FAILED,
    PHASE,
    lay_all,
    move_apart,
    strew,
)
from .shapes import Shape
from .strips.longer import OnLongerMetal, may_be_longer
from .too_large import TooLarge

BUDGET = 60_000  # evaluations of a lane in one round
MOST_METALS = 40  # what is touched already, then the largest
STREWN = 0.25  # how often the second lane begins with every piece anywhere
ON_TABLES = 3  # of four rounds, where a longer rectangle may be drawn in

Copies = Sequence[tuple[Shape, int]]


@dataclass
class Attempt:
    """One lane's pieces: those of a plan, and after them some that it left out."""

    items: list[int]  # indices of copies
    taken: int  # how many of them, the last ones, the plan left out
    lane: Lane


@dataclass(frozen=True)
class Round:
    """Where a search stands: its best plan, and what chance and clock say."""

    placements: Sequence[Placement]
    left: Sequence[int]
    seed: int
    number: int
    share: float  # of the search that lies behind
    workers: int
    go_on: Callable[[], bool]


@dataclass(frozen=True)
class Found:
    """A plan that leaves fewer out than the one begun from, to be judged."""

    placements: list[Placement]
    left: tuple[int, ...]


class TakingIn:
    """Attempts at laying what plans of one job leave out."""

    def __init__(
        self,
        job: Job,
        shapes: Sequence[Shape],
        copies: Copies,
        metals: Sequence[int],
        too_large: TooLarge,
    ) -> None:
        self.job = job
        self.shapes = shapes
        self.copies = copies
        self.too_large = too_large
        self.plane = Plane(job, metals, "EN")
        self.stock: FlatShapes = stock_of(shapes, self.plane)
        self.mirror = {k: mirror for (_, mirror), k in self.stock.number.items()}
        self.number = {(shape.wanted.id, copy): k for k, (shape, copy) in enumerate(copies)}
        self.area = sum(float(room_of(job, job.metal[k]).hard.area) for k in metals)
        self.attempts: list[Attempt | None] = [None] * LANES
        self.most = [0] * LANES  # how many the next attempt takes in; 0 for all that may fit
        self.on_tables = may_be_longer(job)
        self.longer: OnLongerMetal | None = None
        self.rounds = 0

    def could_hold(self, placements: Sequence[Placement], left: Sequence[int]) -> list[int]:
        """Those left out, the smallest first, for as long as the metal's area is enough."""
        area = sum(self.job.wanted_by_id[p.piece].outline.area for p in placements)
        able = [k for k in left if not self.too_large.proved(self.copies[k][0].wanted)]
        found = []
        for index in sorted(able, key=lambda k: (self.copies[k][0].area, k)):
            area += self.copies[index][0].area
            if area > self.area * 1.001:
                break
            found.append(index)
        return found

    def round(self, at: Round) -> list[Found] | None:
        """One round on both lanes; plans that leave fewer out, the fewest first.

        None when the clock stopped it.
        """
        number, self.rounds = self.rounds, self.rounds + 1
        if self.on_tables and number % (ON_TABLES + 1) < ON_TABLES:
            return self._draw_in(at)
        return self._move_apart(at)

    def _draw_in(self, at: Round) -> list[Found] | None:
        """One round of drawing in all pieces from a longer rectangle."""
        if self.longer is None:
            waiting = [self.copies[k] for k in self.could_hold(at.placements, at.left)]
            self.longer = OnLongerMetal(self.job, self.shapes, at.placements, waiting)
        laid = self.longer.round(at.seed, at.number, at.workers, at.share, at.go_on)
        if not at.go_on():
            return None
        own = [self.number[p.piece, p.copy] for p in laid]
        return self._found(at, laid, own)

    def _move_apart(self, at: Round) -> list[Found] | None:
        """One round of moving apart what lies over others."""
        attempts = [
            attempt or self._begin(at, index) for index, attempt in enumerate(self.attempts)
        ]
        kinds, region = self.stock.kinds, self.plane.region

        def run(index: int, stop: Ints) -> None:
            own = lane_seed(at.seed, at.number, index)
            move_apart(kinds, region, attempts[index].lane, stop, own, BUDGET)

        if not on_all_lanes(run, at.workers, at.go_on):
            return None
        found: list[Found] = []
        for index, attempt in enumerate(attempts):
            kept = self._freed(attempt)
            if len(self.copies) - len(kept) < len(at.left):
                laid = [self._placement(attempt, k) for k in kept]
                found += self._found(at, laid, [attempt.items[k] for k in kept])
            phase = int(attempt.lane.tally[PHASE])
            ended = phase in (APART, FAILED)
            self.attempts[index] = None if ended else attempt
            if ended:
                self.most[index] = attempt.taken // 2 if phase == FAILED else 0
        return sorted(found, key=lambda plan: len(plan.left))

    def _found(self, at: Round, laid: list[Placement], own: Sequence[int]) -> list[Found]:
        """A plan of the copies `own`, where that leaves fewer out."""
        rest = tuple(sorted(set(range(len(self.copies))) - set(own)))
        return [Found(laid, rest)] if len(rest) < len(at.left) else []

    def _begin(self, at: Round, lane: int) -> Attempt:
        """A plan's pieces where they lie, and some of those left out anywhere."""
        rng = np.random.default_rng([at.seed, at.number, lane])
        able = self.could_hold(at.placements, at.left)
        count = self.most[lane] or (len(able) if lane == 0 else (len(able) + 1) // 2)
        # the smaller, the more likely
        size = np.array([self.copies[k][0].area for k in able])
        order = np.argsort(size * np.exp(0.5 * rng.standard_normal(len(size))), kind="stable")
        taken = [able[k] for k in order[:count].tolist()]
        items = [self.number[p.piece, p.copy] for p in at.placements]
        mirrors = [p.mirror for p in at.placements] + [False] * len(taken)
        kind = [
            self.stock.number[self.copies[k][0].index, mirror]
            for k, mirror in zip([*items, *taken], mirrors, strict=True)
        ]
        pose = np.zeros((len(kind), 3))
        for k, placement in enumerate(at.placements):
            pose[k] = self.plane.pose(placement)
        made = lane_of(self.stock, self.plane, kind, pose)
        everywhere = lane > 0 and rng.random() < STREWN
        first, own = 0 if everywhere else len(items), lane_seed(at.seed, at.number, LANES + lane)
        strew(self.stock.kinds, self.plane.region, made, first, own)
        return Attempt([*items, *taken], len(taken), made)

    def _freed(self, attempt: Attempt) -> list[int]:
        """The pieces of an attempt's least overlap without those that are most in conflict."""
        lane = attempt.lane
        now = lane.pose.copy(), lane.kind.copy()
        lane.pose[:], lane.kind[:] = lane.aside_pose, lane.aside_kind
        lay_all(self.stock.kinds, self.plane.region, lane)
        kept = [k for k in range(len(lane.kind)) if lane.rim_loss[k] <= 0.0]
        loss = lane.loss.copy()
        lane.pose[:], lane.kind[:] = now
        lay_all(self.stock.kinds, self.plane.region, lane)
        while True:
            among = loss[np.ix_(kept, kept)]
            pairs = (among > 0.0).sum(axis=1)
            if not pairs.any():
                return kept
            worst = max(range(len(kept)), key=lambda k: (pairs[k], among[k].sum(), -k))
            del kept[worst]

    def _placement(self, attempt: Attempt, k: int) -> Placement:
        shape, copy = self.copies[attempt.items[k]]
        kind, pose = int(attempt.lane.aside_kind[k]), attempt.lane.aside_pose[k]
        return self.plane.placement(shape, copy, self.mirror[kind], pose, self._box(kind, pose))

    def _box(self, kind: int, pose: Floats) -> Floats:
        rings = self.stock.kinds.body
        points = rings.points[rings.at[kind] : rings.at[kind + 1]]
        x = points[:, 0] * np.cos(pose[2]) - points[:, 1] * np.sin(pose[2]) + pose[0]
        return np.array([x.min(), 0.0, x.max(), 0.0])


def metals_worth(job: Job, order: Sequence[int], placements: Sequence[Placement]) -> list[int]:
    """The stock pieces to use: those touched, then the largest, as far as they hold a piece."""
    touched = {p.metal for p in placements}
    least = min(wanted.outline.area for wanted in job.pieces if wanted.count)
    able = [k for k in order if job.metal[k].outline.area >= least]
    able = [k for k in able if not room_of(job, job.metal[k]).hard.is_empty]
    able.sort(key=lambda k: (job.metal[k].id not in touched, -job.metal[k].outline.area))
    chosen = set(able[:MOST_METALS])
    return [k for k in order if k in chosen]


def rehearse() -> None:
    """Run the compiled loops once on a tiny job: three pieces on metal for four."""
    window = Polygon(box(0, 0, 9, 9).exterior, [box(3, 3, 6, 6).exterior])
    job = Job(
        (Stock("a", box(0, 0, 20, 10)),),
        (Wanted("p", box(0, 0, 6, 4), 2), Wanted("q", window, 1, (0.0, 90.0), may_mirror=True)),
    )
    shapes = [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)]
    copies = [(shape, copy) for shape in shapes for copy in range(shape.wanted.count)]
    laid = [Placement("q", 0, "a", False, 0.0, 5.0, 0.0)]
    taking_in = TakingIn(job, shapes, copies, (0,), TooLarge(job))
    taking_in.round(Round(laid, (0, 1), 1, 0, 0.0, 1, lambda: True))
