"""One touched stock piece as a picture on paper: at true size for the bench, or scaled.

Line widths and letters are paper millimetres whatever the scale. Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import shapely
from django.utils.translation import gettext
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from classroom.figures.units import Units, format_size
from studio.core.areas import united, without
from studio.core.cutting import Job, Placement, Plan
from studio.core.drawing import Piece
from studio.core.picturing.paths import lay_point
from studio.core.picturing.plan import MetalPicture
from studio.core.picturing.sawing_order import SawingOrder
from studio.core.verifying import shared_stretches
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.rims import rims_on_metal

from .order_marks import Start, starts_of

SCRAP_LEAST_MM2 = 0.5
SHOWN_MM = 0.04  # finer than a printed line shows
OFFCUT_LEAST_MM = 1.6  # smaller letters cannot be read at the bench


@dataclass(frozen=True, slots=True)
class Mount:
    """Which copy of which piece lies where, and what it is called."""

    placement: Placement
    outline: Polygon
    label: str
    group: str


@dataclass(frozen=True, slots=True)
class PieceOnMetal:
    """One piece's paths; `mine` where it belongs to the person who looks."""

    label: Text | None
    outline: str
    windows: str
    surface: str
    drills: str
    crosses: str
    mine: bool


@dataclass(frozen=True, slots=True)
class MetalArt:
    """All paths of one stock piece."""

    metal: str
    clean: str
    scrap: str
    offcuts: str
    offcut_labels: tuple[Text, ...]
    abrade: str
    pieces: tuple[PieceOnMetal, ...]
    shared: str
    free: str
    starts: tuple[Start, ...]


@dataclass(frozen=True, slots=True)
class OneMetal:
    """A stock piece with all that lies on it, in the metal's own millimetres."""

    code: str
    outline: Polygon | MultiPolygon
    clean_edges: bool
    mounts: tuple[Mount, ...]
    offcuts: tuple[Polygon, ...]
    scrap: tuple[Polygon, ...]
    rims: tuple[Polygon, ...]
    kerf_mm: float
    order: SawingOrder
    picture: MetalPicture
    drawings: Mapping[str, Piece]
    units: Units

    @property
    def size_mm(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0


def one_metal(
    job: Job,
    laid: Plan,
    shown: MetalPicture,
    order: SawingOrder,
    drawings: Mapping[str, Piece],
    *,
    with_rims: bool,
    units: Units,
) -> OneMetal:
    """Everything about one stock piece of a plan that a print may show. The papers' rims take
    time, and only the placement sheet shows them."""
    metal = job.stock_by_id[shown.code]
    labels = {(one.piece, one.copy): one.label for one in shown.pieces}
    mounts = [
        Mount(
            p,
            p.lay(job.wanted_by_id[p.piece].outline),
            labels[p.piece, p.copy],
            job.wanted_by_id[p.piece].group or "",
        )
        for p in laid.placements
        if p.metal == shown.code
    ]
    mounts.sort(key=lambda mount: -Polygon(mount.outline.exterior).area)
    offcuts = [one.outline for one in laid.offcuts if one.metal == shown.code]
    gone = united([*(mount.outline for mount in mounts), *offcuts])
    scrap = [
        part
        for part in shapely.get_parts(without(metal.outline, gone))
        if isinstance(part, Polygon) and part.area >= SCRAP_LEAST_MM2
    ]
    return OneMetal(
        shown.code,
        metal.outline,
        metal.clean_edges,
        tuple(mounts),
        tuple(offcuts),
        tuple(scrap),
        tuple(rims_on_metal([mount.outline for mount in mounts], metal.outline))
        if with_rims
        else (),
        job.kerf_mm,
        order,
        shown,
        drawings,
        units,
    )


def metal_art(
    one: OneMetal,
    frame: Frame,
    *,
    mine: Collection[str] = (),
    with_order: bool = False,
    with_labels: bool = True,
    with_offcuts: bool = True,
    seen: Polygon | None = None,
) -> MetalArt:
    """The picture. `mine` are the groups drawn as the looker's own; `with_order` numbers the
    beginnings of the saw lines, `with_labels` names the pieces and `with_offcuts` the offcuts.
    What lies outside of `seen` (a tile) is left out. A picture that is not at true size is drawn
    with no more points than the paper shows."""
    outline = one.outline
    mounts = [m for m in one.mounts if seen is None or m.outline.intersects(seen)]
    rims = [rim for rim in one.rims if seen is None or rim.intersects(seen)]
    return MetalArt(
        metal=frame.path(outline),
        clean=frame.path(outline) if one.clean_edges else "",
        scrap=frame.path(*_all_coarser(one.scrap, frame.scale)),
        offcuts=frame.path(*_all_coarser(one.offcuts, frame.scale)),
        offcut_labels=tuple(_offcut_labels(one, frame)) if with_offcuts else (),
        abrade=frame.path(*_union(rims)),
        pieces=tuple(
            _piece(one, mount, frame, mount.group in mine, with_labels) for mount in mounts
        ),
        shared=frame.lines(
            *(
                stretch.line
                for stretch in shared_stretches([m.outline for m in one.mounts], one.kerf_mm)
            )
        ),
        free=frame.lines(*(line.free for line in one.order.lines)),
        starts=tuple(starts_of(one.order, frame)) if with_order else (),
    )


def _union(rims: Sequence[Polygon]) -> list[Polygon]:
    """Rims that touch become one area to abrade."""
    whole = united(rim.buffer(0.02) for rim in rims)
    return [part for part in shapely.get_parts(whole) if isinstance(part, Polygon)]


def _piece(one: OneMetal, mount: Mount, frame: Frame, mine: bool, with_label: bool) -> PieceOnMetal:
    p, drawing = mount.placement, one.drawings.get(mount.placement.piece)
    marks = [
        (lay_point(p, mark.centre), mark.diameter_mm)
        for mark in (drawing.drill_marks if drawing else ())
    ]
    shown = mount.outline if frame.scale == 1.0 else _coarser(mount.outline, frame.scale)
    surface = [_lay_line(p, line) for line in (drawing.surface_lines if drawing else ())]
    return PieceOnMetal(
        label=_label(mount, frame, [at for at, _ in marks]) if with_label else None,
        outline=frame.path(shown),
        windows=frame.windows(shown),
        surface=frame.lines(*surface),
        drills="".join(frame.round(at, size) for at, size in marks),
        crosses="".join(
            frame.cross(at, max(1.2, (size / 2 + 0.9) * frame.scale)) for at, size in marks
        ),
        mine=mine,
    )


def _all_coarser(shapes: Sequence[Polygon], scale: float) -> list[Polygon]:
    return [shape if scale == 1.0 else _coarser(shape, scale) for shape in shapes]


def _coarser(outline: Polygon, scale: float) -> Polygon:
    simple = outline.simplify(SHOWN_MM / scale)
    return simple if isinstance(simple, Polygon) and not simple.is_empty else outline


def _lay_line(p: Placement, line: LineString) -> LineString:
    if p.mirror:
        line = affinity.scale(line, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
    turned = affinity.rotate(line, p.turn_deg, origin=(0.0, 0.0))
    return affinity.translate(turned, p.x_mm, p.y_mm)


def _label(mount: Mount, frame: Frame, marks: list[Point]) -> Text | None:
    room: Polygon | MultiPolygon = mount.outline
    if marks:
        clear = without(mount.outline, united(at.buffer(2.5) for at in marks))
        if isinstance(clear, Polygon | MultiPolygon) and not clear.is_empty:
            room = clear
    circle = shapely.maximum_inscribed_circle(room, tolerance=0.2)
    size = min(5.0, 1.5 * circle.length * frame.scale / max(1.0, LETTER_EM * len(mount.label)))
    x, y = frame.xy(*circle.coords[0])
    size = max(size, 1.8)
    return Text(mount.label, num(x), num(y + 0.36 * size), num(size))


def _offcut_labels(one: OneMetal, frame: Frame) -> list[Text]:
    """What each offcut is called and how large it is, as far as there is room for it."""
    found = []
    for offcut, shown in zip(one.offcuts, one.picture.offcuts, strict=True):
        circle = shapely.maximum_inscribed_circle(offcut, tolerance=0.5)
        x, y = frame.xy(*circle.coords[0])
        lines = [gettext("offcut"), format_size(shown.longer_mm, shown.shorter_mm, one.units)]
        room = 1.8 * circle.length * frame.scale / LETTER_EM
        if room / len(lines[1]) < OFFCUT_LEAST_MM:
            lines = lines[:1]
        size = min(4.0, room / max(len(text) for text in lines))
        if size < OFFCUT_LEAST_MM:
            continue
        for number, text in enumerate(lines):
            base = y + (number - 0.15) * 1.25 * size
            width = LETTER_EM * size * len(text)
            back = (num(x - width / 2), num(base - size), num(width), num(1.3 * size))
            found.append(Text(text, num(x), num(base), num(size), back=back))
    return found
