"""The judge with a memory: asked again after one piece was moved, it looks at that piece alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.core.cutting.job import Job, Measures, Offcut, Placement
from studio.core.verifying.fault import Fault
from studio.core.verifying.faults import faults_of, missing
from studio.core.verifying.kept import Kept
from studio.core.verifying.measures import measure_of


@dataclass(frozen=True, slots=True)
class Judgement:
    """All that the judge says of a layout: what is wrong, what is missing, what it comes to."""

    faults: tuple[Fault, ...]
    missing: tuple[Fault, ...]
    measures: Measures
    offcuts: tuple[Offcut, ...]


class Watch:
    """Judges layouts of one job, one after another, keeping what the last two have in common.

    What is kept follows from where pieces lie and from nothing else, so that every answer is the
    very one that `faults`, `missing` and `measure` give.

    Examples
    --------
    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Job, Placement, Stock, Wanted
    >>> job = Job((Stock("S1", box(0, 0, 90, 40)),), (Wanted("a", box(0, 0, 20, 20), count=2),))
    >>> first = Placement("a", 0, "S1", mirror=False, turn_deg=0.0, x_mm=0.0, y_mm=0.0)
    >>> second = Placement("a", 1, "S1", mirror=False, turn_deg=0.0, x_mm=20.2, y_mm=0.0)
    >>> watch = Watch(job)
    >>> [fault.code for fault in watch.judge([first, second]).faults]
    ['too-near-piece']
    >>> moved = Placement("a", 1, "S1", mirror=False, turn_deg=0.0, x_mm=20.3, y_mm=0.0)
    >>> watch.judge([first, moved]).faults
    ()
    >>> round(watch.judge([first]).measures.saw_line_mm, 3), len(watch.judge([first]).missing)
    (40.0, 1)
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self._kept = Kept()

    def judge(self, placements: Sequence[Placement]) -> Judgement:
        """What is to say of these placements, whoever made them and however many.

        Lengths in mm, areas in mm², money in the currency of the job's prices. What names
        nothing that the job has is a fault and is not measured. Raises nothing.
        """
        self._kept.next_answer()
        found = faults_of(self.job, placements, self._kept)
        measures, offcuts = measure_of(self.job, measurable(self.job, placements), self._kept)
        return Judgement(found, missing(self.job, placements), measures, offcuts)


def measurable(job: Job, placements: Sequence[Placement]) -> list[Placement]:
    """Those that lie somewhere: on metal of the job, a piece of the job, at numbers."""
    return [
        p
        for p in placements
        if p.piece in job.wanted_by_id and p.metal in job.stock_by_id and p.is_finite
    ]
