"""Rounds of guided local search on two lanes, the same whatever the clock or the threads do."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from shapely.geometry import Polygon, box

from studio.core.cutting.job import Job, Placement, Stock, Wanted
from studio.core.placing.shapes import Shape

from .flat import FlatShapes, Plane, lane_of, stock_of
from .kernels import Floats, Ints, Lane
from .lanes import LANES, lane_seed, on_all_lanes
from .polishing import polish
from .separation import NEW, explore, furthest

BUDGET = 60_000  # evaluations of a lane in one round
POLISHING = 40_000
HEAT_MM = 4.0
ROOM = 0.02  # share of the length by which pieces may lie further out for a while


class Improver:
    """Draws the sweep line in, round by round, from a plan that is valid to begin with."""

    def __init__(
        self,
        job: Job,
        shapes: Sequence[Shape],
        placements: Sequence[Placement],
        metals: Sequence[int],
        fill: str,
    ) -> None:
        self.job = job
        self.plane = Plane(job, metals, fill)
        self.stock: FlatShapes = stock_of(shapes, self.plane)
        by_id = {shape.wanted.id: shape for shape in shapes}
        self.items = [(by_id[p.piece], p.copy) for p in placements]
        kind = [self.stock.number[(by_id[p.piece].index, p.mirror)] for p in placements]
        pose = np.array([self.plane.pose(p) for p in placements])
        self.mirror = {k: mirror for (_, mirror), k in self.stock.number.items()}
        self.lanes = [lane_of(self.stock, self.plane, kind, pose) for _ in range(LANES)]
        for lane in self.lanes:
            right = furthest(self.stock.kinds, lane)
            lane.line[0] = lane.line[1] = right
            used = max(right - self.plane.region.box[0], 1e-9)
            lane.line[2] = 0.015 * used
        self.lanes[1].line[2] *= 3.0
        self.good = self._kept(self.lanes[0])

    def takes(self, placements: Sequence[Placement]) -> bool:
        """Whether a plan has the very pieces of this improver, on its metal."""
        metals = {self.job.metal[sheet.index].id for sheet in self.plane.sheets}
        own = {(shape.wanted.id, copy) for shape, copy in self.items}
        return {p.metal for p in placements} <= metals and {
            (p.piece, p.copy) for p in placements
        } == own

    def follow(self, placements: Sequence[Placement]) -> None:
        """Go on from a plan made elsewhere where it is shorter than the best here."""
        pose, kind, line = self._poses(placements)
        if line < self.good[2] - 1e-6:
            self.good = (pose, kind, line)
            self.adopt(None)

    def _poses(self, placements: Sequence[Placement]) -> tuple[Floats, Ints, float]:
        """Poses and kinds in the order of the items, and the furthest right end."""
        by_copy = {(p.piece, p.copy): p for p in placements}
        laid = [by_copy[shape.wanted.id, copy] for shape, copy in self.items]
        pose = np.array([self.plane.pose(p) for p in laid])
        kind = np.array(
            [
                self.stock.number[shape.index, p.mirror]
                for (shape, _), p in zip(self.items, laid, strict=True)
            ],
            dtype=np.int64,
        )
        right = max(float(self._box(int(k), at)[2]) for k, at in zip(kind, pose, strict=True))
        return pose, kind, right

    def round(self, seed: int, number: int, workers: int, go_on: Callable[[], bool]) -> bool:
        """One round on all lanes; False when the clock stopped it, which leaves no trace."""
        kinds, region = self.stock.kinds, self.plane.region

        def run(index: int, stop: Ints) -> None:
            own = lane_seed(seed, number, index)
            explore(kinds, region, self.lanes[index], stop, own, BUDGET, index)

        return on_all_lanes(run, workers, go_on)

    def polish(
        self,
        seed: int,
        number: int,
        workers: int,
        go_on: Callable[[], bool],
        cheapest: Sequence[Placement],
    ) -> list[list[Placement]]:
        """Plans with pieces laid flush where that saves sawing: from the shortest on one lane,
        from the cheapest and with a little more room on the other. Empty when cut short."""
        kinds, region = self.stock.kinds, self.plane.region
        lanes = []
        for (pose, kind, line), more in ((self.good, 0.0), (self._poses(cheapest), ROOM)):
            lane = lane_of(self.stock, self.plane, kind.tolist(), pose)
            lane.line[1] = line + more * (line - self.plane.region.box[0])
            lanes.append(lane)

        def run(index: int, stop: Ints) -> None:
            own = lane_seed(seed, number, 7 + index)
            polish(kinds, region, lanes[index], stop, own, POLISHING, HEAT_MM * index)

        if not on_all_lanes(run, workers, go_on):
            return []
        return [self._placements(lane.kind, lane.pose) for lane in lanes]

    def candidates(self) -> list[int]:
        """Lanes that have drawn the line in since `adopt`, the furthest first."""
        found = [k for k in range(LANES) if self.lanes[k].line[1] < self.good[2] - 1e-7]
        return sorted(found, key=lambda k: (self.lanes[k].line[1], k))

    def adopt(self, index: int | None) -> None:
        """Go on from a lane's best, or from the last that was good when none is."""
        if index is not None:
            self.good = self._kept(self.lanes[index])
        pose, kind, line = self.good
        for lane in self.lanes:
            lane.best_pose[:] = pose
            lane.best_kind[:] = kind
            lane.line[1] = line
            if lane.line[0] >= line - 1e-9:
                lane.tally[2] = NEW

    def placements(self, index: int) -> list[Placement]:
        """A lane's best as placements."""
        lane = self.lanes[index]
        return self._placements(lane.best_kind, lane.best_pose)

    def _placements(self, kinds: Ints, poses: Floats) -> list[Placement]:
        found = []
        for (shape, copy), kind, pose in zip(self.items, kinds, poses, strict=True):
            found.append(
                self.plane.placement(
                    shape, copy, self.mirror[int(kind)], pose, self._box(int(kind), pose)
                )
            )
        return found

    def _box(self, kind: int, pose: Floats) -> Floats:
        rings = self.stock.kinds.body
        points = rings.points[rings.at[kind] : rings.at[kind + 1]]
        c, s = np.cos(pose[2]), np.sin(pose[2])
        x = points[:, 0] * c - points[:, 1] * s + pose[0]
        return np.array([x.min(), 0.0, x.max(), 0.0])

    @staticmethod
    def _kept(lane: Lane) -> tuple[Floats, Ints, float]:
        return lane.best_pose.copy(), lane.best_kind.copy(), float(lane.line[1])


def rehearse() -> None:
    """Run every compiled loop once on a tiny job."""
    window = Polygon(box(0, 0, 9, 9).exterior, [box(3, 3, 6, 6).exterior])
    job = Job(
        (Stock("a", box(0, 0, 40, 20)), Stock("b", window)),
        (Wanted("p", box(0, 0, 6, 4), 2), Wanted("q", window, 1, (0.0, 90.0), may_mirror=True)),
    )
    shapes = [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)]
    laid = [
        Placement("p", 0, "a", False, 0.0, 0.0, 0.0),
        Placement("p", 1, "a", False, 0.0, 10.0, 0.0),
        Placement("q", 0, "a", False, 0.0, 20.0, 0.0),
    ]
    improver = Improver(job, shapes, laid, (0, 1), "EN")
    stop = np.zeros(1, dtype=np.int64)
    for index, lane in enumerate(improver.lanes):
        explore(improver.stock.kinds, improver.plane.region, lane, stop, 1, 300, index)
        polish(improver.stock.kinds, improver.plane.region, lane, stop, 1, 300, 1.0)
