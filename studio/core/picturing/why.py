"""What speaks for a cut plan, and what would make it better? Facts with the place of each.

Every reason has a letter, by which list and picture are keyed. A plan that is not good says so,
and only what its figures show. Millimetres; places as the pictures have them, y down. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely.geometry import GeometryCollection, Point

from studio.core.areas import united
from studio.core.cutting import Job, Plan, Stock

from .clear_places import clear_places
from .edges import Edges, edges_of, rough_lines
from .in_picture import Letter, MetalPicture
from .offcuts_in_picture import rectangles_of
from .paths import Flip, numbers

LEAST_SPARED_MM = 5.0
"""Less sawing spared is nothing to speak of."""

LOW_USE = 0.25
"""Where pieces take a smaller share of the metal touched, others should lie beside them."""

LEAST_ROUGH_MM = 20.0
AT_MARGIN_MM = 0.5
"""Pieces that keep from a rough edge no more than the margin and this would lie on a clean one."""

HIGH_WASTE = 0.5
"""More of the metal used up than this in kerf and scrap is nothing to be proud of."""

WIDE_GAP_MM = 1.5
"""A gap from here on takes metal that a surer hand would keep."""

MANY_LEFTOVERS = 3
SMALL_LEFTOVER = 3.0
"""So many leftovers, none larger than so many times the least offcut: metal in small bits."""

SPEAKS_FOR = ("keeps", "edges", "for-two", "windows")
SPEAKS_AGAINST = ("left-out", "beside", "rough", "waste", "gap", "bits")
"""Each has its sentence in templates/studio/plans/why."""

Sides = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Part:
    """Where a reason is seen: a path (an area, or lines), and a place for its letter."""

    metal: str
    path: str
    is_area: bool
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason, by a code of `SPEAKS_FOR` or `SPEAKS_AGAINST`, with its figures."""

    letter: str
    code: str
    good: bool
    figures: Mapping[str, float]
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """All reasons that a reader is told, those for the plan first.

    Whether any reason speaks for the plan or against it is a fact of the plan, the same for every
    reader.
    """

    reasons: tuple[Reason, ...] = ()
    speaks_for: bool = False
    speaks_against: bool = False

    @property
    def good(self) -> tuple[Reason, ...]:
        return tuple(one for one in self.reasons if one.good)

    @property
    def poor(self) -> tuple[Reason, ...]:
        return tuple(one for one in self.reasons if not one.good)

    def only(self, *codes: str) -> Why:
        """The reasons of these codes, under the letters that they have here."""
        return replace(self, reasons=tuple(one for one in self.reasons if one.code in codes))

    def without(self, *codes: str) -> Why:
        return replace(self, reasons=tuple(one for one in self.reasons if one.code not in codes))

    def parts_on(self, metal: str) -> tuple[tuple[Reason, Part], ...]:
        return tuple(
            (one, part) for one in self.reasons for part in one.parts if part.metal == metal
        )


@dataclass(frozen=True, slots=True)
class Waiting:
    """A project that waits for metal of this kind: the sides of a box round each of its pieces.

    `along_grain` says that its brief has pieces follow the metal's grain.
    """

    boxes: tuple[Sides, ...]
    along_grain: bool = False


@dataclass
class _Listed:
    found: list[Reason] = field(default_factory=list)

    def add(
        self, code: str, good: bool, figures: Mapping[str, float], parts: Sequence[Part] = ()
    ) -> None:
        letter = chr(ord("a") + len(self.found))
        self.found.append(Reason(letter, code, good, figures, tuple(parts)))


def why(
    job: Job,
    plan: Plan,
    pictures: Sequence[MetalPicture],
    *,
    groups: Collection[str] | None = None,
    waiting: Sequence[Waiting] = (),
) -> Why:
    """The reasons of a plan that lies on these stock pieces.

    `groups` are those of a student who looks, who reads of own pieces only; None for a teacher.
    `waiting` are projects of the same metal without a plan, which may be placed beside.
    """
    everything = _told(job, plan, pictures, None, waiting)
    return Why(
        everything if groups is None else _told(job, plan, pictures, groups, waiting),
        speaks_for=any(one.good for one in everything),
        speaks_against=any(not one.good for one in everything),
    )


def _told(
    job: Job,
    plan: Plan,
    pictures: Sequence[MetalPicture],
    groups: Collection[str] | None,
    waiting: Sequence[Waiting],
) -> tuple[Reason, ...]:
    listed = _Listed()
    measures = plan.measures
    flips = {one.code: _flip(job, one.code) for one in pictures}
    kept = _kept(plan, pictures, flips)
    if kept:
        longer, shorter = measures.largest_rectangle_mm
        strip = float(longer > 2.0 * shorter)
        listed.add("keeps", True, {"longer": longer, "shorter": shorter, "strip": strip}, kept)
    _edges(listed, pictures, flips, groups)
    _for_two(listed, pictures, flips, groups)
    _windows(listed, pictures, flips, groups)
    _left_out(listed, job, plan, groups)
    _beside(listed, job, plan, waiting, kept)
    _rough(listed, job, plan, groups)
    if measures.consumed_mm2 and measures.scrap_mm2 > HIGH_WASTE * measures.consumed_mm2:
        share = measures.scrap_mm2 / measures.consumed_mm2
        listed.add("waste", False, {"share": share, "area": measures.scrap_mm2})
        if job.hands is not None and job.hands.gap_mm >= WIDE_GAP_MM and len(plan.placements) > 1:
            listed.add("gap", False, {"gap": job.hands.gap_mm})
    largest = measures.largest_offcut_mm2
    if len(plan.offcuts) >= MANY_LEFTOVERS and largest <= SMALL_LEFTOVER * job.offcut_min_area_mm2:
        listed.add("bits", False, {"count": len(plan.offcuts), "area": largest})
    return tuple(listed.found)


def _flip(job: Job, code: str) -> Flip:
    x0, _, _, y1 = job.stock_by_id[code].outline.bounds
    return Flip(x0, y1)


def _kept(
    plan: Plan, pictures: Sequence[MetalPicture], flips: Mapping[str, Flip]
) -> tuple[Part, ...]:
    """The largest rectangle that stays whole."""
    shorter, longer = sorted(plan.measures.largest_rectangle_mm)
    if not shorter:
        return ()
    sides = rectangles_of(plan)
    best = min(
        range(len(sides)), key=lambda k: abs(sides[k][0] - longer) + abs(sides[k][1] - shorter)
    )
    code = plan.offcuts[best].metal
    nth = sum(1 for one in plan.offcuts[:best] if one.metal == code)
    for one in pictures:
        if one.code == code and not one.gains.rectangles[nth].is_empty:
            rectangle = one.gains.rectangles[nth]
            flip = flips[code]
            # beside the offcut's own words, which stand in the middle
            corner = Point(rectangle.exterior.interpolate(0.0))
            middle = rectangle.centroid
            at = Point(
                corner.x + 0.25 * (middle.x - corner.x), corner.y + 0.25 * (middle.y - corner.y)
            )
            return (Part(code, flip.path([rectangle]), True, flip.point(at)),)
    return ()


def _edges(
    listed: _Listed,
    pictures: Sequence[MetalPicture],
    flips: Mapping[str, Flip],
    groups: Collection[str] | None,
) -> None:
    length, parts = 0.0, []
    for one in pictures:
        own = [lines for group, lines in one.gains.free if groups is None or group in groups]
        lines = [line for each in own for line in each.geoms]
        if lines:
            longest = max(lines, key=lambda line: line.length)
            at = flips[one.code].point(longest.interpolate(0.5, normalized=True))
            parts.append(Part(one.code, flips[one.code].lines(lines), False, at))
            length += sum(line.length for line in lines)
    if length >= LEAST_SPARED_MM:
        listed.add("edges", True, {"length": length}, parts)


def _for_two(
    listed: _Listed,
    pictures: Sequence[MetalPicture],
    flips: Mapping[str, Flip],
    groups: Collection[str] | None,
) -> None:
    length, count, parts = 0.0, 0, []
    for one in pictures:
        cuts = [
            (line, spared)
            for both, line, spared in one.gains.for_two
            if groups is None or both & set(groups)
        ]
        if cuts:
            lines = [line for each, _ in cuts for line in each.geoms]
            longest = max(lines, key=lambda line: line.length)
            at = flips[one.code].point(longest.interpolate(0.5, normalized=True))
            parts.append(Part(one.code, flips[one.code].lines(lines), False, at))
            length += sum(spared for _, spared in cuts)
            count += len(cuts)
    if length >= LEAST_SPARED_MM:
        listed.add("for-two", True, {"length": length, "count": count}, parts)


def _windows(
    listed: _Listed,
    pictures: Sequence[MetalPicture],
    flips: Mapping[str, Flip],
    groups: Collection[str] | None,
) -> None:
    count, parts = 0, []
    for one in pictures:
        lying = [
            outline for group, outline in one.gains.in_windows if groups is None or group in groups
        ]
        if lying:
            flip = flips[one.code]
            at = flip.point(lying[0].representative_point())
            parts.append(Part(one.code, flip.path(lying), True, at))
            count += len(lying)
    if count:
        listed.add("windows", True, {"count": count}, parts)


def _left_out(listed: _Listed, job: Job, plan: Plan, groups: Collection[str] | None) -> None:
    count = sum(
        1
        for one in plan.unplaced
        if groups is None or (job.wanted_by_id[one.piece].group or "") in groups
    )
    if count:
        listed.add("left-out", False, {"count": count})


def _beside(
    listed: _Listed,
    job: Job,
    plan: Plan,
    waiting: Sequence[Waiting],
    kept: tuple[Part, ...],
) -> None:
    """Little of the metal is used; and how many of those who wait would find room beside."""
    measures = plan.measures
    touched = measures.piece_area_mm2 + measures.kept_mm2 + measures.scrap_mm2
    if not touched or measures.piece_area_mm2 >= LOW_USE * touched:
        return
    share = measures.piece_area_mm2 / touched
    count = 0
    if kept:
        metal = job.stock_by_id[kept[0].metal]
        sides = _to_lay_in(job, metal, measures.largest_rectangle_mm)
        count = sum(
            1
            for one in waiting
            if (metal.grain_deg is not None or not one.along_grain)
            and fits(_boxes_of(one), sides, job.gap_mm)
        )
    listed.add("beside", False, {"share": share, "count": count}, ())


def _to_lay_in(job: Job, metal: Stock, rectangle: Sides) -> Sides:
    """What is left of a rectangle for pieces, whatever lies along its sides."""
    rough = edges_of(metal) is not Edges.CLEAN
    free = max(job.gap_mm, job.edge_gap_mm) if rough else job.gap_mm
    return max(rectangle[0] - 2.0 * free, 0.0), max(rectangle[1] - 2.0 * free, 0.0)


def _boxes_of(one: Waiting) -> Sequence[Sides]:
    """Boxes that may lie either way; where the grain turns a piece, room for it at any turn."""
    if not one.along_grain:
        return one.boxes
    return [(math.hypot(*sides), math.hypot(*sides)) for sides in one.boxes]


def _rough(listed: _Listed, job: Job, plan: Plan, groups: Collection[str] | None) -> None:
    """Pieces lie along a rough edge, and the margin between is scrap."""
    if job.hands is None or job.edge_gap_mm <= job.kerf_mm:
        return
    length = 0.0
    for code in dict.fromkeys(one.metal for one in plan.placements):
        own = [
            one.lay(job.wanted_by_id[one.piece].outline)
            for one in plan.placements
            if one.metal == code
            and (groups is None or (job.wanted_by_id[one.piece].group or "") in groups)
        ]
        near = united(own).buffer(job.edge_gap_mm + AT_MARGIN_MM)
        along = rough_lines(job.stock_by_id[code]).intersection(near)
        lines = shapely.line_merge(along) if along.geom_type == "MultiLineString" else along
        length += sum(
            one.length
            for one in shapely.get_parts(lines)
            if one.length >= job.hands.straight_min_mm
        )
    if length >= LEAST_ROUGH_MM:
        listed.add("rough", False, {"length": length})


def fits(boxes: Sequence[Sides], rectangle: Sides, gap: float) -> bool:
    """Whether boxes find room in a rectangle, laid in rows a gap apart."""
    longer, shorter = max(rectangle), min(rectangle)
    down = across = row = 0.0
    for wide, high in sorted(((max(b), min(b)) for b in boxes), key=lambda b: -b[1]):
        if wide > longer:
            return False
        if across and across + wide > longer:
            down, across, row = down + row + gap, 0.0, 0.0
        if down + high > shorter:
            return False
        across += wide + gap
        row = max(row, high)
    return bool(boxes)


def with_letters(why: Why, one: MetalPicture) -> MetalPicture:
    """The picture with the letters of what is seen on it: on no window, no hole and no number."""
    seen = why.parts_on(one.code)
    taken = [(Point(start.mark), one.radius_mm) for start in one.starts]
    taken += [(Point(piece.at), piece.label_reach_mm) for piece in one.pieces]
    letters = []
    for reason, part in seen:
        radius = 0.5 * one.text_mm if reason.code == "keeps" else 0.8 * one.radius_mm
        (place,) = clear_places([Point(part.at)], 1.4 * radius, one.not_to_hide, taken=taken)
        taken.append((place, 1.4 * radius))
        at = (round(place.x, 2), round(place.y, 2))
        beside = place.distance(Point(part.at)) > 1e-6 and not part.is_area
        letters.append(
            Letter(
                reason.letter,
                part.path,
                part.is_area,
                part == reason.parts[0],
                at,
                (round(place.x - radius, 2), round(place.y - radius, 2)),
                round(2.0 * radius, 2),
                f"M{numbers(*part.at)}L{numbers(*at)}" if beside else "",
            )
        )
    return replace(one, letters=tuple(letters), closer_box=_with_marks(one, letters))


def _with_marks(one: MetalPicture, letters: Sequence[Letter]) -> str:
    """The box of the close-up, so large that no number and no letter in it runs over its border."""
    if not one.closer_box:
        return ""
    x, y, width, height = (float(value) for value in one.closer_box.split())
    closer = shapely.box(x, y, x + width, y + height)
    marks = [(Point(start.mark), one.radius_mm) for start in one.starts]
    marks += [(Point(letter.at), 0.5 * letter.side_mm) for letter in letters]
    spaces = [at.buffer(1.2 * half, cap_style="square") for at, half in marks]
    # What is taken in makes the box larger, and may reach another mark.
    while cut := [one for one in spaces if closer.intersects(one) and not closer.covers(one)]:
        closer = shapely.box(*GeometryCollection([closer, *cut]).bounds)
    left, top, right, bottom = closer.bounds
    return numbers(left, top, right - left, bottom - top)
