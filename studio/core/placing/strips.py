"""Rounds of drawing in a strip on two lanes, and how the library's answer joins them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait

import numpy as np
from shapely.geometry import box

from studio.core.placing.job import Job, Metal, Order, Placement
from studio.core.placing.kernels import Floats, Ints
from studio.core.placing.narrowing import COMPRESS, EXPLORE, Hunt, hunt_of, narrow, take_over
from studio.core.placing.shapes import Shape
from studio.core.placing.strip_forms import Ground, blank
from studio.core.placing.strip_kernels import BEST, LINE, PHASE, Strip
from studio.core.placing.strip_library import Library, is_there, suits
from studio.core.verifying import faults

LANES = 2  # always two, on one thread or on two, so that a plan can be made again
BUDGET = 120_000  # evaluations of a lane in one round
POLL_SECONDS = 0.05
EXPLORING = 0.9  # share of the time or the rounds; the rest is for compressing
HAIR_MM = 1e-7
LIBRARY_SHARE = 0.4  # of the time left: what it finds is then drawn in further
LIBRARY_FROM_SECONDS = 60.0  # in shorter runs both cores find more by themselves


class Narrower:
    """Makes a complete plan of a strip shorter, round by round.

    Given `seconds`, the library works beside the first lane for a part of them; the second lane
    begins where it ends. Given none, rounds and seed alone say what is found.
    """

    def __init__(
        self,
        job: Job,
        shapes: Sequence[Shape],
        placements: Sequence[Placement],
        *,
        seconds: float = 0.0,
        seed: int = 1,
    ) -> None:
        self.job = job
        self.library: Library | None = None
        self.ahead: tuple[list[Placement], float] | None = None
        if seconds >= LIBRARY_FROM_SECONDS and is_there() and suits(job):
            self.library = Library(
                job, shapes, seconds=LIBRARY_SHARE * seconds, seed=seed, workers=1
            )
        self.ground = Ground(job, shapes)
        self.items = [(p.piece, p.copy) for p in placements]
        form, pose = self._poses(placements)
        self.lanes: list[Strip] = [self.ground.strip(form, pose) for _ in range(LANES)]
        # each lane fills its own: what is known, and so the loss to a hair, is then its own doing
        self.tables = [self.ground.tables, blank(self.ground.tables)]
        self.hunts: list[Hunt] = [hunt_of(len(form)) for _ in range(LANES)]
        self.good = (pose, form, float(self.lanes[0].bounds[BEST]))

    def end(self) -> None:
        """Stop the library where it is still at work."""
        if self.library is not None:
            self.library.end()
            self.library = None

    @property
    def length_mm(self) -> float:
        """From the strip's left end to the line of the best plan."""
        return self.good[2] - float(self.ground.room[0])

    def round(
        self, seed: int, number: int, workers: int, share: float, go_on: Callable[[], bool]
    ) -> list[Placement] | None:
        """One round on both lanes; a shorter plan with no fault, where one is found.

        `share` says how much of the search lies behind. A round that `go_on` ends early counts
        as far as it came.
        """
        explore = share < EXPLORING
        forms, tables = self.ground.forms, self.tables
        stop = np.zeros(1, dtype=np.int64)
        busy = self._ask_library()

        def run(lane: int) -> None:
            mode = EXPLORE if explore and lane == 1 else COMPRESS
            own = _seed(seed, number, lane)
            narrow(forms, tables[lane], self.lanes[lane], self.hunts[lane], stop, own, BUDGET, mode)

        with ThreadPoolExecutor(max_workers=max(1, min(workers, LANES))) as pool:
            waiting = {pool.submit(run, lane) for lane in range(1 if busy else LANES)}
            while waiting:
                done, waiting = wait(waiting, timeout=POLL_SECONDS)
                for future in done:
                    future.result()
                if not go_on():
                    stop[0] = 1
        return self._settle()

    def _ask_library(self) -> bool:
        """Follow the library where it is ahead, once it has ended; whether it is at work."""
        if self.library is None:
            return False
        self.ahead = self.library.newest() or self.ahead
        if self.library.at_work:
            return True
        self.end()
        if self.ahead is not None:
            self.follow(*self.ahead)
        return False

    def follow(self, placements: Sequence[Placement], length_mm: float) -> None:
        """Let the second lane go on from a plan made elsewhere that is shorter than the best.

        It need not be free of overlap: what is left of it is moved apart like any other.
        """
        if length_mm >= self.length_mm - HAIR_MM:
            return
        form, pose = self._poses(placements)
        line = float(self.ground.room[0]) + length_mm
        lane, hunt = self.lanes[-1], self.hunts[-1]
        take_over(self.ground.forms, self.tables[-1], lane, hunt, pose, form, line)

    def _settle(self) -> list[Placement] | None:
        """Judge what the lanes have found, the shortest first, and let both go on from it."""
        found: list[Placement] | None = None
        for lane in sorted(self.lanes, key=lambda lane: float(lane.bounds[BEST])):
            if lane.bounds[BEST] >= self.good[2] - HAIR_MM:
                break
            placements = [
                self.ground.placement(int(form), copy, float(x), float(y))
                for (_, copy), form, (x, y) in zip(
                    self.items, lane.best_form, lane.best_pose, strict=True
                )
            ]
            if not faults(self.job, placements):
                found = placements
                self.good = lane.best_pose.copy(), lane.best_form.copy(), float(lane.bounds[BEST])
                break
        pose, form, line = self.good
        for lane in self.lanes:
            lane.best_pose[:] = pose
            lane.best_form[:] = form
            lane.bounds[BEST] = line
            if lane.bounds[LINE] >= line - HAIR_MM:  # its target has been reached by the other
                lane.tally[PHASE] = 0
        return found

    def _poses(self, placements: Sequence[Placement]) -> tuple[Ints, Floats]:
        """Forms and poses in the order of the items."""
        by_copy = {(p.piece, p.copy): p for p in placements}
        laid = [self.ground.pose(by_copy[item]) for item in self.items]
        form = np.array([found[0] for found in laid], dtype=np.int64)
        return form, np.array([found[1:] for found in laid])


def _seed(seed: int, number: int, lane: int) -> int:
    return (seed * 1_000_003 + number * 101 + lane) % (2**32 - 5)


def rehearse() -> None:
    """Run every compiled loop once on a tiny strip."""
    turns = (0.0, 90.0)
    job = Job(
        (Metal("a", box(0, 0, 60, 20)),),
        (Order("p", box(0, 0, 6, 4), 3, turns), Order("q", box(0, 0, 9, 5), 2, turns)),
        goal="strip",
    )
    shapes = [Shape(i, order, job) for i, order in enumerate(job.pieces)]
    laid = [
        *(Placement("p", k, "a", False, 0.0, 10.0 * k, 0.0) for k in range(3)),
        *(Placement("q", k, "a", False, 0.0, 30.0 + 12.0 * k, 0.0) for k in range(2)),
    ]
    narrower = Narrower(job, shapes, laid)
    forms, tables = narrower.ground.forms, narrower.ground.tables
    stop = np.zeros(1, dtype=np.int64)
    for mode in (EXPLORE, COMPRESS):
        narrow(forms, tables, narrower.lanes[0], narrower.hunts[0], stop, 1, 300, mode)
    lane, hunt = narrower.lanes[1], narrower.hunts[1]
    take_over(forms, tables, lane, hunt, lane.best_pose.copy(), lane.best_form.copy(), 50.0)
