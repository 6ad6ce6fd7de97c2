"""The picture of a pattern while it is built: on millimetre paper, with what can be taken hold of.

Millimetres, the middle of the paper at (0, 0), y downwards as a picture wants it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.units import Units, format_length
from studio.core.building import Recipe, Shown, Step
from studio.core.drawing import Limits
from studio.core.picturing.paths import Flip, numbers, polygons_of
from studio.steps.patterns.build import Made
from studio.views.patterns.findings import FindingList, NumberedFinding
from studio.views.patterns.picture_points import MarkedPoint, place_points

from .sentences import title_of

_MARGIN = 0.08
_FINE_UP_TO_MM = 130.0  # a larger paper is ruled less closely
_FLIP = Flip(0.0, 0.0, 0.01)


@dataclass(frozen=True, slots=True)
class Mark:
    x: str
    y: str
    r: str
    cross: str


@dataclass(frozen=True, slots=True)
class Grip:
    """A step's shape to take hold of; x, y and turn are as the step has them."""

    id: str
    title: str
    own: str
    copies: str
    chosen: bool
    moves: bool
    at_x: str
    at_y: str


@dataclass(frozen=True, slots=True)
class Handles:
    """Where the chosen shape is sized and turned, and about which point."""

    at_x: str
    at_y: str
    size: str
    turn: str
    stem: str
    angle: str
    largest: str


@dataclass(frozen=True, slots=True)
class BuildingPicture:
    view_box: str
    paper: tuple[str, str, str, str]
    fine: str
    bold: str
    limit: tuple[str, str, str, str]
    limit_words: str
    words_mm: str
    axes: str
    pieces: tuple[str, ...]
    windows: str
    surfaces: str
    marks: tuple[Mark, ...]
    grips: tuple[Grip, ...]
    handles: Handles | None
    points: tuple[MarkedPoint, ...]


def building_picture(
    recipe: Recipe,
    made: Made,
    findings: FindingList,
    limits: Limits,
    *,
    chosen: Step | None,
    units: Units,
) -> BuildingPicture:
    built, drawing, middle = made.built, made.checked.drawing, made.middle
    on_page = Flip(middle[0], middle[1], 0.01)
    half = limits.max_width_mm / 2, limits.max_height_mm / 2
    box = _box(built.shown, half)
    span = max(box[2] - box[0], box[3] - box[1])
    edge = _MARGIN * span
    left, top = box[0] - edge, -box[3] - edge
    width, height = box[2] - box[0] + 2 * edge, box[3] - box[1] + 2 * edge
    words = f"{format_length(2 * half[0], units)} × {format_length(2 * half[1], units)}"
    return BuildingPicture(
        view_box=numbers(left, top, width, height),
        paper=(numbers(left), numbers(top), numbers(width), numbers(height)),
        fine=_ruled(left, top, width, height, 1.0 if span < _FINE_UP_TO_MM else 5.0),
        bold=_ruled(left, top, width, height, 10.0 if span < _FINE_UP_TO_MM else 50.0),
        limit=(numbers(-half[0]), numbers(-half[1]), numbers(2 * half[0]), numbers(2 * half[1])),
        limit_words=f"largest size {words}",
        words_mm=numbers(0.034 * span),
        axes=f"M{numbers(left)} 0h{numbers(width)}M0 {numbers(top)}v{numbers(height)}",
        pieces=tuple(on_page.path([piece.outline]) for piece in drawing.pieces),
        windows="".join(
            on_page.path([Polygon(ring) for ring in piece.outline.interiors])
            for piece in drawing.pieces
        ),
        surfaces="".join(on_page.lines(piece.surface_lines) for piece in drawing.pieces),
        marks=tuple(
            _mark(mark.x_mm - middle[0], mark.y_mm - middle[1], mark.diameter_mm / 2, 0.012 * span)
            for piece in drawing.pieces
            for mark in piece.drill_marks
        ),
        grips=tuple(
            _grip(step, built.shown[step.id], chosen) for step in recipe if step.id in built.shown
        ),
        handles=_handles(chosen, built.shown, span),
        points=place_points(_from_the_middle(findings, middle), box, span),
    )


def _box(
    shown: Mapping[str, Shown], half: tuple[float, float]
) -> tuple[float, float, float, float]:
    """The brief's largest size, and all shapes; bounded, so that a stray shape stays findable."""
    x0, y0, x1, y1 = -half[0], -half[1], half[0], half[1]
    for one in shown.values():
        for shape in (one.own, one.copies):
            if not shape.is_empty:
                a, b, c, d = shape.bounds
                x0, y0, x1, y1 = min(x0, a), min(y0, b), max(x1, c), max(y1, d)
    return x0, y0, x1, y1


def _from_the_middle(
    findings: FindingList, middle: tuple[float, float]
) -> Iterator[NumberedFinding]:
    """The findings with their places as the paper has them."""
    for finding in findings:
        at = finding.at
        yield replace(finding, at=None if at is None else (at[0] - middle[0], at[1] - middle[1]))


def _ruled(left: float, top: float, width: float, height: float, step: float) -> str:
    """Lines each `step` millimetres, in both directions, through the middle of the paper."""
    across = range(math.ceil(left / step), math.floor((left + width) / step) + 1)
    down = range(math.ceil(top / step), math.floor((top + height) / step) + 1)
    ways = [f"M{numbers(k * step)} {numbers(top)}v{numbers(height)}" for k in across]
    ways += [f"M{numbers(left)} {numbers(k * step)}h{numbers(width)}" for k in down]
    return "".join(ways)


def _mark(x: float, y: float, radius: float, over: float) -> Mark:
    reach = radius + over
    cross = (
        f"M{numbers(x - reach)} {numbers(-y)}h{numbers(2 * reach)}"
        f"M{numbers(x)} {numbers(-y - reach)}v{numbers(2 * reach)}"
    )
    return Mark(numbers(x), numbers(-y), numbers(radius), cross)


def _grip(step: Step, one: Shown, chosen: Step | None) -> Grip:
    return Grip(
        id=step.id,
        title=title_of(step),
        own=_path(one.own),
        copies=_path(one.copies),
        chosen=chosen is not None and chosen.id == step.id,
        moves=step.has("x"),
        at_x=numbers(one.at[0]),
        at_y=numbers(-one.at[1]),
    )


def _path(shape: BaseGeometry) -> str:
    if isinstance(shape, LineString):
        return _FLIP.lines([shape])
    lines = [each for each in getattr(shape, "geoms", ()) if isinstance(each, LineString)]
    return _FLIP.path(polygons_of(shape)) + (_FLIP.lines(lines) if lines else "")


def _handles(chosen: Step | None, shown: Mapping[str, Shown], span: float) -> Handles | None:
    """The size handle at the lower right corner of the shape's own box, the turn handle above it.

    The box is upright before the shape is turned, so both turn with it.
    """
    if chosen is None or chosen.id not in shown or not chosen.has("x"):
        return None
    one = shown[chosen.id]
    angle = chosen.number("turn") if chosen.has("turn") else 0.0
    upright = affinity.rotate(one.own, -angle, origin=one.at)
    _, y0, x1, y1 = upright.bounds
    grows = any(field.grows for field in chosen.kind.fields)
    gap = 0.025 * span
    corner = _turned((max(x1 - one.at[0], 1.0) + gap, min(y0 - one.at[1], -1.0) - gap), angle)
    above = _turned((0.0, y1 - one.at[1] + 3 * gap), angle)
    low = _turned((0.0, y1 - one.at[1]), angle)
    at_x, at_y = one.at
    ends = [numbers(at_x + end[0], -at_y - end[1]) for end in (low, above)]
    return Handles(
        at_x=numbers(at_x),
        at_y=numbers(-at_y),
        size=_dot(at_x + corner[0], -at_y - corner[1]) if grows else "",
        turn=_dot(at_x + above[0], -at_y - above[1]) if chosen.has("turn") else "",
        stem=f"M{ends[0]}L{ends[1]}",
        angle=numbers(angle),
        largest=numbers(max(chosen.number(f.name) for f in chosen.kind.fields if f.grows))
        if grows
        else "0",
    )


def _dot(x: float, y: float) -> str:
    """A line without length: its round ends make a dot as wide on the screen as its stroke."""
    return f"M{numbers(x)} {numbers(y)}h.001"


def _turned(point: tuple[float, float], degrees: float) -> tuple[float, float]:
    angle = math.radians(degrees)
    cos, sin = math.cos(angle), math.sin(angle)
    return point[0] * cos - point[1] * sin, point[0] * sin + point[1] * cos
