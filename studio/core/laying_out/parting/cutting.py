"""Cuts are added, shifted, turned and taken away; a blank gets its size.

Every function takes all cuts of a layout and answers with all of them as they are then, each from
rim to rim of the part that it goes through, wherever the cuts before it have been moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from studio.core.cutting import Cut, Job
from studio.core.cutting.parting import MOST_CUTS

from .lines import Line, along, spread
from .named import Named, NoCut, cut_of, number_among
from .parts import Parts, half_kerf_mm, parts_on

STRAIGHT_DEG: Final = 1e-3
"""A cut that leans less is upright, or level."""

Cuts = tuple[Cut, ...]


def added(job: Job, cuts: Sequence[Cut], part: Named, line: Line) -> Cuts:
    """One more cut, through a part that is not cut yet. Raises NoCut."""
    if len(cuts) >= MOST_CUTS:
        raise NoCut("too-many")
    if part.metal not in job.stock_by_id:
        raise NoCut("no-part")
    shape = parts_on(job, part.metal, cuts).leaves.get(part.number)
    if shape is None:
        raise NoCut("no-part")
    ends = along(line, shape, half_kerf_mm(job))
    if ends is None:
        raise NoCut("misses")
    return (*cuts, Cut(part.metal, part.number, *ends))


def removed(cuts: Sequence[Cut], named: Named) -> Cuts:
    """Without this cut, whose two parts are one again. Raises NoCut where one is cut further."""
    at = number_among(cuts, named)
    own = tuple(cut for cut in cuts if cut.metal == named.metal)
    if not Parts(named.metal, own, {}).is_last(named.number):
        raise NoCut("cut-further")
    gone = 2 * named.number + 2
    return tuple(
        replace(cut, part=cut.part - 2) if cut.metal == named.metal and cut.part > gone else cut
        for index, cut in enumerate(cuts)
        if index != at
    )


def laid_at(job: Job, cuts: Sequence[Cut], named: Named, line: Line) -> Cuts:
    """With this cut on another line. Raises NoCut where that misses its part."""
    at = number_among(cuts, named)
    if named.metal not in job.stock_by_id:
        raise NoCut("no-cut")
    before = parts_on(job, named.metal, cuts)
    shape = before.shapes.get(cuts[at].part)
    ends = None if shape is None else along(line, shape, half_kerf_mm(job))
    if ends is None:
        raise NoCut("misses")
    cut = replace(cuts[at], start=ends[0], end=ends[1])
    return from_rim_to_rim(job, (*cuts[:at], cut, *cuts[at + 1 :]), named.metal)


def shifted(job: Job, cuts: Sequence[Cut], named: Named, mm: float) -> Cuts:
    """With this cut so far to its left, parallel. Raises NoCut."""
    return laid_at(job, cuts, named, line_of(cuts, named).shifted(mm))


def turned(job: Job, cuts: Sequence[Cut], named: Named, deg: float) -> Cuts:
    """With this cut turned about its middle. Raises NoCut."""
    cut = cut_of(cuts, named)
    middle = ((cut.start[0] + cut.end[0]) / 2, (cut.start[1] + cut.end[1]) / 2)
    return laid_at(job, cuts, named, line_of(cuts, named).turned(deg, middle))


def sized(
    job: Job, cuts: Sequence[Cut], part: Named, wide: float | None, high: float | None
) -> tuple[Cuts, tuple[tuple[Named, float], ...]]:
    """A part made so wide and so high by moving the cuts that bound it, the last made first; with
    how far each was shifted to its left. None leaves it as it is.

    Raises NoCut where no upright (or level) cut bounds the part.
    """
    now: Cuts = tuple(cuts)
    done = []
    for size, is_wide in ((wide, True), (high, False)):
        if size is None:
            continue
        if part.metal not in job.stock_by_id:
            raise NoCut("no-part")
        parts = parts_on(job, part.metal, now)
        shape = parts.leaves.get(part.number)
        if shape is None:
            raise NoCut("no-part")
        x0, y0, x1, y1 = shape.bounds
        more = size - (x1 - x0 if is_wide else y1 - y0)
        number, left = _bound(parts, part.number, upright=is_wide)
        named = Named(part.metal, number)
        by = -more if left else more  # what lies on its left grows when it goes to the right
        now = shifted(job, now, named, by)
        done.append((named, by))
    return now, tuple(done)


def _bound(parts: Parts, part: int, *, upright: bool) -> tuple[int, bool]:
    """The last made cut of that direction that bounds the part. Raises NoCut."""
    for number, left in parts.above(part):
        line = parts.line(number)
        if line is not None and leans(line, 90.0 if upright else 0.0) < STRAIGHT_DEG:
            return number, left
    raise NoCut("no-bound")


def leans(line: Line, deg: float) -> float:
    """The angle between a line and a direction, either way; 0 to 90 degrees."""
    return abs((line.turn_deg - deg + 90.0) % 180.0 - 90.0)


def line_of(cuts: Sequence[Cut], named: Named) -> Line:
    """Raises NoCut."""
    cut = cut_of(cuts, named)
    try:
        return Line.between(cut.start, cut.end)
    except ValueError:
        raise NoCut("one-point") from None


def from_rim_to_rim(job: Job, cuts: Sequence[Cut], metal: str) -> Cuts:
    """The cuts of a stock piece with their ends on the rims of the parts as they are now. One that
    misses its part by now stays as it was, for the judge to tell."""
    parts = parts_on(job, metal, cuts)
    numbers = [index for index, cut in enumerate(cuts) if cut.metal == metal]
    found = list(cuts)
    for number, index in enumerate(numbers):
        shape, line = parts.shapes.get(cuts[index].part), parts.line(number)
        ends = None if shape is None or line is None else along(line, shape)
        if ends is not None:
            found[index] = replace(cuts[index], start=ends[0], end=ends[1])
    return tuple(found)


def from_edges(line: Line, shape: object) -> tuple[float, float]:
    """How far the line lies from the part's edge on its right and from that on its left."""
    right, left = spread(line, shape)  # type: ignore[arg-type]
    return -right, left
