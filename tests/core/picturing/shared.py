"""A sheet of 200 by 100 mm for two students, parted by hand-countable cuts."""

from __future__ import annotations

from collections.abc import Sequence

from studio.core.cutting import Cut, Job, Placement, Plan
from studio.core.cutting.job import CutWay
from studio.core.verifying import blanks_of, faults, measure
from tests.core.placing.jobs import at
from tests.core.verifying.parted.jobs import across, parted_job, upright

TWO_CUTS = (upright(60.0), across(50.0, 0.0, 60.0, part=1))
"""Sixty from the left, and then what is left of it in two: above is part 3, below part 4; the
rest of the sheet, 140 by 100, is part 2."""

LAID = (
    at("a", 0, 2, 2, metal="S1"),
    at("a", 1, 24, 2, metal="S1"),
    at("b", 0, 2, 55, metal="S1"),
    at("b", 1, 24, 55, metal="S1"),
)
"""Squares of 20: A's two below on part 4, B's two above on part 3."""


def plan_of(
    job: Job, placements: Sequence[Placement] = LAID, cuts: Sequence[Cut] = TWO_CUTS
) -> Plan:
    """A plan as the engine answers it, judged to be without a fault."""
    assert [fault.message for fault in faults(job, placements, cuts)] == []
    measures, offcuts = measure(job, placements, cuts)
    blanks = blanks_of(job, placements, cuts)
    return Plan(
        tuple(placements), (), measures, offcuts, 0, 0.0, 0, True, cuts=tuple(cuts), blanks=blanks
    )


def parted(way: CutWay) -> tuple[Job, Plan]:
    job = parted_job(way)
    return job, plan_of(job)
