"""Which parts do the cuts of a stock piece make? All of them, also those that are cut further."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common
from studio.core.cutting import Cut, Job, Placement, Wanted

from .lines import Line, runs_in

EMPTY = Polygon()
MOST_KEPT: Final = 64


@dataclass(frozen=True)
class Parts:
    """A stock piece with its own cuts, in order. `shapes` has every part by its number; a cut
    through a part that is not there (any more) makes none."""

    metal: str
    cuts: tuple[Cut, ...]
    shapes: dict[int, BaseGeometry]
    halved: dict[int, int] = field(default_factory=dict)  # which cut goes through a part

    @property
    def leaves(self) -> dict[int, BaseGeometry]:
        """The parts that nothing cuts further."""
        return {
            number: shape
            for number, shape in self.shapes.items()
            if number not in self.halved and not shape.is_empty
        }

    def line(self, number: int) -> Line | None:
        """The line of a cut; None where its ends are one point."""
        cut = self.cuts[number]
        try:
            return Line.between(cut.start, cut.end)
        except ValueError:
            return None

    def above(self, part: int) -> list[tuple[int, bool]]:
        """The cuts that bound a part, the last one first, and whether it lies on their left."""
        found = []
        while part > 0:
            number, right = divmod(part - 1, 2)
            if number >= len(self.cuts):
                return []
            found.append((number, not right))
            part = self.cuts[number].part
            if len(found) > len(self.cuts):
                return []
        return found

    def is_last(self, number: int) -> bool:
        """Whether neither of the parts that a cut makes is cut further."""
        return not {2 * number + 1, 2 * number + 2} & {cut.part for cut in self.cuts}


def parts_on(job: Job, metal: str, cuts: Iterable[Cut]) -> Parts:
    """The parts of one of the job's stock pieces; with the saw, half a kerf less on each side."""
    own = tuple(cut for cut in cuts if cut.metal == metal)
    return _parts(metal, job.stock_by_id[metal].outline, own, half_kerf_mm(job))


@lru_cache(maxsize=MOST_KEPT)
def _parts(metal: str, outline: BaseGeometry, own: tuple[Cut, ...], half: float) -> Parts:
    """Kept for a while: a change asks for the parts before and after it several times."""
    found = Parts(metal, own, {0: outline})
    for number, cut in enumerate(own):
        shape = found.shapes.get(cut.part)
        line = found.line(number)
        if shape is None or line is None or cut.part in found.halved:
            continue
        found.halved[cut.part] = number
        for part, left in ((2 * number + 1, True), (2 * number + 2, False)):
            near = line.shifted(half if left else -half)
            found.shapes[part] = (
                EMPTY if shape.is_empty else common(shape, near.side(shape.bounds, left=left))
            )
    return found


def half_kerf_mm(job: Job) -> float:
    """What a cut takes of either side: half the kerf of a saw, nothing by the shear."""
    return job.kerf_mm / 2.0 if job.parting is not None and job.parting.way == "saw" else 0.0


def sawn_apart_mm(job: Job, cuts: Sequence[Cut]) -> float:
    """How much of the sawing parts the metal; nothing where the shear does it."""
    if job.parting is None or job.parting.way != "saw":
        return 0.0
    found = 0.0
    for metal in {cut.metal for cut in cuts} & set(job.stock_by_id):
        parts = parts_on(job, metal, cuts)
        for number, cut in enumerate(parts.cuts):
            shape, line = parts.shapes.get(cut.part), parts.line(number)
            if shape is not None and line is not None and parts.halved.get(cut.part) == number:
                found += sum(math.dist(*run) for run in runs_in(line, shape))
    return found


def groups_in(job: Job, parts: Parts, placements: Iterable[Placement]) -> dict[int, set[str]]:
    """Whose pieces lie in each part of a stock piece, by group; "" are pieces without one."""
    found: dict[int, set[str]] = {}
    leaves = parts.leaves
    boxes = {number: part.bounds for number, part in leaves.items()}
    for p in placements:
        if p.metal != parts.metal or not p.is_finite or p.piece not in job.wanted_by_id:
            continue
        wanted = job.wanted_by_id[p.piece]
        x, y = _inside(p, wanted)
        for number, (x0, y0, x1, y1) in boxes.items():
            if x0 <= x <= x1 and y0 <= y <= y1 and leaves[number].covers(Point(x, y)):
                found.setdefault(number, set()).add(wanted.group or "")
                break
    return found


def _inside(p: Placement, wanted: Wanted) -> tuple[float, float]:
    """Where a point within the piece comes to lie."""
    at = wanted.outline.representative_point()
    across = -at.x if p.mirror else at.x
    turn = math.radians(p.turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    return cos * across - sin * at.y + p.x_mm, sin * across + cos * at.y + p.y_mm
