"""Which metal does parting leave for the rack? The parts without a group, where they are of use.

Millimetres. The same for the price beforehand and for the rack afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import shapely
from shapely.geometry import MultiPolygon, Polygon

from studio.core.cutting import Blank, Cut, Job
from studio.core.verifying import parts_of


def is_worth_keeping(metal: Polygon, job: Job) -> bool:
    """Whether a leftover goes to the rack: as wide and as large as any offcut must be."""
    corners = shapely.get_coordinates(metal.minimum_rotated_rectangle)
    sides = [math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])]
    return min(sides) >= job.offcut_min_width_mm and metal.area >= job.offcut_min_area_mm2


def leftovers_on(
    job: Job, code: str, cuts: Iterable[Cut], blanks: Iterable[Blank]
) -> tuple[Polygon, ...]:
    """The connected areas of this stock piece that go back to the rack once it is parted."""
    cuts = tuple(cuts)
    if not any(cut.metal == code for cut in cuts):
        return ()
    taken = {blank.part for blank in blanks if blank.metal == code}
    areas: list[Polygon] = []
    for number, outline in sorted(parts_of(job, code, cuts).items()):
        if number not in taken:
            areas += outline.geoms if isinstance(outline, MultiPolygon) else [outline]
    return tuple(area for area in areas if is_worth_keeping(area, job))
