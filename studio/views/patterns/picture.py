"""How does a pattern look? Paths for our own picture of it, drawn only from numbers we read.

Nothing of the uploaded file's markup comes near the page. Millimetres, y downwards as a
picture wants it; every number is a string already, so that no locale changes its decimal point.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shapely.geometry import LineString, Polygon

from classroom.figures.units import Units, format_length
from classroom.models import School
from studio.core.drawing import Drawing
from studio.core.reading import Label, Line
from studio.core.reading.joining.undrawn import undrawn_lines
from studio.models import Pattern

from .findings import NumberedFinding, numbered
from .lines import read_lines
from .picture_points import MarkedPoint, place_points

_BARS_MM = (100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5)
_BARS_IN = tuple(25.4 * part for part in (4, 2, 1, 1 / 2, 1 / 4, 1 / 8, 1 / 16, 1 / 32))
_FINE = 1 / 4000  # of the drawing's size: far below a screen's pixel
_SMALL = 1 / 200  # enough for a picture of 72 pixels
_MIDDLE = 1 / 1000  # … and of 300 pixels
MOST_LINES = 400
"""Lines shown in a small picture of a pattern without pieces."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class PictureMark:
    x: str
    y: str
    r: str


@dataclass(frozen=True, slots=True)
class PictureLine:
    """A line of the tracing that can be chosen; `weak` ones are not part of any piece."""

    id: str
    path: str
    label: str


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar of true length under the drawing, as long as its words say."""

    path: str
    words: str
    x: str
    y: str
    text_mm: str


@dataclass(frozen=True, slots=True)
class PatternPicture:
    """Everything that `studio/patterns/picture.html` draws."""

    title: str
    view_box: str
    pieces: tuple[str, ...]
    windows: str
    drills: tuple[PictureMark, ...]
    crosses: str
    surfaces: str
    bar: ScaleBar
    points: tuple[MarkedPoint, ...] = ()
    loose: str = ""
    lines: tuple[PictureLine, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Thumbnail:
    view_box: str
    path: str
    drills: tuple[PictureMark, ...]
    loose: str = ""


def picture(
    pattern: Pattern,
    *,
    school: School,
    lines: Sequence[Line] = (),
    labels: Mapping[str, str] | None = None,
) -> PatternPicture:
    """The pattern with its findings; with `lines` also every line of the tracing to choose from.

    `labels` says what each line was taken for; lines that are in no piece are drawn faintly.
    Where there is a stop, so is every line that it has kept out of the drawing.
    """
    drawing = pattern.drawing
    findings = numbered(pattern.findings, school)
    undrawn: tuple[Line, ...] = ()
    if pattern.stops:
        all_lines, taken_for = (lines, labels or {}) if lines else read_lines(pattern)
        undrawn = undrawn_lines(drawing, all_lines, taken_for)
    box = box_of(drawing, lines or undrawn, findings)
    span = max(box[2] - box[0], box[3] - box[1])
    fine = span * _FINE
    named = labels or {}
    left_out = {line.id for line in lines if named.get(line.id) in (Label.OPEN, Label.IGNORE)}
    loose = [line for line in lines if line.id in left_out]
    loose += [line for line in undrawn if line.id not in left_out]
    bar = _bar(box, span, Units(school.units))
    margin = 0.09 * span
    return PatternPicture(
        title=f"Pattern {pattern.number}",
        view_box=numbers(
            box[0] - margin,
            -box[3] - margin,
            box[2] - box[0] + 2 * margin,
            box[3] - box[1] + 2 * margin + 0.08 * span,
        ),
        pieces=tuple(_area(piece.outline, fine) for piece in drawing.pieces),
        windows="".join(
            _area(Polygon(ring), fine)
            for piece in drawing.pieces
            for ring in piece.outline.interiors
        ),
        drills=tuple(
            PictureMark(number(mark.x_mm), number(-mark.y_mm), number(mark.diameter_mm / 2))
            for piece in drawing.pieces
            for mark in piece.drill_marks
        ),
        crosses=_crosses(drawing, 0.012 * span),
        surfaces="".join(
            _way(line.simplify(fine).coords)
            for piece in drawing.pieces
            for line in piece.surface_lines
        ),
        bar=bar,
        points=place_points(findings, box, span),
        loose="".join(line_path(line, fine) for line in loose),
        lines=tuple(
            PictureLine(line.id, line_path(line, span / 1500), named.get(line.id, ""))
            for line in sorted(lines, key=_reach, reverse=True)
        ),
    )


def mark_spot(pattern: Pattern) -> tuple[str, str, str] | None:
    """Where on its picture the remark points, with the radius of the ring; None for nowhere."""
    mark = pattern.mark
    if not mark or mark.get("on") != "pattern":
        return None
    x0, y0, x1, y1 = box_of(pattern.drawing, (), ())
    radius = 0.06 * max(x1 - x0, y1 - y0)
    return number(mark["x_mm"]), number(-mark["y_mm"]), number(radius)


def thumbnail(pattern: Pattern, *, large: bool = False) -> Thumbnail | None:
    """A small simple picture of the pieces; None when nothing closed was read."""
    return thumbnail_of(pattern.drawing, large=large)


def thumbnail_of(
    drawing: Drawing, *, large: bool = False, span_mm: float = 0.1
) -> Thumbnail | None:
    """The same of a drawing that was unpacked already.

    It shows `span_mm` across where the drawing is smaller, so that several have one scale.
    """
    if not drawing.pieces:
        return None
    x0, y0, x1, y1 = drawing.bounds_mm
    span = max(x1 - x0, y1 - y0, span_mm)
    detail = _MIDDLE if large else _SMALL
    return Thumbnail(
        view_box=_square((x0, y0, x1, y1), span),
        path="".join(_area(piece.outline, span * detail) for piece in drawing.pieces),
        drills=tuple(
            PictureMark(number(mark.x_mm), number(-mark.y_mm), number(mark.diameter_mm / 2))
            for piece in drawing.pieces
            for mark in piece.drill_marks[:40]
        ),
    )


def thumbnail_of_lines(pattern: Pattern, *, span_mm: float = 0.1) -> Thumbnail | None:
    """The lines as they were read, for a pattern in which no piece was recognised."""
    lines = pattern.traced.lines[:MOST_LINES]
    if not lines:
        return None
    x0, y0, x1, y1 = box_of(Drawing(()), lines, ())
    span = max(x1 - x0, y1 - y0, span_mm)
    view = _square((x0, y0, x1, y1), span)
    return Thumbnail(view, "", (), "".join(line_path(line, span * _MIDDLE) for line in lines))


def _square(box: Box, span: float) -> str:
    """A view box of that many millimetres with a little air around the box's middle."""
    pad = 0.05 * span
    left, top = (box[0] + box[2] - span) / 2, -(box[1] + box[3] + span) / 2
    return numbers(left - pad, top - pad, span + 2 * pad, span + 2 * pad)


def box_of(drawing: Drawing, lines: Sequence[Line], findings: Iterable[NumberedFinding]) -> Box:
    """Least x, least y, greatest x, greatest y of all that will be drawn; never without size."""
    xs = [x for line in lines for x, _ in line.points]
    ys = [y for line in lines for _, y in line.points]
    if drawing.pieces:
        bounds = drawing.bounds_mm
        xs += [bounds[0], bounds[2]]
        ys += [bounds[1], bounds[3]]
    points = [finding.at for finding in findings if finding.at is not None]
    xs += [x for x, _ in points]
    ys += [y for _, y in points]
    if not xs:
        return 0.0, 0.0, 10.0, 10.0
    x0, y0, x1, y1 = min(xs), min(ys), max(xs), max(ys)
    if max(x1 - x0, y1 - y0) < 0.1:
        return x0 - 1, y0 - 1, x1 + 1, y1 + 1
    return x0, y0, x1, y1


def _bar(box: Box, span: float, units: Units) -> ScaleBar:
    choices = _BARS_MM if units is Units.MM else _BARS_IN
    room = 0.45 * max(box[2] - box[0], 0.5 * span)
    length = next((each for each in choices if each <= room), choices[-1])
    words = format_length(length, units, places=0 if length >= 1 else 1)
    x, y, tick = box[0], -box[1] + 0.1 * span, 0.012 * span
    return ScaleBar(
        path=(
            f"M{number(x)} {number(y - tick)}v{number(2 * tick)}m0 {number(-tick)}"
            f"h{number(length)}m0 {number(-tick)}v{number(2 * tick)}"
        ),
        words=words,
        x=number(x + length + 0.02 * span),
        y=number(y + 0.013 * span),
        text_mm=number(0.038 * span),
    )


def _crosses(drawing: Drawing, over: float) -> str:
    path = []
    for piece in drawing.pieces:
        for mark in piece.drill_marks:
            reach = mark.diameter_mm / 2 + over
            x, y, long = mark.x_mm, -mark.y_mm, 2 * reach
            path.append(
                f"M{number(x - reach)} {number(y)}h{number(long)}"
                f"M{number(x)} {number(y - reach)}v{number(long)}"
            )
    return "".join(path)


def _area(outline: Polygon, tolerance: float) -> str:
    thin = outline.simplify(tolerance) if tolerance else outline
    shape = thin if isinstance(thin, Polygon) and not thin.is_empty else outline
    return "".join(_way(ring.coords) + "Z" for ring in (shape.exterior, *shape.interiors))


def line_path(line: Line, tolerance: float) -> str:
    points = [*line.points, line.points[0]] if line.closed else list(line.points)
    if len(points) < 2:
        return ""
    simple = LineString(points).simplify(tolerance)
    return _way(simple.coords) + ("Z" if line.closed else "")


def _reach(line: Line) -> float:
    """Large lines lie below small ones, so that the small can be tapped."""
    xs, ys = zip(*line.points, strict=True)
    return math.hypot(max(xs) - min(xs), max(ys) - min(ys))


def _way(points: Iterable[Sequence[float]]) -> str:
    return "M" + "L".join(f"{number(point[0])} {number(-point[1])}" for point in points)


def number(value: float) -> str:
    shown = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown


def numbers(*values: float) -> str:
    return " ".join(number(value) for value in values)
