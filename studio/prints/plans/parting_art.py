"""One cut of a stock piece as a picture: the part before it, the cut dashed with its ends A and B,
how far each lies from a corner, and whose blanks come out of it. Paper millimetres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext, gettext_noop
from shapely.geometry import LineString

from classroom.figures.units import Units, format_length
from studio.core.picturing.parting_stages import FromCorner, Stage, from_corner
from studio.prints.paper.lettering import Text
from studio.prints.paper.paths import Frame, num

AROUND_MM = 9.0
BESIDE_ROOM_MM = 17.0  # left and right, where distances are written beside the outline
BESIDE_MM = 2.8  # from the outline to the line that shows a distance
LETTER_MM = 3.0
MARK_MM = 3.4
LARGEST_SCALE = 1.0
WIDEST_FOR_LETTERS_MM = 9.0

CORNERS = {
    "lower left": gettext_noop("from the lower left corner"),
    "lower right": gettext_noop("from the lower right corner"),
    "upper left": gettext_noop("from the upper left corner"),
    "upper right": gettext_noop("from the upper right corner"),
}


@dataclass(frozen=True, slots=True)
class EndArt:
    """An end of the cut: its letter, its distance in words, and how both are drawn."""

    letter: str
    length: str
    corner_words: str
    x: str
    y: str
    mark: Text
    corner_x: str
    corner_y: str
    way: str
    dimension: Text


@dataclass(frozen=True, slots=True)
class StageArt:
    """The picture and the words of one cut."""

    number: int
    part: int
    makes: tuple[int, int]
    title: str
    width: str
    height: str
    outline: str
    pieces: str
    cut: str
    cut_length: str
    number_mark: Text
    number_y: str
    ends: tuple[EndArt, EndArt]
    letters: tuple[Text, ...]
    frees: str


def stage_art(
    stage: Stage,
    letters: Mapping[str, str],
    units: Units,
    *,
    width_mm: float,
    height_mm: float,
) -> StageArt:
    """Drawn as large as the room lets it, never above true size; `letters` by the job's groups."""
    x0, y0, x1, y1 = stage.outline.bounds
    scale = min(
        LARGEST_SCALE,
        (width_mm - 2 * BESIDE_ROOM_MM) / (x1 - x0),
        (height_mm - 2 * AROUND_MM) / (y1 - y0),
    )
    frame = Frame(x0, y1, BESIDE_ROOM_MM, AROUND_MM, scale)
    start, end = stage.ends
    middle = ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0)
    mx, my = frame.xy(*middle)
    inner = ((x0 + x1) / 2.0, (y0 + y1) / 2.0)
    shown = [
        _text(letters.get(group, ""), *frame.xy(*at), LETTER_MM * 1.3) for group, at in stage.blanks
    ]
    ends = (  # 1a and 1b: a capital alone is a student
        _end(f"{stage.number}a", stage, start, inner, frame, units),
        _end(f"{stage.number}b", stage, end, inner, frame, units),
    )
    told = ", ".join(f"{one.letter} {one.length} {one.corner_words}" for one in ends)
    return StageArt(
        title=f"{gettext('Cut %(number)s') % {'number': stage.number}}: {told}",
        number=stage.number,
        part=stage.part,
        makes=stage.makes,
        width=num((x1 - x0) * scale + 2 * BESIDE_ROOM_MM),
        height=num((y1 - y0) * scale + 2 * AROUND_MM),
        outline=frame.path(stage.outline),
        pieces=frame.path(*stage.pieces),
        cut=frame.lines(LineString(stage.ends)),
        cut_length=format_length(stage.length_mm, units),
        number_mark=_text(str(stage.number), mx, my, MARK_MM),
        number_y=num(my),
        ends=ends,
        letters=tuple(shown),
        frees=", ".join(sorted({letters.get(group, "") for group, _ in stage.blanks})),
    )


def _end(
    letter: str,
    stage: Stage,
    at: tuple[float, float],
    inner: tuple[float, float],
    frame: Frame,
    units: Units,
) -> EndArt:
    told = from_corner(stage.outline, at)
    x, y = frame.xy(*at)
    ix, iy = frame.xy(*inner)
    away = _away(x - ix, y - iy)
    cx, cy = frame.xy(*told.corner)
    return EndArt(
        letter=letter,
        length=format_length(told.length_mm, units),
        corner_words=gettext(CORNERS[told.corner_name]),
        x=num(x),
        y=num(y),
        mark=_text(letter, x + 3.2 * away[0], y + 3.2 * away[1], MARK_MM),
        corner_x=num(cx),
        corner_y=num(cy),
        way=frame.lines(told.way) if told.length_mm > 0.05 else "",
        dimension=_dimension(told, frame, (ix, iy), units),
    )


def _dimension(told: FromCorner, frame: Frame, inner: tuple[float, float], units: Units) -> Text:
    middle = told.way.interpolate(0.5, normalized=True)
    x, y = frame.xy(middle.x, middle.y)
    dx, dy = _away(x - inner[0], y - inner[1])
    words = format_length(told.length_mm, units) if told.length_mm > 0.05 else ""
    side = "middle" if abs(dy) >= abs(dx) else "start" if dx > 0 else "end"
    return _text(words, x + BESIDE_MM * dx, y + BESIDE_MM * dy * 1.3, LETTER_MM * 0.85, side)


def _away(dx: float, dy: float) -> tuple[float, float]:
    """The direction of the larger of two differences, so that marks stand beside an outline."""
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    return dx / length, dy / length


def _text(words: str, x: float, y: float, size: float, anchor: str = "middle") -> Text:
    return Text(words, num(x), num(y + size * 0.35), num(size), anchor)
