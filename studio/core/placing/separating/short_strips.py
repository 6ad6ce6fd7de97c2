"""Strips of any height for the pieces of one group, made ready for the compiled search once."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from shapely.geometry import box

from studio.core.cutting.job import Hands, Job, Placement, Stock, Wanted
from studio.core.placing.shapes import Shape

from .condensing import condense
from .flat import Plane, lane_of, stock_of
from .kernels import Floats, Region

CELLS = 48  # of the field of distances along the longer side: it need only tell how far out
FULL = 0.62  # share of the strip that pieces take, where seeking begins
LONGEST = 3.0  # times that length


class Strips:
    """The pieces of one group, moved apart in rectangles of one height after another."""

    def __init__(self, job: Job, grain_deg: float | None, high: float, wide: float) -> None:
        """`high` and `wide` are of a strip in which turns are chosen; any will do."""
        metal = Stock("strip", box(0, 0, wide, high), 3e-4, clean_edges=False, grain_deg=grain_deg)
        self.job = replace(job, metal=(metal,), edge_margin_mm=0.0, kerf_mm=job.kerf_mm)
        self.shapes = [Shape(k, wanted, job) for k, wanted in enumerate(job.pieces)]
        self.plane = Plane(self.job, (0,), "EN")
        self.stock = stock_of(self.shapes, self.plane)
        self.mirror = {k: mirror for (_, mirror), k in self.stock.number.items()}
        self.items = [(shape, copy) for shape in self.shapes for copy in range(shape.wanted.count)]
        # about what a piece takes, with half the gap around it: neighbours reach into its hull
        grown = [shape.wanted.outline.buffer(0.5 * job.gap_mm) for shape, _ in self.items]
        self.area = sum(0.5 * (outline.area + outline.convex_hull.area) for outline in grown)

    def condensed(
        self, high: float, most: float, seed: int, budget: int, go_on: Callable[[], bool]
    ) -> list[Placement] | None:
        """The pieces in a rectangle of a height, as far to the left as was found, its lower left
        corner the origin; None where they were never moved apart within `most` mm."""
        first = self.area / (FULL * high)
        region = self._region(high, min(most, LONGEST * first + 20.0))
        if not go_on():
            return None
        kinds = [self.stock.number[shape.index, False] for shape, _ in self.items]
        lane = lane_of(self.stock, self.plane, kinds, np.zeros((len(kinds), 3)))
        stop = np.zeros(1, dtype=np.int64)
        found = condense(self.stock.kinds, region, lane, stop, seed % (2**32 - 5), budget, first)
        if not found:
            return None
        return [
            Placement(
                shape.wanted.id,
                copy,
                "strip",
                self.mirror[int(kind)],
                round(math.degrees(float(pose[2])) % 360.0, 6) % 360.0,
                float(pose[0]),
                float(pose[1]),
            )
            for (shape, copy), kind, pose in zip(
                self.items, lane.best_kind, lane.best_pose, strict=True
            )
        ]

    def _region(self, high: float, wide: float) -> Region:
        """A rectangle as the compiled search sees metal: none of its edges is clean."""
        job = self.job
        cell = max(high, wide) / CELLS
        gx = (np.arange(math.ceil(wide / cell) + 5) - 2) * cell
        gy = (np.arange(math.ceil(high / cell) + 5) - 2) * cell
        x, y = np.meshgrid(gx, gy)
        edges = np.array(
            [(0, 0, wide, 0), (wide, 0, wide, high), (wide, high, 0, high), (0, high, 0, 0)],
            dtype=float,
        )
        none: Floats = np.zeros((0, 4))
        hands = job.hands
        rules = [0.0] * 5
        if hands is not None:
            rules = [1.0, job.kerf_mm, hands.gap_mm, hands.shared_mm, hands.straight_min_mm]
        return Region(
            edges=edges,
            starts=np.zeros((1, 2)),
            long=edges,
            clean=none,
            box=np.array([0.0, 0.0, wide, high]),
            field=_depth(x, y, wide, high),
            origin=np.array([-2 * cell, -2 * cell, cell]),
            ends=np.array([wide]),
            kerf=float(job.gap_mm),
            rules=np.array(rules),
            hard=edges if hands is not None else none,
            hard_starts=np.zeros((1, 2)) if hands is not None else np.zeros((0, 2)),
            near=none,
            lines=none,
        )


def _depth(x: Floats, y: Floats, wide: float, high: float) -> Floats:
    """The signed distance to a rectangle's rim, positive inside."""
    dx, dy = np.maximum(-x, x - wide), np.maximum(-y, y - high)
    outside = np.hypot(np.maximum(dx, 0.0), np.maximum(dy, 0.0))
    found: Floats = -outside - np.minimum(np.maximum(dx, dy), 0.0)
    return found


def rehearse() -> None:
    """Run the compiled loop once on a tiny job."""
    hands = Hands(gap_mm=1.0, shared_mm=0.5)
    job = Job((), (Wanted("p", box(0, 0, 6, 4), 2, may_mirror=True),), hands=hands)
    for each in (job, replace(job, hands=None)):
        Strips(each, None, 12.0, 40.0).condensed(12.0, 40.0, 1, 300, lambda: True)
