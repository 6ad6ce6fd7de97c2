"""Basic shapes and paths as curves in their own user units."""

from __future__ import annotations

import math

from ..bounds import Budget
from ..curves import Arc, Curve, Span, Straight, ellipse
from ..tracing import Point
from .fault import Fault
from .lengths import Viewport, parse_length
from .path_syntax import parse_path
from .scanning import Scanner

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})


class Values:
    """An element's properties by name, with lengths resolved against its viewport."""

    def __init__(self, properties: dict[str, str], viewport: Viewport, what: str) -> None:
        self.properties = properties
        self.viewport = viewport
        self.what = what

    def length(self, name: str, whole: float, default: float = 0.0) -> float:
        text = self.properties.get(name, "")
        if not text.strip():
            return default
        return parse_length(text, f"{name} of {self.what}").px(whole)

    def auto(self, name: str, whole: float) -> float | None:
        text = self.properties.get(name, "auto").strip()
        return None if text in ("auto", "") else self.size(name, whole)

    def size(self, name: str, whole: float) -> float:
        """A length that must not be negative."""
        value = self.length(name, whole)
        if value < 0.0:
            raise Fault(
                "size-negative",
                f"{name} of {self.what} is negative ({value:g}).",
                "Redraw this shape and save again.",
            )
        return value


def curves_of(tag: str, values: Values, budget: Budget) -> list[Curve]:
    """The curves of one shape element; empty when SVG says that nothing is drawn."""
    match tag:
        case "path":
            text = values.properties.get("d", "")
            return parse_path(text, f"The path data of {values.what}", budget)
        case "rect":
            return _rect(values)
        case "circle" | "ellipse":
            return _ellipse(tag, values)
        case "line":
            return _line(values)
        case _:
            return _points(values, budget, closed=tag == "polygon")


def _rect(values: Values) -> list[Curve]:
    across, down = values.viewport.width, values.viewport.height
    x, y = values.length("x", across), values.length("y", down)
    width, height = values.size("width", across), values.size("height", down)
    if width == 0.0 or height == 0.0:
        return []
    rx, ry = values.auto("rx", across), values.auto("ry", down)
    rx, ry = (ry if rx is None else rx) or 0.0, (rx if ry is None else ry) or 0.0
    return [rounded_rect(x, y, width, height, min(rx, width / 2), min(ry, height / 2))]


def rounded_rect(x: float, y: float, width: float, height: float, rx: float, ry: float) -> Curve:
    right, bottom = x + width, y + height
    if rx == 0.0 or ry == 0.0:
        corners = ((right, y), (right, bottom), (x, bottom))
        return Curve((x, y), tuple(Straight(corner) for corner in corners), closed=True)
    spans: list[Span] = []
    quarter = math.pi / 2
    for centre, start, end, after in (
        ((right - rx, y + ry), -quarter, (right, y + ry), (right, bottom - ry)),
        ((right - rx, bottom - ry), 0.0, (right - rx, bottom), (x + rx, bottom)),
        ((x + rx, bottom - ry), quarter, (x, bottom - ry), (x, y + ry)),
        ((x + rx, y + ry), 2 * quarter, (x + rx, y), (right - rx, y)),
    ):
        spans.append(Arc(centre, (rx, 0.0), (0.0, ry), start, quarter, end))
        spans.append(Straight(after))
    return Curve((right - rx, y), tuple(spans), closed=True)


def _ellipse(tag: str, values: Values) -> list[Curve]:
    view = values.viewport
    centre = values.length("cx", view.width), values.length("cy", view.height)
    if tag == "circle":
        rx: float | None = values.size("r", view.diagonal)
        ry = rx
    else:
        rx, ry = values.auto("rx", view.width), values.auto("ry", view.height)
        rx, ry = (ry if rx is None else rx), (rx if ry is None else ry)
    return [ellipse(centre, rx, ry)] if rx and ry else []


def _line(values: Values) -> list[Curve]:
    across, down = values.viewport.width, values.viewport.height
    start = values.length("x1", across), values.length("y1", down)
    end = values.length("x2", across), values.length("y2", down)
    return [] if start == end else [Curve(start, (Straight(end),), closed=False)]


def _points(values: Values, budget: Budget, *, closed: bool) -> list[Curve]:
    scanner = Scanner(values.properties.get("points", ""), f"The points of {values.what}")
    points: list[Point] = []
    scanner.skip_space()
    while not scanner.done:
        budget.spend_path_points(1)
        x = scanner.number()
        scanner.skip_comma()
        points.append((x, scanner.number()))
        if scanner.skip_comma() and scanner.done:
            raise scanner.fault("a number")
    if len(points) < 2:
        return []
    return [Curve(points[0], tuple(Straight(point) for point in points[1:]), closed)]
