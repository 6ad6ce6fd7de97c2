"""How does a cut plan look? What to draw of each stock piece, in paths ready for a picture.

Everything is in millimetres and flipped so that y points down, as a picture wants it; the view
box has its origin at the metal's upper left corner, less a margin. Words and colours are the
templates' business. Pure: a job, its plan and the drawings' pieces go in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry import GeometryCollection, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.cutting import Blank, Job, Placement, Plan, Stock
from studio.core.drawing import Piece

from .colours import Mark, marks_of
from .edges import clean_lines, edges_of
from .in_picture import Gains, MetalPicture, OffcutInPicture, PieceInPicture, Start
from .labels import labels_of, labels_of_pieces
from .offcuts_in_picture import Left, offcut_in_picture, rectangle_of, rectangles_of
from .parted.pictures import blank_in_picture, cut_in_picture, left_when_parted
from .paths import Flip, numbers, polygons_of
from .pieces_in_picture import cross, piece_in_picture
from .sawing_order import FRAME_DEPTH_MM, SawingOrder, sawing_orders
from .starts import mark_radius, marked, not_to_hide_in, start_of, start_of_cut
from .thumbnails import Thumbnail, thumbnail

__all__ = [
    "MetalPicture",
    "OffcutInPicture",
    "PieceInPicture",
    "Start",
    "Thumbnail",
    "labels_of",
    "labels_of_pieces",
    "marked",
    "picture",
    "rectangles_of",
    "thumbnail",
]

MARGIN_SHARE = 0.04
SCRAP_LEAST_MM2 = 0.5  # slivers smaller than this are nothing to see
CLOSER_SHARE = 0.35  # pieces in a smaller share of the metal's box are shown once more, larger
LABEL_SHARE = 0.032


def picture(
    job: Job,
    plan: Plan,
    pieces: Mapping[str, Piece] | None = None,
    *,
    plain_mm: float = 0.0,
    frame_depth_mm: float = FRAME_DEPTH_MM,
    turns: Sequence[str] = (),
) -> tuple[MetalPicture, ...]:
    """The touched stock pieces in the job's order. `pieces` gives the drawings by the job's ids,
    `turns` the groups in the order in which they saw, where metal is passed on.

    On paper every point counts; for a screen `plain_mm` makes light pictures of traced outlines.
    """
    drawings = pieces or {}
    labels = labels_of_pieces(job)
    marks = marks_of(job)
    ordered = sawing_orders(
        job,
        plan.placements,
        drawings,
        frame_depth_mm,
        plan.offcuts,
        turns=turns,
        cuts=plan.cuts,
    )
    orders = {order.metal: order for order in ordered}
    offcuts: dict[str, list[Left]] = {}
    for offcut, sides in zip(plan.offcuts, rectangles_of(plan), strict=True):
        offcuts.setdefault(offcut.metal, []).append(Left(offcut.outline, sides))
    found = []
    for metal in job.metal:
        placed = [p for p in plan.placements if p.metal == metal.id]
        if placed:
            blanks = [blank for blank in plan.blanks if blank.metal == metal.id]
            found.append(
                _one(
                    job,
                    metal,
                    placed,
                    left_when_parted(job, metal.id, plan, offcuts.get(metal.id, [])),
                    orders[metal.id],
                    labels,
                    drawings,
                    marks,
                    blanks if plan.cuts else [],
                    plain_mm,
                )
            )
    return tuple(found)


def _one(
    job: Job,
    metal: Stock,
    placed: Sequence[Placement],
    left: Sequence[Left],
    order: SawingOrder,
    labels: Mapping[tuple[str, int], str],
    drawings: Mapping[str, Piece],
    marks: Mapping[str, Mark],
    blanks: Sequence[Blank],
    plain_mm: float,
) -> MetalPicture:
    x0, y0, x1, y1 = metal.outline.bounds
    width, height = x1 - x0, y1 - y0
    margin = max(1.0, MARGIN_SHARE * max(width, height))
    flip = Flip(x0, y1, plain_mm)
    text = LABEL_SHARE * max(width, height)
    laid = [(p, p.lay(job.wanted_by_id[p.piece].outline)) for p in placed]
    offcuts = [one.outline for one in left]
    gone = united([outline for _, outline in laid] + offcuts)
    scrap = polygons_of(without(metal.outline, gone))
    scrap = [part for part in scrap if part.area >= SCRAP_LEAST_MM2]
    # Large pieces first, so that those in their windows lie on top.
    laid.sort(key=lambda one: -shapely.Polygon(one[1].exterior).area)
    piece_area = sum(outline.area for _, outline in laid)
    radius = round(mark_radius(text, [outline for _, outline in laid]), 2)
    not_to_hide = not_to_hide_in([outline for _, outline in laid], order, flip)
    starts = [start_of_cut(cut, flip) for cut in order.parting]
    starts += [start_of(line, job, labels, flip) for line in order.lines]
    starts += [
        Start(cut.number, "offcut", "", flip.point(Point(cut.line.coords[0])), cut.length_mm)
        for cut in order.offcut_cuts
    ]
    pieces = tuple(
        piece_in_picture(
            p,
            outline,
            job,
            labels[p.piece, p.copy],
            flip,
            text,
            drawings.get(p.piece),
            marks.get(job.wanted_by_id[p.piece].group or ""),
        )
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
        offcuts=tuple(offcut_in_picture(one, flip, text) for one in left),
        scrap=flip.path(scrap),
        shared=flip.lines(order.shared_cuts),
        free=flip.lines(part for line in order.lines for part in line.free.geoms),
        offcut_cuts=flip.lines(cut.line for cut in order.offcut_cuts),
        offcut_cuts_mm=order.offcut_cuts_mm,
        pilots="".join(
            cross(*flip.point(hole.at), 0.2 * text)
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
        cuts=tuple(cut_in_picture(cut, flip) for cut in order.parting),
        blanks=tuple(blank_in_picture(job, blank, marks, flip, text) for blank in blanks),
        sawn_apart=order.sawn_apart and bool(order.parting),
        parting_mm=order.parting_mm,
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
        tuple(rectangle_of(offcut.wkb).polygon for offcut in offcuts),
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
