"""Rounds of drawing in a strip on two lanes; where they get no further, one begins anew."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from shapely.geometry import box

from studio.core.placing.job import Job, Metal, Order, Placement
from studio.core.placing.kernels import Floats, Ints
from studio.core.placing.lanes import LANES, lane_seed, on_all_lanes
from studio.core.placing.narrowing import COMPRESS, EXPLORE, NEW, begin_anew, hunt_of, narrow
from studio.core.placing.shapes import Shape
from studio.core.placing.strip_forms import Ground, blank
from studio.core.placing.strip_kernels import BEST, LINE, PHASE, Strip
from studio.core.verifying import faults

BUDGET = 800_000  # evaluations of a lane in one round
EXPLORING = 0.8  # share of the time or the rounds; the rest is for compressing
LONGER = 0.15  # a lane begins anew in a strip longer by this share
PATIENCE = 40  # rounds without progress, then a lane begins anew
PROGRESS = 0.001  # as a share of the length, worth its name
HAIR_MM = 1e-7


class Narrower:
    """Makes a complete plan of a strip shorter, round by round."""

    def __init__(self, job: Job, shapes: Sequence[Shape], placements: Sequence[Placement]) -> None:
        self.job = job
        self.ground = Ground(job, shapes)
        self.items = [(p.piece, p.copy) for p in placements]
        form, pose = self._poses(placements)
        self.lanes: list[Strip] = [self.ground.strip(form, pose) for _ in range(LANES)]
        # each lane fills its own: two cannot write at once into the same
        self.tables = [self.ground.tables, blank(self.ground.tables)]
        self.hunts = [hunt_of(len(form)) for _ in range(LANES)]
        self.good = (pose, form, float(self.lanes[0].bounds[BEST]))
        self.apart = False  # whether the last lane has a layout of its own
        self.since = (self.good[2], 0)  # the length that progress is reckoned from, and when

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
        if self.apart and not explore:
            self.apart = False
            self._share()

        def run(lane: int, stop: Ints) -> None:
            strip, hunt, own = self.lanes[lane], self.hunts[lane], lane_seed(seed, number, lane)
            stays = self.apart and lane < LANES - 1  # it goes on in small steps meanwhile
            mode = EXPLORE if explore and not stays else COMPRESS
            narrow(self.ground.forms, self.tables[lane], strip, hunt, stop, own, BUDGET, mode)

        on_all_lanes(run, workers, go_on)
        found = self._settle()
        to_come = number / max(share, 1e-9) * (EXPLORING - share)
        if self._stuck(number):
            self.apart = to_come > PATIENCE
            if self.apart:
                self._begin_anew(seed, number)
            else:
                self._share()
        return found

    def _stuck(self, number: int) -> bool:
        """Whether there was no progress worth its name for long; then reckoned anew."""
        length = float(self.lanes[-1].bounds[BEST])
        before, last = self.since
        if length < before - PROGRESS * self.length_mm:
            self.since = (length, number)
        elif number - last >= PATIENCE:
            self.since = (self.good[2] + LONGER * self.length_mm, number)
            return True
        return False

    def _settle(self) -> list[Placement] | None:
        """Judge what the lanes have found, the shortest first; lanes not apart go on from that."""
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
        self._share()
        return found

    def _share(self) -> None:
        """Let every lane go on from the best, but one that is apart and has not come so far."""
        pose, form, line = self.good
        last = self.lanes[-1]
        self.apart = self.apart and last.bounds[BEST] > line + HAIR_MM
        for lane in self.lanes[:-1] if self.apart else self.lanes:
            lane.best_pose[:] = pose
            lane.best_form[:] = form
            lane.bounds[BEST] = line
            if lane.bounds[LINE] >= line - HAIR_MM:  # its target has been reached by the other
                lane.tally[PHASE] = NEW

    def _begin_anew(self, seed: int, number: int) -> None:
        """The last lane strews its pieces at random in a longer strip."""
        begin_anew(
            self.ground.forms,
            self.tables[-1],
            self.lanes[-1],
            self.hunts[-1],
            lane_seed(seed, number, LANES),
            self.good[2] + LONGER * self.length_mm,
        )

    def _poses(self, placements: Sequence[Placement]) -> tuple[Ints, Floats]:
        """Forms and poses in the order of the items."""
        by_copy = {(p.piece, p.copy): p for p in placements}
        laid = [self.ground.pose(by_copy[item]) for item in self.items]
        form = np.array([found[0] for found in laid], dtype=np.int64)
        return form, np.array([found[1:] for found in laid])


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
    begin_anew(forms, tables, narrower.lanes[1], narrower.hunts[1], 1, 60.0)
