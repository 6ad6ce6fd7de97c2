"""How does a cut plan look? What to draw of each stock piece, in paths ready for a picture.

Everything is in millimetres and flipped so that y points down, as a picture wants it; the view
box has its origin at the metal's upper left corner, less a margin. Words and colours are the
templates' business. Pure: a job, its plan and the drawings' pieces go in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import shapely
from shapely.geometry import GeometryCollection, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.cutting import Job, Placement, Plan, Stock
from studio.core.drawing import Piece
from studio.core.verifying import Rectangle, largest_rectangle

from .clear_places import clear_places
from .edges import Edges, clean_lines, edges_of
from .paths import Flip, lay_line, lay_point, numbers, polygons_of
from .sawing_order import FRAME_DEPTH_MM, LineKind, SawingOrder, SawLine, sawing_orders

__all__ = [
    "MetalPicture",
    "OffcutInPicture",
    "PieceInPicture",
    "Start",
    "Thumbnail",
    "labels_of",
    "labels_of_pieces",
    "picture",
    "rectangles_of",
    "thumbnail",
]

Sides = tuple[float, float]

MARGIN_SHARE = 0.04
SCRAP_LEAST_MM2 = 0.5  # slivers smaller than this are nothing to see
CLOSER_SHARE = 0.35  # pieces in a smaller share of the metal's box are shown once more, larger
LABEL_SHARE = 0.032
LETTER_EM, LABEL_HEIGHT_EM = 0.62, 0.75
LABEL_LENGTH_EM = 9.5  # "118.2 mm × 64.5 mm" in a sans-serif face


@dataclass(frozen=True, slots=True)
class PieceInPicture:
    """One piece as it lies: `label` such as "A" or "A2", its group, and paths."""

    label: str
    group: str
    piece: str
    copy: int
    path: str  # shell and windows, for the even-odd rule
    windows: str
    crosses: str
    drills: tuple[tuple[float, float, float], ...]  # centre x, y, radius
    surface: str
    at: tuple[float, float]  # for the label
    label_mm: float
    size_mm: tuple[float, float]
    corner: tuple[float, float] = (0.0, 0.0)  # upper left of the box around it

    @property
    def label_reach_mm(self) -> float:
        """How far the label reaches from its middle."""
        return self.label_mm * max(LABEL_HEIGHT_EM, LETTER_EM * len(self.label)) / 2


@dataclass(frozen=True, slots=True)
class OffcutInPicture:
    """Metal that goes back to the rack: its path and its largest rectangle, longer side first.

    The largest of a plan is told as the plan measured it, never measured twice.
    """

    path: str
    at: tuple[float, float]
    label_mm: float
    upright: bool  # the label runs upwards, where the offcut is taller than wide
    area_mm2: float
    longer_mm: float
    shorter_mm: float


@dataclass(frozen=True, slots=True)
class Start:
    """Where a saw line begins, numbered in sawing order."""

    number: int
    kind: str
    label: str
    at: tuple[float, float]
    length_mm: float
    group: str = ""
    out_of_reach: bool = False  # deeper in the metal than the saw frame reaches
    mark: tuple[float, float] = (0.0, 0.0)  # where its number stands
    lead: str = ""  # from where it begins to a number that stands beside


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter in the picture: what it stands for (a path, an area or lines) and its square."""

    text: str
    path: str
    is_area: bool
    first: bool  # of several parts of the same reason
    at: tuple[float, float]
    corner: tuple[float, float]
    side_mm: float
    lead: str


@dataclass(frozen=True, slots=True)
class Gains:
    """What speaks for a plan on one stock piece, in the metal's own millimetres, y up: with the
    groups whose pieces have it."""

    free: tuple[tuple[str, MultiLineString], ...] = ()
    for_two: tuple[tuple[frozenset[str], MultiLineString, float], ...] = ()  # and what it spares
    in_windows: tuple[tuple[str, Polygon], ...] = ()
    rectangles: tuple[Polygon, ...] = ()  # the largest in each offcut


@dataclass(frozen=True, slots=True)
class MetalPicture:
    """One touched stock piece."""

    code: str
    view_box: str
    closer_box: str  # around the pieces alone, where they take up little of the metal; else ""
    width_mm: float
    height_mm: float
    metal: str
    gone: str  # what earlier cutting took out of its middle
    edges: Edges
    clean: str  # the clean ones of them
    pieces: tuple[PieceInPicture, ...]
    offcuts: tuple[OffcutInPicture, ...]
    scrap: str
    shared: str
    free: str
    offcut_cuts: str
    offcut_cuts_mm: float
    pilots: str  # crosses at holes that the app has put into windows
    starts: tuple[Start, ...]
    not_to_hide: BaseGeometry  # windows and holes, in the picture's millimetres
    radius_mm: float  # of a starting point's mark
    text_mm: float
    deep: tuple[int, ...]  # numbers of lines that the saw frame does not reach
    deepest_mm: float
    holes: int
    piece_mm2: float
    kept_mm2: float
    scrap_mm2: float
    saw_line_mm: float
    gains: Gains = Gains()
    letters: tuple[Letter, ...] = ()  # what speaks for the plan, keyed to the list beside it

    @property
    def for_two_mm(self) -> float:
        """Sawing that is spared by cuts that free two pieces."""
        return sum(spared for _, _, spared in self.gains.for_two)


def labels_of(job: Job) -> dict[str, str]:
    """A letter for each group (A, B … Z, AA …), in the job's order."""
    groups = list(dict.fromkeys(wanted.group or "" for wanted in job.pieces))
    return {group: _letters(number) for number, group in enumerate(groups)}


def labels_of_pieces(job: Job) -> dict[tuple[str, int], str]:
    """What each copy is called, by piece and copy: the group's letter, and a number where the group
    has several pieces."""
    letters = labels_of(job)
    copies: dict[str, list[tuple[str, int]]] = {}
    for wanted in job.pieces:
        own = copies.setdefault(wanted.group or "", [])
        own.extend((wanted.id, copy) for copy in range(wanted.count))
    return {
        key: letters[group] if len(keys) == 1 else f"{letters[group]}{number}"
        for group, keys in copies.items()
        for number, key in enumerate(keys, start=1)
    }


def picture(
    job: Job,
    plan: Plan,
    pieces: Mapping[str, Piece] | None = None,
    *,
    plain_mm: float = 0.0,
    frame_depth_mm: float = FRAME_DEPTH_MM,
) -> tuple[MetalPicture, ...]:
    """The touched stock pieces in the job's order. `pieces` gives the drawings by the job's ids.

    On paper every point counts; for a screen `plain_mm` makes light pictures of traced outlines.
    """
    drawings = pieces or {}
    labels = labels_of_pieces(job)
    ordered = sawing_orders(job, plan.placements, drawings, frame_depth_mm, plan.offcuts)
    orders = {order.metal: order for order in ordered}
    offcuts: dict[str, list[tuple[Polygon, Sides]]] = {}
    for offcut, sides in zip(plan.offcuts, rectangles_of(plan), strict=True):
        offcuts.setdefault(offcut.metal, []).append((offcut.outline, sides))
    found = []
    for metal in job.metal:
        placed = [p for p in plan.placements if p.metal == metal.id]
        if placed:
            found.append(
                _one(
                    job,
                    metal,
                    placed,
                    offcuts.get(metal.id, []),
                    orders[metal.id],
                    labels,
                    drawings,
                    plain_mm,
                )
            )
    return tuple(found)


def rectangles_of(plan: Plan) -> tuple[Sides, ...]:
    """The largest rectangle in each of the plan's offcuts, the longer side first.

    That of the whole plan is told as the plan measured it. Measured anew it comes out otherwise:
    the search for it depends on the outline's points, and earlier plans measured their offcuts
    with round corners.
    """
    found = [_rectangle(offcut.outline.wkb) for offcut in plan.offcuts]
    sides = [(one.longer_mm, one.shorter_mm) for one in found]
    shorter, longer = sorted(plan.measures.largest_rectangle_mm)
    if sides and shorter:
        off = [abs(one - longer) + abs(other - shorter) for one, other in sides]
        sides[off.index(min(off))] = (longer, shorter)
    return tuple(sides)


def _one(
    job: Job,
    metal: Stock,
    placed: Sequence[Placement],
    left: Sequence[tuple[Polygon, Sides]],
    order: SawingOrder,
    labels: Mapping[tuple[str, int], str],
    drawings: Mapping[str, Piece],
    plain_mm: float,
) -> MetalPicture:
    x0, y0, x1, y1 = metal.outline.bounds
    width, height = x1 - x0, y1 - y0
    margin = max(1.0, MARGIN_SHARE * max(width, height))
    flip = Flip(x0, y1, plain_mm)
    text = LABEL_SHARE * max(width, height)
    laid = [(p, p.lay(job.wanted_by_id[p.piece].outline)) for p in placed]
    offcuts = [outline for outline, _ in left]
    gone = united([outline for _, outline in laid] + offcuts)
    scrap = polygons_of(without(metal.outline, gone))
    scrap = [part for part in scrap if part.area >= SCRAP_LEAST_MM2]
    # Large pieces first, so that those in their windows lie on top.
    laid.sort(key=lambda one: -shapely.Polygon(one[1].exterior).area)
    piece_area = sum(outline.area for _, outline in laid)
    radius = round(_mark_radius(text, [outline for _, outline in laid]), 2)
    not_to_hide = _not_to_hide([outline for _, outline in laid], order, flip)
    starts = [_start(line, job, labels, flip) for line in order.lines]
    starts += [
        Start(cut.number, "offcut", "", flip.point(Point(cut.line.coords[0])), cut.length_mm)
        for cut in order.offcut_cuts
    ]
    pieces = tuple(
        _piece(p, outline, job, labels[p.piece, p.copy], flip, text, drawings.get(p.piece))
        for p, outline in laid
    )
    free = [flip.shape(line.free) for line in order.lines if not line.free.is_empty]
    kept = sum(outline.area for outline in offcuts)
    return MetalPicture(
        code=metal.id,
        view_box=numbers(-margin, -margin, width + 2 * margin, height + 2 * margin),
        closer_box=_closer_box(united(outline for _, outline in laid), flip, metal),
        width_mm=width,
        height_mm=height,
        metal=flip.path(metal.parts),
        gone=flip.path(Polygon(ring) for part in metal.parts for ring in part.interiors),
        edges=edges_of(metal),
        clean=flip.lines(clean_lines(metal).geoms),
        pieces=pieces,
        offcuts=tuple(_offcut(outline, sides, flip, text) for outline, sides in left),
        scrap=flip.path(scrap),
        shared=flip.lines(order.shared_cuts),
        free=flip.lines(part for line in order.lines for part in line.free.geoms),
        offcut_cuts=flip.lines(cut.line for cut in order.offcut_cuts),
        offcut_cuts_mm=order.offcut_cuts_mm,
        pilots="".join(
            _cross(*flip.point(hole.at), 0.2 * text)
            for hole in order.holes
            if hole.diameter_mm is None
        ),
        starts=marked(starts, radius, GeometryCollection([not_to_hide, *free]), pieces),
        not_to_hide=not_to_hide,
        radius_mm=radius,
        text_mm=text,
        deep=order.deep,
        deepest_mm=order.deepest_mm,
        holes=len(order.holes),
        piece_mm2=piece_area,
        kept_mm2=kept,
        scrap_mm2=max(0.0, metal.outline.area - piece_area - kept),
        saw_line_mm=order.length_mm,
        gains=_gains(job, placed, order, offcuts),
    )


def _gains(
    job: Job, placed: Sequence[Placement], order: SawingOrder, offcuts: Sequence[Polygon]
) -> Gains:
    groups = [job.wanted_by_id[p.piece].group or "" for p in placed]
    outlines = [p.lay(job.wanted_by_id[p.piece].outline) for p in placed]
    windows = [Polygon(ring) for outline in outlines for ring in outline.interiors]
    return Gains(
        tuple(
            (job.wanted_by_id[line.piece].group or "", line.free)
            for line in order.lines
            if not line.free.is_empty
        ),
        tuple(
            (frozenset(groups[k] for k in cut.pieces), cut.line, cut.length_mm)
            for cut in order.for_two
        ),
        tuple(
            (group, outline)
            for group, outline in zip(groups, outlines, strict=True)
            if any(window.covers(outline) for window in windows)
        ),
        tuple(_rectangle(offcut.wkb).polygon for offcut in offcuts),
    )


def marked(
    starts: Sequence[Start],
    radius_mm: float,
    not_to_hide: BaseGeometry,
    pieces: Sequence[PieceInPicture],
) -> tuple[Start, ...]:
    """Starts with their numbers placed: none on another, on a label or on what is not to hide."""
    taken = [(Point(piece.at), piece.label_reach_mm) for piece in pieces]
    places = clear_places(
        [Point(start.at) for start in starts], radius_mm, not_to_hide, taken=taken
    )
    found = []
    for start, place in zip(starts, places, strict=True):
        beside = place.distance(Point(start.at)) > 1e-6
        lead = f"M{numbers(*start.at)}L{numbers(place.x, place.y)}" if beside else ""
        found.append(replace(start, mark=(round(place.x, 2), round(place.y, 2)), lead=lead))
    return tuple(found)


def _start(line: SawLine, job: Job, labels: Mapping[tuple[str, int], str], flip: Flip) -> Start:
    return Start(
        line.number,
        "window" if line.kind is LineKind.WINDOW else "outline",
        labels[line.piece, line.copy],
        flip.point(line.start),
        line.length_mm,
        job.wanted_by_id[line.piece].group or "",
        line.out_of_reach,
    )


def _not_to_hide(outlines: Sequence[Polygon], order: SawingOrder, flip: Flip) -> BaseGeometry:
    """Windows, as far as no piece lies in them, and holes, as the picture has them."""
    windows = [Polygon(ring) for outline in outlines for ring in outline.interiors]
    holes = [hole.at.buffer((hole.diameter_mm or 0.0) / 2 + 0.3) for hole in order.holes]
    free = without(united(windows), united(list(outlines)))
    return flip.shape(united([free.simplify(0.1), *holes]))


def _cross(x: float, y: float, arm: float) -> str:
    return f"M{numbers(x - arm, y)}H{x + arm:.2f}M{numbers(x, y - arm)}V{y + arm:.2f}"


def _piece(
    p: Placement,
    outline: Polygon,
    job: Job,
    label: str,
    flip: Flip,
    text: float,
    drawing: Piece | None,
) -> PieceInPicture:
    marks = drawing.drill_marks if drawing else ()
    spot, room = _label_place(
        outline,
        [lay_point(p, m.centre).buffer(m.diameter_mm / 2 + 0.4 * text) for m in marks],
    )
    drills = []
    crosses = []
    for mark in marks:
        x, y = flip.point(lay_point(p, mark.centre))
        radius = mark.diameter_mm / 2
        arm = max(1.6 * radius, 0.2 * text)
        drills.append((x, y, radius))
        crosses.append(_cross(x, y, arm))
    surface = [lay_line(p, line) for line in (drawing.surface_lines if drawing else ())]
    x0, y0, x1, y1 = outline.bounds
    return PieceInPicture(
        label=label,
        group=job.wanted_by_id[p.piece].group or "",
        piece=p.piece,
        copy=p.copy,
        path=flip.path([outline]),
        windows=flip.path([Polygon(ring) for ring in outline.interiors]),
        crosses="".join(crosses),
        drills=tuple((round(x, 3), round(y, 3), round(r, 3)) for x, y, r in drills),
        surface=flip.lines(surface),
        at=flip.point(spot),
        label_mm=round(max(0.35 * text, min(text, 0.9 * room / max(1, 0.6 * len(label)))), 2),
        size_mm=(x1 - x0, y1 - y0),
        corner=flip.point(Point(x0, y1)),
    )


def _closer_box(pieces: BaseGeometry, flip: Flip, metal: Stock) -> str:
    """A view box around the pieces with some of the metal, "" where there is nothing to gain."""
    around = shapely.box(*pieces.bounds)
    around = around.buffer(0.1 * max(around.length / 4, 1.0), join_style="mitre")
    if around.area > CLOSER_SHARE * shapely.box(*metal.outline.bounds).area:
        return ""
    left, bottom, right, top = around.bounds
    x, y = flip.point(Point(left, top))
    return numbers(x, y, right - left, top - bottom)


@lru_cache(maxsize=1024)
def _rectangle(wkb: bytes) -> Rectangle:
    """The slowest part of a picture, and asked for again with every look at the same plan."""
    outline = shapely.from_wkb(wkb)
    assert isinstance(outline, Polygon)
    return largest_rectangle(outline)


def _mark_radius(text: float, outlines: Sequence[Polygon]) -> float:
    """Small enough not to cover the smallest piece, large enough to be read."""
    smallest = math.sqrt(min(shapely.Polygon(outline.exterior).area for outline in outlines))
    return max(0.22 * text, min(0.45 * text, 0.12 * smallest))


def _label_place(outline: Polygon, taken: Sequence[Polygon]) -> tuple[Point, float]:
    """Where a label has most room on a piece, clear of its drill marks, and how much room."""
    clear = max(
        polygons_of(without(outline, united(taken))) or [outline],
        key=lambda part: part.area,
    )
    circle = shapely.maximum_inscribed_circle(clear, tolerance=0.5)
    return Point(circle.coords[0]), float(circle.length)


def _offcut(outline: Polygon, sides: Sides, flip: Flip, text: float) -> OffcutInPicture:
    rectangle = _rectangle(outline.wkb)
    around = outline if rectangle.polygon.is_empty else rectangle.polygon
    x0, y0, x1, y1 = around.bounds
    upright = y1 - y0 > 1.3 * (x1 - x0)
    along, across = (y1 - y0, x1 - x0) if upright else (x1 - x0, y1 - y0)
    fits = min(along / LABEL_LENGTH_EM, 0.8 * across)
    return OffcutInPicture(
        path=flip.path([outline]),
        at=flip.point(around.centroid),
        label_mm=round(max(0.4 * text, min(text, fits)), 2),
        upright=upright,
        area_mm2=outline.area,
        longer_mm=sides[0],
        shorter_mm=sides[1],
    )


def _letters(number: int) -> str:
    word = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        word = chr(ord("A") + rest) + word
    return word


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """A drawing small: its view box, one path for the even-odd rule, and its size."""

    view_box: str
    path: str
    width_mm: float
    height_mm: float


def thumbnail(pieces: Sequence[Piece]) -> Thumbnail:
    """The pieces as drawn, without labels."""
    boxes = [piece.outline.bounds for piece in pieces] or [(0.0, 0.0, 1.0, 1.0)]
    x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
    x1, y1 = max(box[2] for box in boxes), max(box[3] for box in boxes)
    margin = 0.06 * max(x1 - x0, y1 - y0)
    view_box = numbers(-margin, -margin, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin)
    flip = Flip(x0, y1)
    path = flip.path(p for piece in pieces for p in polygons_of(piece.outline.simplify(0.1)))
    return Thumbnail(view_box, path, x1 - x0, y1 - y0)
