"""One touched stock piece as a picture on paper: at true size for the bench, or scaled.

Line widths and letters are paper millimetres whatever the scale. Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Point, Polygon

from studio.core.picturing.clear_places import clear_places
from studio.core.picturing.colours import Mark
from studio.core.picturing.paths import lay_line, polygons_of
from studio.core.picturing.why import Why
from studio.prints.paper.drill_sizes import shown_at
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num

from .metal_labels import Label, labels_on, offcut_labels
from .mounts import Mount
from .one_metal import OneMetal
from .order_marks import Start, starts_of

SHOWN_MM = 0.04  # finer than a printed line shows
HOLE_CLEAR_MM = 0.9  # on paper, round a hole's rim: its cross
WHY_SIDE_MM = 4.0
NOTHING_TOLD = Why()


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
    labels = labels_on(one, frame, mounts) if with_labels else []
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
        offcut_labels=tuple(offcut_labels(one, frame)) if with_offcuts else (),
        papers=frame.path(*papers),
        pieces=tuple(
            faint(piece) if mount.group in lying else piece
            for mount in mounts
            for piece in [_piece(one, mount, frame, mount.group in mine, texts.get(mount.label))]
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


def faint(piece: PieceOnMetal) -> PieceOnMetal:
    """The same piece as one that lay there before: in no colour."""
    return replace(piece, lying=True, mark=None)


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
