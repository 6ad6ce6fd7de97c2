"""One copy of a piece is tried here and there, and everything else lies."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.cutting.job import Job, Placement, Stock, Wanted, allowed_turns, turns_apart
from studio.core.verifying import Fault
from studio.core.verifying.fault import TOLERANCE_MM
from studio.core.verifying.faults import faults_of
from studio.core.verifying.kept import Kept
from studio.core.verifying.sides import sides_of

from .kinds import At, Found
from .metal_lines import (
    CORNER_LEAST_MM,
    Array,
    Spot,
)

RUNS: Final = 4
"""So many of a piece's straight runs are tried, the longest first."""
JUDGED: Final = 240
"""So often the judge is asked for one place; what fits is found long before."""
LOOKED_AT: Final = 12_000
SAME_TURN_DEG: Final = 1e-6
ON_METAL_MM: Final = 0.002


class Table:
    """Everything but one copy of a piece lies; that one is tried here and there."""

    def __init__(self, job: Job, placements: Sequence[Placement], piece: str, copy: int) -> None:
        self.job, self.piece, self.copy = job, piece, copy
        self.wanted: Wanted = job.wanted_by_id[piece]
        self.others = [
            p
            for p in placements
            if (p.piece, p.copy) != (piece, copy)
            and p.piece in job.wanted_by_id
            and p.metal in job.stock_by_id
            and p.is_finite
        ]
        self._kept = Kept()
        self._around: dict[str, tuple[BaseGeometry, shapely.STRtree, list[Polygon]]] = {}
        self._looked = self._asked = 0
        self._as_it_was = set(self._faults(self.others))

    @cached_property
    def straight_mm(self) -> float:
        return CORNER_LEAST_MM if self.job.hands is None else self.job.hands.straight_min_mm

    @property
    def shared_mm(self) -> float:
        return self.job.kerf_mm if self.job.hands is None else self.job.hands.shared_mm

    def _faults(self, placements: Sequence[Placement]) -> tuple[Fault, ...]:
        self._kept.next_answer()
        return faults_of(self.job, placements, self._kept)

    def judged(self, p: Placement) -> Found:
        """What the judge says of the piece there, and of others because of it."""
        found = self._faults([*self.others, p])
        key = (self.piece, self.copy)
        own = [
            fault
            for fault in found
            if key in ((fault.piece, fault.copy), (fault.other, fault.other_copy))
            or fault not in self._as_it_was
        ]
        return Found(p, tuple(own))

    def at(self, place: At, *, mirror: bool) -> Found | None:
        if place.metal not in self.job.stock_by_id:
            return None
        return self.judged(
            self.lying(place.metal, mirror, place.turn_deg, (place.x_mm, place.y_mm))
        )

    def lying(self, metal: str, mirror: bool, turn: float, corner: Spot) -> Placement:
        """With the lower left of the box around it at `corner`."""
        p = Placement(self.piece, self.copy, metal, mirror, turn % 360.0, 0.0, 0.0)
        x0, y0, _, _ = p.lay(self.wanted.outline).bounds
        return replace(p, x_mm=corner[0] - x0, y_mm=corner[1] - y0)

    def shape(self, metal: str, mirror: bool, turn: float) -> Array:
        """The corners of the piece as it is turned, not yet shifted."""
        p = Placement(self.piece, self.copy, metal, mirror, turn, 0.0, 0.0)
        corners: Array = shapely.get_coordinates(p.lay(self.wanted.outline).exterior)
        return corners

    def may_turn(self, metal: Stock, mirror: bool, turn: float) -> bool:
        turns = allowed_turns(self.wanted, metal, mirror=mirror)
        return turns is None or any(turns_apart(turn, one) <= SAME_TURN_DEG for one in turns)

    def turns(self, metal: Stock, mirror: bool, wished: Sequence[float]) -> list[float]:
        """The wished turns as far as they are allowed, else those that are."""
        allowed = allowed_turns(self.wanted, metal, mirror=mirror)
        fit = [turn for turn in wished if self.may_turn(metal, mirror, turn)]
        return fit or list(wished if allowed is None else allowed[:8])

    def runs(self, mirror: bool) -> Array:
        """The piece's straight runs, longest first; as drawn, or as its mirror image."""
        runs = sides_of(self.wanted.outline, self.straight_mm, mirror=mirror).runs
        length = np.hypot(runs[:, 2] - runs[:, 0], runs[:, 3] - runs[:, 1])
        found: Array = runs[np.argsort(-length, kind="stable")[:RUNS]]
        return found

    def _on(self, metal: str) -> tuple[BaseGeometry, shapely.STRtree, list[Polygon]]:
        """A stock piece, a little larger than it is, and what lies on it."""
        if metal not in self._around:
            around = self.job.stock_by_id[metal].outline.buffer(ON_METAL_MM)
            shapely.prepare(around)
            laid = [
                q.lay(self.job.wanted_by_id[q.piece].outline)
                for q in self.others
                if q.metal == metal
            ]
            self._around[metal] = around, shapely.STRtree(laid), laid
        return self._around[metal]

    def might_fit(self, p: Placement) -> bool:
        """No for what the judge would refuse at a glance: off the metal, or onto a piece."""
        around, tree, laid = self._on(p.metal)
        outline = p.lay(self.wanted.outline)
        if not around.covers(outline):
            return False
        kerf = self.job.kerf_mm
        if kerf > ON_METAL_MM:
            return not len(tree.query(outline, predicate="dwithin", distance=kerf - TOLERANCE_MM))
        near = tree.query(outline, predicate="intersects")
        return not any(shapely.relate_pattern(outline, laid[k], "T********") for k in near)

    def is_apart(self, p: Placement, far: float) -> bool:
        """Whether no piece on the same metal is nearer than `far`."""
        tree = self._on(p.metal)[1]
        return not len(tree.query(p.lay(self.wanted.outline), predicate="dwithin", distance=far))

    def first_good(self, candidates: Iterable[Placement]) -> Found | None:
        """The first that the judge passes, else the first that may all but fit, with its faults."""
        first: Placement | None = None
        fits = False
        for p in candidates:
            first = first or p
            self._looked += 1
            if self._looked > LOOKED_AT or self._asked > JUDGED:
                break
            if not self.might_fit(p):
                continue
            if not fits:
                first, fits = p, True
            self._asked += 1
            found = self.judged(p)
            if not found.faults:
                return found
        return None if first is None else self.judged(first)
