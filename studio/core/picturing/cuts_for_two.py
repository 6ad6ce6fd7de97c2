"""Which stretches of the pieces need no cut of their own, and where does one cut free two?

What is counted is for the judge to say (`studio.core.verifying.cuts`); here it is told for the
rim of each piece, so that lines sawn one after another come to the judge's figure. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, MultiLineString

from studio.core.cutting.job import Job, Placement, Stock
from studio.core.verifying import MiddleCut, cuts
from studio.core.verifying.cuts import ONE_CUT_MM


@dataclass(frozen=True, slots=True)
class Spared:
    """A stretch of a piece's rim along which one cut frees the piece `other` too, by index.

    Where this rim is sawn first, `first_mm` of it are spared (the way of the blade may be a
    little shorter or longer than the rim), and it is sawn along `middle`; where the other was
    first, `second_mm` are. `width_mm` is how far apart the two may lie.
    """

    line: LineString
    other: int
    first_mm: float
    second_mm: float
    middle: tuple[LineString, ...] = ()
    width_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class CutForTwo:
    """A cut that frees two pieces, by index: the way of the blade, and the length it spares."""

    pieces: tuple[int, int]
    line: MultiLineString
    length_mm: float


@dataclass(frozen=True, slots=True)
class CutsOfMetal:
    """The free edges and the cuts for two of one stock piece: stretches by the pieces' indices,
    and the cuts themselves."""

    free: tuple[tuple[int, LineString], ...]
    spared: tuple[tuple[int, Spared], ...]
    for_two: tuple[CutForTwo, ...]


def cuts_of_metal(job: Job, metal: Stock, placements: Sequence[Placement]) -> CutsOfMetal:
    """What the judge counts on one stock piece; `placements` are those on it."""
    found = cuts(job, metal, placements)
    width = shared_width_mm(job)
    spared: list[tuple[int, Spared]] = []
    for_two: list[CutForTwo] = []
    for one in found.shared:
        assert one.other is not None
        middle = _beside(one.line, width / 2.0)
        along = (middle,) if job.hands else ()
        length = float(one.line.length)
        across = _beside(one.line, width)
        spared.append((one.piece, Spared(one.line, one.other, 0.0, length, along, width)))
        spared.append((one.other, Spared(across, one.piece, 0.0, length, along, width)))
        both = MultiLineString([middle])
        for_two.append(CutForTwo((one.piece, one.other), both, length))
    for cut in found.middle:
        spared += _of_middle(cut)
        for_two.append(CutForTwo((cut.piece, cut.other), cut.line, cut.length_mm))
    return CutsOfMetal(
        tuple((one.piece, one.line) for one in found.free), tuple(spared), tuple(for_two)
    )


def _of_middle(cut: MiddleCut) -> list[tuple[int, Spared]]:
    """Both sides of a cut down the middle; together they spare its length once."""
    found = []
    width = ONE_CUT_MM
    middle = tuple(cut.line.geoms)
    sides = (
        (cut.piece, cut.other, cut.own, cut.own_mm, cut.others_mm),
        (cut.other, cut.piece, cut.others, cut.others_mm, cut.own_mm),
    )
    for piece, other, stretches, own_mm, across_mm in sides:
        for n, line in enumerate(stretches.geoms):
            share = float(line.length) / own_mm
            length = float(line.length)
            if across_mm:
                first, second = length - share * cut.length_mm, length
            else:  # the other's rim turns away: half of this one is spared, whoever is first
                first = second = share * cut.length_mm
            found.append((piece, Spared(line, other, first, second, () if n else middle, width)))
    return found


def shared_width_mm(job: Job) -> float:
    """How far apart two pieces lie along a line that they share."""
    return job.hands.shared_mm if job.hands else job.kerf_mm


def _beside(line: LineString, away: float) -> LineString:
    """The same stretch so far to the right, the other way round."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    length = math.dist((x0, y0), (x1, y1)) or 1.0
    dx, dy = (y1 - y0) / length * away, -(x1 - x0) / length * away
    return LineString([(x1 + dx, y1 + dy), (x0 + dx, y0 + dy)])
