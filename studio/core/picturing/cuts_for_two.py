"""Where does one cut free two pieces? Their stretches, and the middle where the saw runs. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, Polygon

from studio.core.cutting.job import Job
from studio.core.verifying import shared_stretches


@dataclass(frozen=True, slots=True)
class CutForTwo:
    """One cut between two pieces, by their indices: the stretch on each, and the middle."""

    piece: int
    other: int
    line: LineString
    across: LineString
    middle: LineString


def cuts_for_two(job: Job, outlines: Sequence[Polygon]) -> list[CutForTwo]:
    """The cuts of one stock piece that serve two of its pieces, as the judge counts them."""
    width = shared_width_mm(job)
    return [
        CutForTwo(
            one.piece,
            one.other,
            one.line,
            _beside(one.line, width),
            _beside(one.line, width / 2.0),
        )
        for one in shared_stretches(outlines, width)
        if one.other is not None
    ]


def shared_width_mm(job: Job) -> float:
    """How far apart two pieces lie along a line that they share."""
    return job.hands.shared_mm if job.hands else job.kerf_mm


def _beside(line: LineString, away: float) -> LineString:
    """The same stretch so far to the right, the other way round."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    length = math.dist((x0, y0), (x1, y1)) or 1.0
    dx, dy = (y1 - y0) / length * away, -(x1 - x0) / length * away
    return LineString([(x1 + dx, y1 + dy), (x0 + dx, y0 + dy)])
