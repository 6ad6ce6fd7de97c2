"""One touched stock piece as a picture on paper: at true size for the bench, or scaled.

Line widths and letters are paper millimetres whatever the scale. Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from django.utils.translation import gettext
from shapely.geometry import MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.units import Units, format_size
from studio.core.areas import united, without
from studio.core.cutting import Blank, Job, Placement, Plan
from studio.core.drawing import Piece
from studio.core.picturing.clear_places import clear_places
from studio.core.picturing.colours import Mark
from studio.core.picturing.cuts_for_two import shared_width_mm
from studio.core.picturing.edges import Edges, clean_lines, edges_of
from studio.core.picturing.papers import OnPaper, Paper, papers_on_metal
from studio.core.picturing.paths import lay_line, polygons_of
from studio.core.picturing.plan import MetalPicture
from studio.core.picturing.sawing_order import SawingOrder
from studio.core.picturing.why import Why
from studio.prints.paper.drill_sizes import Hole, SizeWords, beside_holes, shown_at, words_box
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.pilots import PilotSize, drill_words

from .order_marks import Start, starts_of

SCRAP_LEAST_MM2 = 0.5
SHOWN_MM = 0.04  # finer than a printed line shows
OFFCUT_LEAST_MM = 1.6  # smaller letters cannot be read at the bench
LABEL_LEAST_MM = 1.8
LABEL_MOST_MM = 5.0
HOLE_CLEAR_MM = 0.9  # on paper, round a hole's rim: its cross
PILOT_LEAST_MM = 0.8  # drawn so wide where no drill is known
SIZE_MM = 2.0  # letters of a drill's diameter
SIZE_REACH_MM = 40.0
EDGE_LINE_MM = 1.6  # the heavy line of a clean edge, and air beside it
WHY_SIDE_MM = 4.0
NOTHING_TOLD = Why()


@dataclass(frozen=True, slots=True)
class Mount:
    """Which copy of which piece lies where, and what it is called."""

    placement: Placement
    outline: Polygon
    label: str
    group: str


@dataclass(frozen=True, slots=True)
class PieceOnMetal:
    """One piece's paths; `mine` where it belongs to the person who looks, `lying` where it lay
    there before the plan's own pieces were added."""

    label: Text | None
    outline: str
    windows: str
    surface: str
    drills: str
    crosses: str
    mine: bool
    lying: bool = False
    mark: Mark | None = None  # where several students share the picture

    @property
    def hue(self) -> str:
        """The class of its student's colour; none in a picture of one student's."""
        return self.mark.hue if self.mark else ""


@dataclass(frozen=True, slots=True)
class MetalArt:
    """All paths of one stock piece."""

    metal: str
    clean: str
    scrap: str
    offcuts: str
    offcut_cuts: str
    offcut_labels: tuple[Text, ...]
    papers: str
    pieces: tuple[PieceOnMetal, ...]
    shared: str
    free: str
    starts: tuple[Start, ...]
    leads: str  # from what stands beside to where it belongs
    drill_sizes: tuple[Text, ...]
    letters: tuple[WhyLetter, ...] = ()
    kept: str = ""  # the rectangle that stays whole
    cuts: str = ""  # that part the metal
    kerfs: str = ""  # what a saw takes in them
    blanks: tuple[tuple[str, str], ...] = ()  # the class of each student's colour, and the path


@dataclass(frozen=True, slots=True)
class WhyLetter:
    """A letter of the list of reasons: its words and its square on the page."""

    text: Text
    x: str
    y: str
    side: str


@dataclass(frozen=True, slots=True)
class HoleOnMetal:
    """A hole to drill: whose, where, how wide (None where no blade is known)."""

    piece: str
    copy: int
    at: Point
    diameter_mm: float | None

    @property
    def wide_mm(self) -> float:
        """Its width as drawn."""
        return self.diameter_mm or PILOT_LEAST_MM


@dataclass(frozen=True, slots=True)
class OneMetal:
    """A stock piece with all that lies on it, in the metal's own millimetres."""

    code: str
    outline: Polygon | MultiPolygon
    edges: Edges
    clean: MultiLineString
    mounts: tuple[Mount, ...]
    offcuts: tuple[Polygon, ...]
    scrap: tuple[Polygon, ...]
    papers: tuple[Paper, ...]
    holes: tuple[HoleOnMetal, ...]
    drill_sizes: tuple[SizeWords, ...]
    order: SawingOrder
    picture: MetalPicture
    drawings: Mapping[str, Piece]
    units: Units
    blanks: tuple[Blank, ...] = ()  # that cuts through it make
    letter: str = ""  # whose blank it is, where it is one by itself

    @property
    def size_mm(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0

    @property
    def not_to_hide(self) -> BaseGeometry:
        """Windows, as far as no piece lies in them, and holes."""
        windows = [Polygon(ring) for mount in self.mounts for ring in mount.outline.interiors]
        pieces = united([mount.outline for mount in self.mounts])
        holes = [hole.at.buffer(hole.wide_mm / 2 + 0.3) for hole in self.holes]
        return united([without(united(windows), pieces), *holes])


def one_metal(
    job: Job,
    laid: Plan,
    shown: MetalPicture,
    order: SawingOrder,
    drawings: Mapping[str, Piece],
    *,
    pilot_sizes: Mapping[str, PilotSize],
    with_papers: bool,
    rim_mm: float,
    units: Units,
    letter: str = "",
) -> OneMetal:
    """Everything about one stock piece of a plan that a print may show. Papers and the words for
    drills take time, and only the placement sheet shows them. `pilot_sizes` are those of each
    group."""
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
    holes = [
        HoleOnMetal(
            hole.piece,
            hole.copy,
            hole.at,
            hole.diameter_mm
            if hole.diameter_mm is not None
            else _pilot(pilot_sizes, job, hole.piece, hole.room_mm),
        )
        for hole in order.holes
    ]
    return OneMetal(
        shown.code,
        metal.outline,
        edges_of(metal),
        clean_lines(metal),
        tuple(mounts),
        tuple(offcuts),
        tuple(scrap),
        papers_on_metal(
            [OnPaper(mount.outline, mount.group or mount.label) for mount in mounts],
            metal.outline,
            rim_mm=rim_mm,
            shared_mm=shared_width_mm(job),
        )
        if with_papers
        else (),
        tuple(holes),
        tuple(_drill_sizes(metal.outline, mounts, holes, units)) if with_papers else (),
        order,
        shown,
        drawings,
        units,
        tuple(blank for blank in laid.blanks if order.parting and blank.metal == shown.code),
        letter,
    )


def _pilot(sizes: Mapping[str, PilotSize], job: Job, piece: str, room_mm: float) -> float | None:
    size = sizes.get(job.wanted_by_id[piece].group or "")
    return size(room_mm) if size is not None else None


def _drill_sizes(
    metal: Polygon | MultiPolygon,
    mounts: Sequence[Mount],
    holes: Sequence[HoleOnMetal],
    units: Units,
) -> list[SizeWords]:
    """The diameter beside each hole, on no line and no label; the same at every scale."""
    named = [
        Hole(hole.at, drill_words(hole.diameter_mm, units), hole.wide_mm / 2 + HOLE_CLEAR_MM)
        for hole in holes
        if hole.diameter_mm is not None
    ]
    if not named:
        return []
    rings = [
        ring for mount in mounts for ring in (mount.outline.exterior, *mount.outline.interiors)
    ]
    labels = [
        words_box(at.x, at.y, mount.label, size)
        for mount in mounts
        for at, size in [_label_in(mount, _marks_on(mount, holes))]
    ]
    words = beside_holes(
        named,
        SIZE_MM,
        united([*rings, metal.boundary.buffer(EDGE_LINE_MM / 2)]),
        metal,
        reach_mm=SIZE_REACH_MM,
        taken=labels,
        windows=[Polygon(ring) for mount in mounts for ring in mount.outline.interiors],
    )
    return [one for one in words if one is not None]


def _marks_on(mount: Mount, holes: Sequence[HoleOnMetal]) -> list[Point]:
    own = (mount.placement.piece, mount.placement.copy)
    return [hole.at for hole in holes if (hole.piece, hole.copy) == own]


def metal_art(
    one: OneMetal,
    frame: Frame,
    *,
    mine: Collection[str] = (),
    lying: Collection[str] = (),
    with_order: bool = False,
    with_labels: bool = True,
    with_offcuts: bool = True,
    seen: Polygon | None = None,
    why: Why = NOTHING_TOLD,
) -> MetalArt:
    """The picture. `mine` are the groups drawn as the looker's own, `lying` those that lay
    there before and are drawn faint; `with_order` numbers the
    beginnings of the saw lines, `with_labels` names the pieces and `with_offcuts` the offcuts.
    What lies outside of `seen` (a tile) is left out; `why` are the reasons to be keyed. A picture
    that is not at true size is drawn with no more points than the paper shows."""
    outline = one.outline
    mounts = [m for m in one.mounts if seen is None or m.outline.intersects(seen)]
    papers = [p.outline for p in one.papers if seen is None or p.outline.intersects(seen)]
    labels = _labels(one, frame, mounts) if with_labels else []
    sizes = [shown_at(words, frame) for words in one.drill_sizes] if frame.scale == 1.0 else []
    standing = [
        (label.at, LETTER_EM * label.size_mm * len(label.text) / 2 / frame.scale)
        for label in labels
    ]
    starts = starts_of(one.order, frame, one.not_to_hide, standing) if with_order else []
    texts = {label.text: label for label in labels}
    return MetalArt(
        metal=frame.path(outline),
        clean=frame.lines(one.clean),
        scrap=frame.path(*_all_coarser(one.scrap, frame.scale)),
        offcuts=frame.path(*_all_coarser(one.offcuts, frame.scale)),
        offcut_cuts=frame.lines(*(cut.line for cut in one.order.offcut_cuts)),
        offcut_labels=tuple(_offcut_labels(one, frame)) if with_offcuts else (),
        papers=frame.path(*papers),
        pieces=tuple(
            replace(
                _piece(one, mount, frame, mount.group in mine, texts.get(mount.label)),
                lying=mount.group in lying,
            )
            for mount in mounts
        ),
        shared=frame.lines(*one.order.shared_cuts),
        free=frame.lines(*(line.free for line in one.order.lines)),
        starts=tuple(starts),
        leads="".join([*(label.lead(frame) for label in labels), *(leader for _, leader in sizes)]),
        drill_sizes=tuple(text for text, _ in sizes),
        letters=tuple(_why_letters(why, one, frame, starts)),
        kept=_kept(why, one, frame),
        cuts=frame.lines(*(line for cut in one.order.parting for line in cut.lines)),
        kerfs=frame.path(*(part for cut in one.order.parting for part in polygons_of(cut.kerf))),
        blanks=tuple((_hue(one, blank.group), frame.path(blank.outline)) for blank in one.blanks),
    )


def _hue(one: OneMetal, group: str | None) -> str:
    mark = one.picture.marks.get(group or "")
    return mark.hue if mark else ""


def _why_letters(why: Why, one: OneMetal, frame: Frame, starts: Sequence[Start]) -> list[WhyLetter]:
    """The letters of what is seen on the stock piece, on no number, window or hole."""
    seen = why.parts_on(one.code)
    x0, _, _, y1 = one.outline.bounds
    taken = [
        (frame.back(float(start.x), float(start.y)), float(start.radius) / frame.scale)
        for start in starts
    ]
    places = clear_places(
        [Point(x0 + part.at[0], y1 - part.at[1]) for _, part in seen],
        0.75 * WHY_SIDE_MM / frame.scale,
        one.not_to_hide,
        taken=taken,
    )
    found = []
    for (reason, _), place in zip(seen, places, strict=True):
        x, y = frame.xy(place.x, place.y)
        half = WHY_SIDE_MM / 2
        text = Text(reason.letter, num(x), num(y + 0.3 * WHY_SIDE_MM), num(0.85 * WHY_SIDE_MM))
        found.append(WhyLetter(text, num(x - half), num(y - half), num(WHY_SIDE_MM)))
    return found


def _kept(why: Why, one: OneMetal, frame: Frame) -> str:
    if not any(reason.code == "keeps" for reason, _ in why.parts_on(one.code)):
        return ""
    largest = max(one.picture.gains.rectangles, key=lambda rectangle: rectangle.area)
    return frame.path(largest)


def _piece(
    one: OneMetal, mount: Mount, frame: Frame, mine: bool, label: Label | None
) -> PieceOnMetal:
    p, drawing = mount.placement, one.drawings.get(mount.placement.piece)
    holes = [hole for hole in one.holes if (hole.piece, hole.copy) == (p.piece, p.copy)]
    shown = mount.outline if frame.scale == 1.0 else _coarser(mount.outline, frame.scale)
    surface = [lay_line(p, line) for line in (drawing.surface_lines if drawing else ())]
    mark = one.picture.marks.get(mount.group)
    return PieceOnMetal(
        label=label.shown(frame, on_colour=mark is not None) if label else None,
        outline=frame.path(shown),
        windows=frame.windows(shown),
        surface=frame.lines(*surface),
        drills="".join(frame.round(hole.at, hole.wide_mm) for hole in holes),
        crosses="".join(
            frame.cross(hole.at, max(1.2, (hole.wide_mm / 2 + HOLE_CLEAR_MM) * frame.scale))
            for hole in holes
        ),
        mine=mine,
        mark=mark,
    )


def _all_coarser(shapes: Sequence[Polygon], scale: float) -> list[Polygon]:
    return [shape if scale == 1.0 else _coarser(shape, scale) for shape in shapes]


def _coarser(outline: Polygon, scale: float) -> Polygon:
    simple = outline.simplify(SHOWN_MM / scale)
    return simple if isinstance(simple, Polygon) and not simple.is_empty else outline


@dataclass(frozen=True, slots=True)
class Label:
    """What a piece is called: where it stands on the metal, its letters in paper millimetres,
    and the piece's own roomiest place, to which a line leads where the label stands beside."""

    text: str
    at: Point
    size_mm: float
    home: Point

    def shown(self, frame: Frame, *, on_colour: bool = False) -> Text:
        """The words; on a student's colour and pattern with a white ground of their own."""
        x, y = frame.xy(self.at.x, self.at.y)
        size = self.size_mm
        back = None
        if on_colour:
            width = LETTER_EM * size * len(self.text) + 0.4 * size
            back = (num(x - width / 2), num(y - 0.55 * size), num(width), num(1.1 * size))
        return Text(self.text, num(x), num(y + 0.36 * size), num(size), back=back)

    def lead(self, frame: Frame) -> str:
        if self.at.distance(self.home) < 1e-6:
            return ""
        x, y = frame.xy(self.at.x, self.at.y)
        home_x, home_y = frame.xy(self.home.x, self.home.y)
        return f"M{num(home_x)} {num(home_y)}L{num(x)} {num(y)}"


def _labels(one: OneMetal, frame: Frame, mounts: Sequence[Mount]) -> list[Label]:
    """Labels on their pieces, clear of windows and holes; where a piece has no room for letters
    that can be read, beside it."""
    found, outside = [], []
    for mount in mounts:
        at, size = _label_in(mount, _marks_on(mount, one.holes), frame.scale)
        if size >= LABEL_LEAST_MM:
            found.append(Label(mount.label, at, size, at))
        else:
            outside.append((mount, at))
    for mount, at in outside:
        radius = LETTER_EM * LABEL_LEAST_MM * max(1.6, len(mount.label)) / 2 / frame.scale
        others = [other.outline for other in one.mounts if other is not mount]
        standing = [(label.at, LETTER_EM * label.size_mm / frame.scale) for label in found]
        keep_off = united([one.not_to_hide, mount.outline.boundary, *others])
        (place,) = clear_places([at], radius, keep_off, taken=standing)
        found.append(Label(mount.label, place, LABEL_LEAST_MM, at))
    return found


def _label_in(mount: Mount, marks: Sequence[Point], scale: float = 1.0) -> tuple[Point, float]:
    """The roomiest place on a piece and the size of letters that fit there, on paper."""
    room: Polygon | MultiPolygon = mount.outline
    if marks:
        clear = without(mount.outline, united(at.buffer(2.5) for at in marks))
        if isinstance(clear, Polygon | MultiPolygon) and not clear.is_empty:
            room = clear
    circle = shapely.maximum_inscribed_circle(room, tolerance=0.2)
    letters = max(1.0, LETTER_EM * len(mount.label))
    size = min(LABEL_MOST_MM, 1.5 * circle.length * scale / letters)
    return Point(circle.coords[0]), size


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
