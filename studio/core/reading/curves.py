"""Exact curves and affine maps, shared by all readers that know true curves.

A `Curve` is a start point and spans that follow one another. Maps act on control points, so
an arc stays an exact arc of an ellipse under any affine map, and only `flattening` makes
straight lines of it, at the very end and in millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from .tracing import Point


@dataclass(frozen=True, slots=True)
class Matrix:
    """The affine map x' = a x + c y + e, y' = b x + d y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, inner: Matrix) -> Matrix:
        """The map that applies `inner` first."""
        return Matrix(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    def point(self, point: Point) -> Point:
        x, y = point
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def vector(self, vector: Point) -> Point:
        x, y = vector
        return self.a * x + self.c * y, self.b * x + self.d * y

    @property
    def is_finite(self) -> bool:
        return all(map(math.isfinite, (self.a, self.b, self.c, self.d, self.e, self.f)))

    @property
    def flattens_everything(self) -> bool:
        """True when the map squeezes the plane onto a line or a point."""
        size = max(abs(self.a), abs(self.b), abs(self.c), abs(self.d))
        return abs(self.a * self.d - self.b * self.c) <= 1e-12 * size * size


def shift(x: float, y: float) -> Matrix:
    return Matrix(e=x, f=y)


def stretch(x: float, y: float) -> Matrix:
    return Matrix(a=x, d=y)


@dataclass(frozen=True, slots=True)
class Straight:
    end: Point

    def mapped(self, matrix: Matrix) -> Straight:
        return Straight(matrix.point(self.end))


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bézier span."""

    first: Point
    second: Point
    end: Point

    def mapped(self, matrix: Matrix) -> Cubic:
        return Cubic(matrix.point(self.first), matrix.point(self.second), matrix.point(self.end))


@dataclass(frozen=True, slots=True)
class Arc:
    """The points centre + u cos t + v sin t, t from `start_rad` over `sweep_rad`."""

    centre: Point
    u: Point
    v: Point
    start_rad: float
    sweep_rad: float
    end: Point

    def at(self, angle: float) -> Point:
        cos, sin = math.cos(angle), math.sin(angle)
        return (
            self.centre[0] + self.u[0] * cos + self.v[0] * sin,
            self.centre[1] + self.u[1] * cos + self.v[1] * sin,
        )

    def mapped(self, matrix: Matrix) -> Arc:
        return replace(
            self,
            centre=matrix.point(self.centre),
            u=matrix.vector(self.u),
            v=matrix.vector(self.v),
            end=matrix.point(self.end),
        )

    @property
    def half_axes(self) -> tuple[float, float]:
        """Greater and lesser half axis: the singular values of the matrix (u v)."""
        (a, b), (c, d) = self.u, self.v
        one = math.hypot(a + d, b - c) / 2
        other = math.hypot(a - d, b + c) / 2
        return one + other, abs(one - other)


@dataclass(frozen=True, slots=True)
class Spline:
    """A B-spline: control points (x, y, weight), with `len(control) + degree + 1` knots.

    The curve runs over the parameters from `knots[degree]` to `knots[len(control)]`.
    """

    degree: int
    knots: tuple[float, ...]
    control: tuple[tuple[float, float, float], ...]
    end: Point

    def mapped(self, matrix: Matrix) -> Spline:
        control = tuple((*matrix.point((x, y)), weight) for x, y, weight in self.control)
        return replace(self, control=control, end=matrix.point(self.end))

    def at(self, t: float, span: int) -> Point:
        """The point at `t`, which lies between the knots `span` and `span + 1` (de Boor)."""
        return self._bent((t,) * self.degree, span)

    def around(self, t0: float, t1: float, span: int) -> list[Point]:
        """The control points, without the two ends, of the piece from `t0` to `t1` as a Bézier.

        Weights are positive, so the piece lies inside the hull of these points and its ends.
        """
        p = self.degree
        return [self._bent((t0,) * (p - i) + (t1,) * i, span) for i in range(1, p)]

    def _bent(self, at: tuple[float, ...], span: int) -> Point:
        """De Boor's triangle with a parameter for each of its levels (the blossom)."""
        p, knots = self.degree, self.knots
        work = [(x * w, y * w, w) for x, y, w in self.control[span - p : span + 1]]
        for level in range(1, p + 1):
            for j in range(p, level - 1, -1):
                low, high = knots[j + span - p], knots[j + 1 + span - level]
                share = (at[level - 1] - low) / (high - low)
                one, two = work[j - 1], work[j]
                work[j] = (
                    one[0] + share * (two[0] - one[0]),
                    one[1] + share * (two[1] - one[1]),
                    one[2] + share * (two[2] - one[2]),
                )
        x, y, w = work[p]
        return x / w, y / w

    @property
    def is_cubic(self) -> bool:
        """True when x and y are polynomials of third degree at most: all weights are equal."""
        return self.degree <= 3 and len({weight for _, _, weight in self.control}) == 1

    @property
    def pieces(self) -> list[int]:
        """The knots after which a piece of the curve begins that has a length."""
        return [
            span
            for span in range(self.degree, len(self.control))
            if self.knots[span] < self.knots[span + 1]
        ]


Span = Straight | Cubic | Arc | Spline


@dataclass(frozen=True, slots=True)
class Curve:
    """Spans that follow one another from `start`."""

    start: Point
    spans: tuple[Span, ...]
    closed: bool

    def mapped(self, matrix: Matrix) -> Curve:
        return Curve(
            matrix.point(self.start),
            tuple(span.mapped(matrix) for span in self.spans),
            self.closed,
        )

    @property
    def control_points(self) -> list[Point]:
        """Points whose upright box holds the whole curve."""
        points = [self.start]
        for span in self.spans:
            points.append(span.end)
            if isinstance(span, Cubic):
                points += [span.first, span.second]
            elif isinstance(span, Spline):
                points += [(x, y) for x, y, _ in span.control]
            elif isinstance(span, Arc):
                reach_x = math.hypot(span.u[0], span.v[0])
                reach_y = math.hypot(span.u[1], span.v[1])
                x, y = span.centre
                points += [(x - reach_x, y - reach_y), (x + reach_x, y + reach_y)]
        return points

    @property
    def whole_ellipse(self) -> Arc | None:
        """The arc when this curve is one full turn of it and nothing else."""
        if len(self.spans) == 1 and isinstance(self.spans[0], Arc):
            arc = self.spans[0]
            if abs(abs(arc.sweep_rad) - math.tau) < 1e-12:
                return arc
        return None


def quadratic(start: Point, control: Point, end: Point) -> Cubic:
    """The cubic span that is exactly the quadratic Bézier."""
    return Cubic(
        (start[0] + 2 / 3 * (control[0] - start[0]), start[1] + 2 / 3 * (control[1] - start[1])),
        (end[0] + 2 / 3 * (control[0] - end[0]), end[1] + 2 / 3 * (control[1] - end[1])),
        end,
    )


def ellipse(centre: Point, rx: float, ry: float) -> Curve:
    """A whole ellipse with upright axes, as one arc."""
    start = (centre[0] + rx, centre[1])
    arc = Arc(centre, (rx, 0.0), (0.0, ry), 0.0, math.tau, start)
    return Curve(start, (arc,), closed=True)
