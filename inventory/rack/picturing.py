"""What does a piece of metal look like? Its true outline, to scale, as SVG for a page.

Millimetres are the picture's own units (viewBox), y flipped; classes come from drawing.css, and
plain attributes keep the picture readable where no style sheet reaches it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from classroom.figures.units import Units, format_length

from .edge_marks import edge_marks, nearest_to
from .edges import Edge

CLASSES: Final = {
    "sheet": "d-metal",
    "offcut": "d-metal",
    "gone": "d-used",
    "scrap": "d-scrap",
}
"""How each kind of piece is drawn; what is not named is drawn as metal."""

THUMBNAIL_PX: Final = 170
LEAST_THUMBNAIL_PX: Final = 10


@dataclass(frozen=True, slots=True)
class _Frame:
    """The part of the plane that a picture shows."""

    x0: float
    y0: float
    width: float
    height: float

    @property
    def view_box(self) -> str:
        return f"0 0 {_number(self.width)} {_number(self.height)}"

    def x(self, x: float) -> str:
        return _number(x - self.x0)

    @property
    def box(self) -> Polygon:
        return box(self.x0, self.y0, self.x0 + self.width, self.y0 + self.height)

    def y(self, y: float) -> str:
        return _number(self.y0 + self.height - y)


def piece_svg(
    outline: Polygon | MultiPolygon,
    *,
    title: str,
    kind: str = "sheet",
    units: Units | str | None = None,
) -> SafeString:
    """The outline filling its frame; with `units`, its width and height are written beside it.

    `title` is the picture's alternative text; `kind` one of `CLASSES`.
    """
    x0, y0, x1, y1 = outline.bounds
    span = max(x1 - x0, y1 - y0)
    margin = span * 0.03
    foot = span * 0.13 if units is not None else margin
    frame = _Frame(x0 - foot, y0 - foot, x1 - x0 + foot + margin, y1 - y0 + foot + margin)
    inside: list[str] = [_shape(outline, frame, kind)]
    if units is not None:
        inside += _dimensions((x0, y0, x1, y1), frame, span, Units(units))
    return format_html(
        '<svg class="drawing" viewBox="{}" role="img"><title>{}</title>{}</svg>',
        frame.view_box,
        title,
        mark_safe("".join(inside)),  # noqa: S308 -- made of numbers and escaped labels below
    )


def thumbnail_svg(
    outline: Polygon | MultiPolygon,
    *,
    title: str,
    px_per_mm: float,
    kind: str = "sheet",
    laid: Iterable[Polygon] = (),
) -> SafeString:
    """A small picture at a stated scale, so that the pictures of one list can be compared.

    `laid` are pieces of a pattern as they lie on the metal.
    """
    # Nobody sees a third of a pixel, and a rack's page has two dozen of these.
    plain = outline.simplify(0.3 / px_per_mm)
    if isinstance(plain, Polygon | MultiPolygon) and not plain.is_empty:
        outline = plain
    x0, y0, x1, y1 = outline.bounds
    edge = 1.5 / px_per_mm  # room for the outline's own stroke
    frame = _Frame(x0 - edge, y0 - edge, x1 - x0 + 2 * edge, y1 - y0 + 2 * edge)
    width, height = frame.width * px_per_mm, frame.height * px_per_mm
    pieces = [_path("d-piece d-piece-mine", _rings(piece.simplify(0.1), frame)) for piece in laid]
    return format_html(
        '<svg class="drawing" viewBox="{}" width="{}" height="{}" role="img">'
        "<title>{}</title>{}{}</svg>",
        frame.view_box,
        _number(max(width, LEAST_THUMBNAIL_PX)),
        _number(max(height, LEAST_THUMBNAIL_PX)),
        title,
        _shape(outline, frame, kind),
        mark_safe("".join(pieces)),  # noqa: S308 -- numbers and our own class names
    )


@dataclass(frozen=True, slots=True)
class EdgePicture:
    """An outline whose edges are drawn one by one, over each other in the same frame.

    `base` is the metal with the edges' numbers; `paths` are the edges', in their order, and
    `nearest` the part of the picture that is nearer to each edge than to the others.
    """

    view_box: str
    base: SafeString
    paths: tuple[str, ...]
    nearest: tuple[str, ...]


def edge_picture(outline: Polygon | MultiPolygon, edges: Sequence[Edge]) -> EdgePicture:
    """The metal with numbered edges; never higher than wide, so that a phone shows all of it."""
    x0, y0, x1, y1 = outline.bounds
    wide, high = x1 - x0, y1 - y0
    margin = max(wide, high) * 0.06
    frame_wide = max(wide, high) + 2 * margin
    frame_high = max(high, 0.3 * wide) + 2 * margin
    frame = _Frame((x0 + x1 - frame_wide) / 2, (y0 + y1 - frame_high) / 2, frame_wide, frame_high)
    letters = max(wide, high) * 0.05
    numbers, leads = [], []
    for number, mark in enumerate(edge_marks(outline, edges, letters, frame.box), start=1):
        numbers.append(
            format_html(
                '<text class="d-label" x="{}" y="{}" font-size="{}">{}</text>',
                frame.x(mark.x),
                frame.y(mark.y - 0.35 * letters),
                _number(letters),
                number,
            )
        )
        if mark.is_led:
            leads.append(_open(mark.lead, frame))
    metal = _path("edges-fill", _rings(outline, frame))
    lead = f'<path class="edges-lead" fill="none" d="{" ".join(leads)}"/>' if leads else ""
    base = mark_safe(metal + lead + "".join(numbers))  # noqa: S308 -- as above
    paths = tuple(" ".join(_open(line.coords, frame) for line in edge.lines) for edge in edges)
    nearest = tuple(
        " ".join(_ring(cell.exterior.coords, frame) for cell in cells)
        for cells in nearest_to(edges, frame.box)
    )
    return EdgePicture(frame.view_box, base, paths, nearest)


def _open(coordinates: Iterable[tuple[float, ...]], frame: _Frame) -> str:
    return "M" + " L".join(f"{frame.x(x)} {frame.y(y)}" for x, y, *_ in coordinates)


def common_scale(outlines: Iterable[BaseGeometry], *, most_px: float = THUMBNAIL_PX) -> float:
    """Pixels per millimetre at which the largest of these fits into `most_px`."""
    spans = [max(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (one.bounds for one in outlines)]
    return most_px / max([*spans, 1.0])


def _shape(outline: Polygon | MultiPolygon, frame: _Frame, kind: str) -> SafeString:
    path = _rings(outline, frame)
    drawn = CLASSES.get(kind, "d-metal")
    # Under hatches of what is gone or scrap, the metal's own outline.
    under = "" if drawn == "d-metal" else _path("d-metal", path)
    return mark_safe(under + _path(drawn, path))  # noqa: S308 -- numbers and our own class names


def _rings(outline: BaseGeometry, frame: _Frame) -> str:
    parts = outline.geoms if isinstance(outline, MultiPolygon) else (outline,)
    return " ".join(
        _ring(ring.coords, frame)
        for part in parts
        if isinstance(part, Polygon)
        for ring in (part.exterior, *part.interiors)
    )


def _path(name: str, path: str) -> str:
    return f'<path class="{name}" fill-rule="evenodd" stroke="currentColor" d="{path}"/>'


def _ring(coordinates: Iterable[tuple[float, ...]], frame: _Frame) -> str:
    points = [f"{frame.x(x)} {frame.y(y)}" for x, y, *_ in coordinates]
    return f"M{' L'.join(points[:-1])} Z"


def _dimensions(
    bounds: tuple[float, float, float, float], frame: _Frame, span: float, units: Units
) -> list[str]:
    """Size lines below and to the left, with their measures."""
    x0, y0, x1, y1 = bounds
    gap, tick, letters = span * 0.045, span * 0.015, span * 0.042
    wide = f"{frame.x(x0)} {frame.y(y0 - gap)} L{frame.x(x1)} {frame.y(y0 - gap)}"
    high = f"{frame.x(x0 - gap)} {frame.y(y0)} L{frame.x(x0 - gap)} {frame.y(y1)}"
    ticks = "".join(
        f" M{frame.x(x)} {frame.y(y0 - gap - tick)} L{frame.x(x)} {frame.y(y0 - gap + tick)}"
        for x in (x0, x1)
    ) + "".join(
        f" M{frame.x(x0 - gap - tick)} {frame.y(y)} L{frame.x(x0 - gap + tick)} {frame.y(y)}"
        for y in (y0, y1)
    )
    below, beside = frame.y(y0 - gap * 2.2), frame.x(x0 - gap * 1.5)
    return [
        f'<path class="d-dimension" fill="none" stroke="currentColor" d="M{wide} M{high}{ticks}"/>',
        format_html(
            '<text class="d-label" x="{}" y="{}" font-size="{}">{}</text>',
            frame.x((x0 + x1) / 2),
            below,
            _number(letters),
            format_length(x1 - x0, units),
        ),
        format_html(
            '<text class="d-label" x="{0}" y="{1}" font-size="{2}"'
            ' transform="rotate(-90 {0} {1})">{3}</text>',
            beside,
            frame.y((y0 + y1) / 2),
            _number(letters),
            format_length(y1 - y0, units),
        ),
    ]


def _number(value: float) -> str:
    """At most three decimals, and always with a point: a page's language must not change it."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
