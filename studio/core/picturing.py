"""The student's picture of a drawing: an SVG that we make ourselves, line by line.

The uploaded file is never shown again, so nothing it carries can reach a browser. Names come
out as text, escaped. There are no style attributes and no scripts, so the picture may stand
inline under a strict content security policy; colours are presentation attributes that a
style sheet may override by class.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from shapely.geometry import LineString, Polygon

from studio.core.drawing import Drawing, DrillMark, Finding, Weight
from studio.core.reading.labels import DRILL_LABELS, LABEL_WORDS, Label
from studio.core.reading.tracing import Tracing

_INK = "#2b2622"
_COPPER = "#e0a070"
_PAPER = "#fdfbf6"
_STOP = "#b3261e"
_CAUTION = "#7a5a00"
_Points = Iterable[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class _Frame:
    """The part of the plane that is shown; turns y upwards into y downwards."""

    x: float
    top: float
    width: float
    height: float

    def at(self, x: float, y: float) -> tuple[str, str]:
        return _number(x - self.x), _number(self.top - y)

    def path(self, points: _Points, *, closed: bool) -> str:
        steps = [" ".join(self.at(x, y)) for x, y in points]
        return "M" + "L".join(steps) + ("Z" if closed else "")

    @property
    def mark(self) -> float:
        """Radius of a finding's marker, to be seen at any size of drawing."""
        return max(self.width, self.height) / 45


def picture_of_tracing(
    tracing: Tracing,
    labels: Mapping[str, Label],
    findings: Sequence[Finding] = (),
    *,
    title: str,
    real_size: bool = False,
) -> str:
    """Every line with its id in `data-line`, its label in `data-label` and as a class.

    Lines can be reached by keyboard (they are focusable and carry their own names), larger
    ones first so that smaller ones can be tapped. Findings are numbered from 1 in the order
    given, which is the order a page should list them in.
    """
    frame = _frame(*tracing.bounds_mm, findings)
    lines = sorted(
        tracing.lines,
        key=lambda line: -abs(Polygon(line.points).area) if line.closed else 0.0,
    )
    body: list[str] = []
    for line in lines:
        label = labels.get(line.id, Label.OPEN)
        words = f"Line {line.id}: {LABEL_WORDS[label]}"
        body.append(
            f'<g class="line line-{label.value}" data-line={quoteattr(line.id)} '
            f'data-label="{label.value}" tabindex="0" role="button" '
            f"aria-label={quoteattr(words)}><title>{escape(words)}</title>"
            f'<path d="{frame.path(line.points, closed=line.closed)}" {_look(label)}/>'
        )
        if label in DRILL_LABELS and line.round is not None:
            circle = line.round
            body.append(_cross(frame, circle.x_mm, circle.y_mm, circle.diameter_mm))
        body.append("</g>")
    return _document(frame, body, findings, title, real_size)


def picture_of_drawing(
    drawing: Drawing,
    findings: Sequence[Finding] = (),
    *,
    title: str,
    real_size: bool = False,
) -> str:
    """Pieces filled as metal with their windows open, marks crossed, surface lines dashed."""
    frame = _frame(*drawing.bounds_mm, findings)
    body: list[str] = []
    for piece in drawing.pieces:
        rings = (piece.outline.exterior, *piece.outline.interiors)
        path = "".join(frame.path(list(ring.coords)[:-1], closed=True) for ring in rings)
        body.append(f'<g class="piece" data-piece={quoteattr(piece.id)}>')
        body.append(
            f'<path class="metal" d="{path}" fill="{_COPPER}" fill-rule="evenodd" {_stroke(1.5)}/>'
        )
        body += [_mark(frame, mark) for mark in piece.drill_marks]
        body += [_surface(frame, line) for line in piece.surface_lines]
        body.append("</g>")
    return _document(frame, body, findings, title, real_size)


def _frame(x0: float, y0: float, x1: float, y1: float, findings: Sequence[Finding]) -> _Frame:
    """Holds the drawing and every finding's point, with a margin and room for the scale bar."""
    for finding in findings:
        if finding.at is not None:
            x0, y0 = min(x0, finding.at[0]), min(y0, finding.at[1])
            x1, y1 = max(x1, finding.at[0]), max(y1, finding.at[1])
    margin = max(x1 - x0, y1 - y0, 5.0) * 0.06
    bar = 2.0 * margin
    return _Frame(x0 - margin, y1 + margin, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin + bar)


def _document(
    frame: _Frame, body: list[str], findings: Sequence[Finding], title: str, real_size: bool
) -> str:
    width, height = _number(frame.width), _number(frame.height)
    size = f' width="{width}mm" height="{height}mm"' if real_size else ""
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="pattern-picture"{size} '
            f'viewBox="0 0 {width} {height}" role="{"img" if not findings else "group"}">',
            f"<title>{escape(_plain(title))}</title>",
            f'<rect class="paper" width="{width}" height="{height}" fill="{_PAPER}"/>',
            *body,
            _scale_bar(frame),
            *_flags(frame, findings),
            "</svg>",
        ]
    )


def _look(label: Label) -> str:
    fill = {
        Label.OUTLINE: _COPPER,
        Label.WINDOW: _PAPER,
        Label.RING: _PAPER,
        Label.RIVET: _PAPER,
        Label.PILOT: _PAPER,
    }.get(label, "none")
    if label is Label.OPEN:
        return f'fill="none" {_stroke(2.5, _STOP)}'
    if label is Label.IGNORE:
        return f'fill="none" {_stroke(1.0, "#8a8178")} stroke-dasharray="1 3"'
    if label is Label.SURFACE:
        return f'fill="none" {_stroke(1.0)} stroke-dasharray="5 3"'
    return f'fill="{fill}" {_stroke(1.5)}'


def _stroke(width: float, colour: str = _INK) -> str:
    return (
        f'stroke="{colour}" stroke-width="{width:g}" stroke-linejoin="round" '
        'vector-effect="non-scaling-stroke"'
    )


def _mark(frame: _Frame, mark: DrillMark) -> str:
    x, y = frame.at(mark.x_mm, mark.y_mm)
    words = f"{mark.diameter_mm:.1f} mm {LABEL_WORDS[Label(mark.kind.value)]}"
    return (
        f'<g class="drill drill-{mark.kind.value}"><title>{escape(words)}</title>'
        f'<circle cx="{x}" cy="{y}" r="{_number(mark.diameter_mm / 2)}" fill="{_PAPER}" '
        f"{_stroke(1.0)}/>{_cross(frame, mark.x_mm, mark.y_mm, mark.diameter_mm)}</g>"
    )


def _cross(frame: _Frame, x: float, y: float, diameter: float) -> str:
    reach = diameter * 0.75
    across = frame.path([(x - reach, y), (x + reach, y)], closed=False)
    down = frame.path([(x, y - reach), (x, y + reach)], closed=False)
    return f'<path class="drill-cross" d="{across}{down}" fill="none" {_stroke(0.75)}/>'


def _surface(frame: _Frame, line: LineString) -> str:
    path = frame.path([(x, y) for x, y, *_ in line.coords], closed=False)
    return f'<path class="surface" d="{path}" {_look(Label.SURFACE)}/>'


def _flags(frame: _Frame, findings: Sequence[Finding]) -> list[str]:
    """Numbered markers for all findings that have a point; stops lie on top."""
    taken: list[tuple[float, float]] = []
    flags: list[str] = []
    order = sorted(range(len(findings)), key=lambda each: findings[each].weight is Weight.CAUTION)
    for index in order:
        finding = findings[index]
        if finding.at is None:
            continue
        x, y = frame.at(*finding.at)
        centre = _free_place(frame, float(x), float(y), taken)
        taken.append(centre)
        flags.append(_flag(frame, index + 1, finding, (x, y), centre))
    return flags[::-1]


def _free_place(
    frame: _Frame, x: float, y: float, taken: list[tuple[float, float]]
) -> tuple[float, float]:
    """Near the point, on the paper, and if it can be not on another marker."""
    radius = frame.mark
    best: tuple[float, tuple[float, float]] | None = None
    for distance in (2.2, 4.0, 6.0):
        for turn in range(12):
            angle = math.radians(45 + 30 * turn)
            place = x + distance * radius * math.cos(angle), y + distance * radius * math.sin(angle)
            if not (radius <= place[0] <= frame.width - radius):
                continue
            if not (radius <= place[1] <= frame.height - radius):
                continue
            room = min((math.dist(place, other) for other in taken), default=math.inf)
            if room >= 2.1 * radius:
                return place
            if best is None or room > best[0]:
                best = room, place
    return best[1] if best else (x, y)


def _flag(
    frame: _Frame,
    number: int,
    finding: Finding,
    at: tuple[str, str],
    centre: tuple[float, float],
) -> str:
    """A marker beside the point, tied to it by a line."""
    (x, y), (cx, cy), radius = at, centre, frame.mark
    colour = _STOP if finding.weight is Weight.STOP else _CAUTION
    return (
        f'<g class="finding finding-{finding.weight.value}" data-finding="{number}">'
        f"<title>{escape(_plain(f'{number}. {finding.message}'))}</title>"
        f'<circle class="spot" cx="{x}" cy="{y}" r="{_number(radius / 3)}" fill="none" '
        f"{_stroke(2.0, colour)}/>"
        f'<path d="M{x} {y}L{_number(cx)} {_number(cy)}" fill="none" {_stroke(1.0, colour)}/>'
        f'<circle cx="{_number(cx)}" cy="{_number(cy)}" r="{_number(radius)}" fill="{colour}"/>'
        f'<text x="{_number(cx)}" y="{_number(cy + radius * 0.38)}" '
        f'font-size="{_number(radius * 1.1)}" text-anchor="middle" fill="#ffffff">{number}</text>'
        "</g>"
    )


def _scale_bar(frame: _Frame) -> str:
    """A bar of 1, 2 or 5 times a power of ten, about a third of the width."""
    most = frame.width / 3
    power = 10.0 ** math.floor(math.log10(most))
    length = max(step * power for step in (1, 2, 5) if step * power <= most)
    size = max(frame.width, frame.height) / 30
    left, base = size / 2, frame.height - size / 2
    tick = size / 4
    path = (
        f"M{_number(left)} {_number(base - tick)}V{_number(base)}"
        f"H{_number(left + length)}V{_number(base - tick)}"
    )
    return (
        f'<g class="scale-bar"><path d="{path}" fill="none" {_stroke(1.0)}/>'
        f'<text x="{_number(left + length / 2)}" y="{_number(base - size * 0.35)}" '
        f'font-size="{_number(size)}" text-anchor="middle" fill="{_INK}">{length:g} mm</text></g>'
    )


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _plain(text: str) -> str:
    """Without control characters, which no XML may hold."""
    return "".join(char if char.isprintable() else " " for char in text)
