"""How cuts and blanks look on a stock piece, and one student's blank by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Point

from studio.core.cutting import Blank, Job, Plan
from studio.core.cutting.job import Measures
from studio.core.offcuts.leftovers import leftovers_on
from studio.core.picturing.colours import Mark
from studio.core.picturing.in_picture import BlankInPicture, CutInPicture
from studio.core.picturing.labels import labels_of
from studio.core.picturing.offcuts_in_picture import Left, rectangle_of
from studio.core.picturing.paths import Flip, polygons_of
from studio.core.verifying.part_metal import number_of

from .cuts import PartCut, parted_metal

ROOM_SHARE = 0.5  # of the widest circle in a blank, for its letter


def cut_in_picture(cut: PartCut, flip: Flip) -> CutInPicture:
    """The blade's way and what a saw takes."""
    return CutInPicture(
        cut.number,
        flip.lines(cut.lines),
        flip.path(polygons_of(cut.kerf)),
        cut.length_mm,
        cut.part,
        cut.makes,
    )


def blank_in_picture(
    job: Job, blank: Blank, marks: Mapping[str, Mark], flip: Flip, text_mm: float
) -> BlankInPicture:
    """A blank with its letter and its sides, the longer first."""
    group = blank.group or ""
    circle = shapely.maximum_inscribed_circle(blank.outline, tolerance=0.5)
    x0, y0, x1, y1 = blank.outline.bounds
    shorter, longer = sorted((x1 - x0, y1 - y0))
    return BlankInPicture(
        blank.part,
        group,
        labels_of(job)[group],
        marks.get(group),
        flip.path([blank.outline]),
        flip.point(Point(circle.coords[0])),
        round(min(2.0 * text_mm, ROOM_SHARE * float(circle.length)), 2),
        longer,
        shorter,
        float(blank.outline.area),
    )


def left_when_parted(job: Job, code: str, plan: Plan, offcuts: Sequence[Left]) -> list[Left]:
    """What goes back to the rack of one stock piece: parts without a student as soon as it is
    parted, with their true outlines, and of the blanks what their students leave."""
    if not any(cut.metal == code for cut in plan.cuts):
        return list(offcuts)
    blanks = [blank.outline for blank in plan.blanks if blank.metal == code]
    found = []
    for outline in leftovers_on(job, code, plan.cuts, plan.blanks):
        rectangle = rectangle_of(outline.wkb)
        found.append(Left(outline, (rectangle.longer_mm, rectangle.shorter_mm), at_once=True))
    for offcut in offcuts:
        inside = offcut.outline.representative_point()
        if any(blank.intersects(inside) for blank in blanks):
            found.append(offcut)
    return found


def blank_alone(job: Job, plan: Plan, metal: str, part: int) -> tuple[Job, Plan]:
    """One blank as metal of its own, in its place: a job and a plan to draw as any other.

    Labels and marks stay those of the whole plan, for the pieces that are asked for stay the same.
    KeyError where the stock piece has no such part.
    """
    stock = job.stock_by_id[metal]
    parted = parted_metal(job, stock, plan.placements, plan.cuts)
    grounds = {number_of(ground.metal): ground for ground in parted.grounds}
    ground = grounds[part]
    outline = ground.metal.outline
    offcuts = [
        offcut
        for offcut in plan.offcuts
        if offcut.metal == metal and outline.intersects(offcut.outline.representative_point())
    ]
    alone = replace(ground.metal, id=metal)
    return (
        replace(job, metal=(alone,), parting=None),
        replace(
            plan,
            placements=ground.pieces,
            unplaced=(),
            offcuts=tuple(offcuts),
            measures=Measures(),
            cuts=(),
            blanks=(),
        ),
    )
