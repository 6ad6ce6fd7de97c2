"""Rounds of drawing in a strip and walking on two lanes: apart when at rest, together at last."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from shapely.geometry import box

from studio.core.cutting.job import Job, Placement, Stock, Wanted
from studio.core.placing.separating.kernels import Floats, Ints
from studio.core.placing.separating.lanes import LANES, lane_seed, on_all_lanes
from studio.core.placing.shapes import Shape
from studio.core.verifying import faults

from .drawing_in import COMPRESS, EXPLORE, NEW, begin_anew, draw_in, hunt_of
from .forms import Ground, blank
from .kernels import BEST, LINE, PHASE, Strip
from .walk import PRESSING, Walk

BUDGET = 800_000  # evaluations of a lane in one round
APART, EXPLORING = 0.6, 0.93  # shares of the search: lanes may be apart; then compressing begins
LONGER = 0.15  # a lane begins anew in a strip longer by this share
FAILURES = (5, 1)  # attempts to draw in that fail before a lane walks; one after it has rested
LEEWAY = 0.005  # by this share longer than the best, a lane's own is still walked on from
PATIENCE = 60  # rounds without progress that a lane is always granted
PROGRESS = 0.001  # as a share of the length, worth its name
HAIR_MM = 1e-7


class Since:
    """The rounds that a lane has needed to come so far, and those without progress since."""

    def __init__(self, number: int, length: float) -> None:
        self.began = self.last = number
        self.length = length

    def stuck(self, number: int, length: float) -> bool:
        """Whether half as many rounds brought nothing worth its name as had led here."""
        if length < self.length * (1.0 - PROGRESS):
            self.length, self.last = length, number
        return number - self.last > max(PATIENCE, (self.last - self.began) // 2)


class Shortener:
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
        parts = self.ground.parts
        self.walks = [
            None if parts is None else Walk(self.ground.forms, parts, self.ground.strip(form, pose))
            for _ in range(LANES)
        ]
        self.good = (pose, form, float(self.lanes[0].bounds[BEST]))
        self.rested = False  # whether the best has ever got no further
        self.apart = False  # whether every lane has a layout of its own
        self.since = [Since(0, self.length_mm) for _ in range(LANES)]

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
        mode = EXPLORE if share < EXPLORING else COMPRESS
        self.apart = self.apart and share < APART
        if not self.apart:
            self._share()

        failures = (1, 1) if self.rested else FAILURES

        def run(lane: int, stop: Ints) -> None:
            strip, hunt, own = self.lanes[lane], self.hunts[lane], lane_seed(seed, number, lane)
            tables, walk = self.tables[lane], self.walks[lane]
            if walk is not None and walk.may_go(strip, hunt, failures[lane]):
                walk.go(tables, strip, stop, own, BUDGET)
                return
            draw_in(self.ground.forms, tables, strip, hunt, stop, own, BUDGET, mode)
            if walk is not None and stop[0] == 0:
                walk.press_left(tables, strip, hunt, stop)

        on_all_lanes(run, workers, go_on)
        found = self._settle()
        if share < APART:
            self._leave_what_rests(seed, number)
        return found

    def _leave_what_rests(self, seed: int, number: int) -> None:
        """Begin anew where a layout gets no further; at first one lane stays at the best."""
        if self.apart:
            for lane in range(LANES):
                if self.since[lane].stuck(number, self._length(lane)):
                    self._begin_anew(lane, seed, number)
        elif self.since[0].stuck(number, self.length_mm):
            self.rested = self.apart = True
            if self.lanes[0].bounds[BEST] > self.good[2] + HAIR_MM:
                self._follow(0)
            self.since[0].last = number
            for lane in range(1, LANES):
                self._begin_anew(lane, seed, number)

    def _length(self, lane: int) -> float:
        return float(self.lanes[lane].bounds[BEST]) - float(self.ground.room[0])

    def _settle(self) -> list[Placement] | None:
        """Judge what the lanes have found, the shortest first."""
        for number in sorted(range(LANES), key=lambda k: float(self.lanes[k].bounds[BEST])):
            lane = self.lanes[number]
            if lane.bounds[BEST] >= self.good[2] - HAIR_MM:
                break
            placements = [
                self.ground.placement(int(form), copy, float(x), float(y))
                for (_, copy), form, (x, y) in zip(
                    self.items, lane.best_form, lane.best_pose, strict=True
                )
            ]
            if not faults(self.job, placements):
                self.good = lane.best_pose.copy(), lane.best_form.copy(), float(lane.bounds[BEST])
                return placements
            self._follow(number)
        return None

    def _share(self) -> None:
        """Let every lane go on from the best."""
        for number, lane in enumerate(self.lanes):
            if lane.bounds[BEST] > self.good[2] + self._leeway(number):
                self._follow(number)

    def _leeway(self, number: int) -> float:
        """How much longer than the best a lane's own may be to be gone on from."""
        walk = self.walks[number]
        walks = walk is not None and walk.at is not None and walk.press.fits
        return LEEWAY * self.length_mm if walks else HAIR_MM

    def _follow(self, number: int) -> None:
        """Let a lane go on from the best; it keeps its attempt where that is a shorter strip."""
        lane, walk = self.lanes[number], self.walks[number]
        pose, form, line = self.good
        lane.best_pose[:] = pose
        lane.best_form[:] = form
        lane.bounds[BEST] = line
        if walk is not None:
            walk.follow(line)  # pressed where it was found; once more might bring back a fault
        if lane.bounds[LINE] >= line - HAIR_MM:
            lane.tally[PHASE] = NEW

    def _begin_anew(self, lane: int, seed: int, number: int) -> None:
        """A lane strews its pieces at random in a longer strip."""
        length = (1.0 + LONGER) * self.length_mm
        begin_anew(
            self.ground.forms,
            self.tables[lane],
            self.lanes[lane],
            self.hunts[lane],
            lane_seed(seed, number, LANES + lane),
            float(self.ground.room[0]) + length,
        )
        walk = self.walks[lane]
        if walk is not None:
            walk.begin_anew(self.lanes[lane])
        self.since[lane] = Since(number, length)

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
        (Stock("a", box(0, 0, 60, 20)),),
        (Wanted("p", box(0, 0, 6, 4), 3, turns), Wanted("q", box(0, 0, 9, 5), 2, turns)),
        goal="strip",
    )
    shapes = [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)]
    laid = [
        *(Placement("p", k, "a", False, 0.0, 10.0 * k, 0.0) for k in range(3)),
        *(Placement("q", k, "a", False, 0.0, 30.0 + 12.0 * k, 0.0) for k in range(2)),
    ]
    shortener = Shortener(job, shapes, laid)
    forms, tables = shortener.ground.forms, shortener.ground.tables
    stop = np.zeros(1, dtype=np.int64)
    for mode in (EXPLORE, COMPRESS):
        draw_in(forms, tables, shortener.lanes[0], shortener.hunts[0], stop, 1, 300, mode)
    for walk in shortener.walks:
        if walk is not None:
            walk.go(tables, shortener.lanes[0], stop, 1, 2 * PRESSING)
    begin_anew(forms, tables, shortener.lanes[1], shortener.hunts[1], 1, 60.0)
