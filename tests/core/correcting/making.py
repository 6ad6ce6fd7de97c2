"""Small tracings to be corrected, and random ones."""

from __future__ import annotations

from collections.abc import Sequence

from studio.core.reading import Line, Source, Tracing
from studio.core.reading.tracing import Point, Round

SQUARE: tuple[Point, ...] = ((0, 0), (20, 0), (20, 20), (0, 20))


def line(number: int | str, points: Sequence[Point], closed: bool = True, **more: object) -> Line:
    spots = tuple((float(x), float(y)) for x, y in points)
    return Line(str(number), spots, closed, **more)  # type: ignore[arg-type]


def tracing(*lines: Line) -> Tracing:
    return Tracing(Source("svg", "mm", "file", 60.0, 40.0), lines)


def hole(number: int | str, x: float, y: float, diameter: float) -> Line:
    from studio.core.correcting import circle_points

    return line(
        number, circle_points(x, y, diameter), element="circle", round=Round(x, y, diameter)
    )
