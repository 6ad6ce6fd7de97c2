"""One rectangle made longer, so that every piece lies on it; then drawn in to its own length.

What is left out waits in a row behind the metal's end. Whatever lies before that end after a
round is a plan of the metal itself, with fewer pieces left out as the strip grows shorter.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely.geometry import box

from studio.core.cutting.job import Job, Placement, allowed_turns
from studio.core.placing.shapes import Shape

from .forms import fits_tables
from .rounds import Shortener

HAIR_MM = 1e-4


def may_be_longer(job: Job) -> bool:
    """Whether a job's metal is one rectangle by the plain rules, all turns of pieces listed."""
    plain = job.hands is None and not job.fixed
    one = len(job.metal) == 1 and job.metal[0].rough_edges is None
    return plain and one and fits_tables(replace(job, goal="strip"))


class OnLongerMetal:
    """Pieces of a plan and some that it left out, on metal longer than there is."""

    def __init__(
        self,
        job: Job,
        shapes: Sequence[Shape],
        placements: Sequence[Placement],
        waiting: Sequence[tuple[Shape, int]],
    ) -> None:
        metal = job.metal[0]
        edge = 0.0 if metal.clean_edges else job.edge_gap_mm
        x0, y0, x1, y1 = metal.outline.bounds
        self.job = job
        self.end = x1 - edge
        self.high = y1 - y0 - 2.0 * edge
        row = list(placements)
        at = x1 + job.kerf_mm
        for shape, copy in waiting:
            laid = self._standing(shape, copy, at, y0 + edge)
            if laid is not None:
                row.append(laid)
                at = self._right(laid) + job.kerf_mm
        longer = replace(metal, outline=box(x0, y0, at + edge, y1))
        self.shortener = Shortener(replace(job, goal="strip", metal=(longer,)), shapes, row)

    def round(
        self, seed: int, number: int, workers: int, share: float, go_on: Callable[[], bool]
    ) -> list[Placement]:
        """One round of drawing the longer strip in; what then lies on the metal itself."""
        found = self.shortener.round(seed, number, workers, share, go_on)
        return [p for p in found or () if self._right(p) <= self.end + HAIR_MM]

    def _standing(self, shape: Shape, copy: int, x: float, y: float) -> Placement | None:
        """A piece in the row, at the first of its turns that is not higher than the metal."""
        wanted, metal = shape.wanted, self.job.metal[0]
        for mirror in (False, True) if wanted.may_mirror else (False,):
            for turn in allowed_turns(wanted, metal, mirror=mirror) or ():
                laid = Placement(wanted.id, copy, metal.id, mirror, turn, 0.0, 0.0)
                x0, y0, _, y1 = laid.lay(wanted.outline).bounds
                if y1 - y0 <= self.high + HAIR_MM:
                    # never a hair to the left, where the one before lies
                    right = math.ceil((x - x0) * 1e6) / 1e6
                    return replace(laid, x_mm=right, y_mm=round(y - y0, 6))
        return None

    def _right(self, placement: Placement) -> float:
        outline = self.job.wanted_by_id[placement.piece].outline
        return float(placement.lay(outline).bounds[2])
