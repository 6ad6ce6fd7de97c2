"""Which cuts part a stock piece, numbered in the order in which they are made, and what they make.

What a cut makes is for the judge to say (`studio.core.verifying.parted`). Millimetres, on the
stock piece. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.cutting import Cut, Job, Placement, Stock
from studio.core.verifying.kept import Kept
from studio.core.verifying.part_metal import number_of
from studio.core.verifying.parted.grounds import Ground, grounds_of
from studio.core.verifying.parted.tree import is_sawn, parted_of

Metal = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True)
class PartCut:
    """One cut as it is made: `number` from 1 in the order of cutting.

    `part` is the number of the part that it goes through and `through` that part's outline,
    `makes` are the numbers of the two parts and `left` and `right` their outlines. `lines` are
    where the blade or the saw runs through metal, `kerf` the metal that a saw takes (none for a
    shear).
    """

    number: int
    part: int
    through: Metal
    makes: tuple[int, int]
    left: Metal
    right: Metal
    lines: tuple[LineString, ...]
    kerf: BaseGeometry

    @property
    def length_mm(self) -> float:
        return float(sum(line.length for line in self.lines))


@dataclass(frozen=True, slots=True)
class PartedMetal:
    """One stock piece with its cuts, and what lies on which part of it."""

    metal: Stock
    cuts: tuple[PartCut, ...]
    grounds: tuple[Ground, ...]
    sawn: bool

    @property
    def parts(self) -> dict[int, Metal]:
        """The parts that no further cut goes through, by number."""
        return {number_of(ground.metal): ground.metal.outline for ground in self.grounds}


def parted_metal(
    job: Job, metal: Stock, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> PartedMetal:
    """The cuts through one stock piece, and its parts with those of the placements on each.

    `placements` and `cuts` are a plan's own, those of other stock pieces too. Where nothing is
    cut the stock piece is one part, number 0.
    """
    own = [p for p in placements if p.metal == metal.id]
    kept = Kept()
    parted = parted_of(job, metal, cuts, kept)
    outlines: dict[int, Metal] = {0: metal.outline}
    found = []
    for number, made in enumerate(parted.made, start=1):
        makes = (2 * made.number + 1, 2 * made.number + 2)
        through = outlines[made.cut.part]
        outlines |= dict(zip(makes, (made.divided.left, made.divided.right), strict=True))
        lines = tuple(line for _, lines in made.divided.stretches for line in lines)
        sides = united([made.divided.left, made.divided.right])
        kerf = without(through, sides) if is_sawn(job) else Polygon()
        found.append(
            PartCut(
                number,
                made.cut.part,
                through,
                makes,
                made.divided.left,
                made.divided.right,
                lines,
                kerf,
            )
        )
    grounds = grounds_of(job, parted, own, kept)
    return PartedMetal(metal, tuple(found), tuple(grounds), is_sawn(job))
