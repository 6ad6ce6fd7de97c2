"""A cut is moved, and what lies beyond it goes along: the cuts there, and pieces that have room."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from studio.core.cutting import Cut, Job, Placement

from .cutting import Cuts, from_rim_to_rim, line_of
from .lines import along
from .named import Named, NoCut
from .parts import Parts, parts_on

ROOM_MM = 1e-6


def taken_along(
    job: Job,
    cuts: Sequence[Cut],
    placements: Iterable[Placement],
    named: Named,
    mm: float,
    kept: Iterable[tuple[str, int]] = (),
) -> tuple[Cuts, tuple[Placement, ...]]:
    """The cut shifted to its left by `mm`, with what lies on the side to which it goes.

    A group goes along with all its pieces there, where each of them lies in that part, none is
    `kept`, and all stay on the metal. Answers with all cuts, and with the pieces that moved. Raises
    NoCut.
    """
    line = line_of(cuts, named)
    parts = parts_on(job, named.metal, cuts)
    part = 2 * named.number + (1 if mm > 0 else 2)
    if part not in parts.shapes:
        raise NoCut("misses")
    dx, dy = mm * line.left[0], mm * line.left[1]
    numbers = {named.number, *_cuts_in(parts, part)}
    moved: list[Cut] = []
    number = -1
    for cut in cuts:
        if cut.metal == named.metal:
            number += 1
            if number in numbers:
                start, end = cut.start, cut.end
                cut = replace(
                    cut,
                    start=(start[0] + dx, start[1] + dy),
                    end=(end[0] + dx, end[1] + dy),
                )
        moved.append(cut)
    if along(line.shifted(mm), parts.shapes[parts.cuts[named.number].part]) is None:
        raise NoCut("misses")
    now = from_rim_to_rim(job, moved, named.metal)
    return now, tuple(_pieces(job, parts, part, placements, (dx, dy), set(kept)))


def _cuts_in(parts: Parts, part: int) -> set[int]:
    """The numbers of the cuts through a part and through what comes of it."""
    found: set[int] = set()
    inside = {part}
    for number, cut in enumerate(parts.cuts):
        if cut.part in inside:
            found.add(number)
            inside |= {2 * number + 1, 2 * number + 2}
    return found


def _pieces(
    job: Job,
    parts: Parts,
    part: int,
    placements: Iterable[Placement],
    by: tuple[float, float],
    kept: set[tuple[str, int]],
) -> Iterable[Placement]:
    beyond, metal = parts.shapes[part], job.stock_by_id[parts.metal].outline
    groups: dict[str, list[Placement]] = {}
    stay: set[str] = set()
    for p in placements:
        if p.metal != parts.metal or not p.is_finite or p.piece not in job.wanted_by_id:
            continue
        wanted = job.wanted_by_id[p.piece]
        group = wanted.group or ""
        outline = p.lay(wanted.outline)
        goes = replace(p, x_mm=p.x_mm + by[0], y_mm=p.y_mm + by[1])
        inside = beyond.buffer(ROOM_MM).covers(outline)
        if (
            not inside
            or (p.piece, p.copy) in kept
            or not metal.buffer(ROOM_MM).covers(goes.lay(wanted.outline))
        ):
            stay.add(group)
        groups.setdefault(group, []).append(goes)
    for group, found in groups.items():
        if group not in stay:
            yield from found
