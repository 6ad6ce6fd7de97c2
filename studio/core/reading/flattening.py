"""Makes short straight lines of curves, in final millimetres.

The promise is that no point lies further than `FLATTENING_TOLERANCE_MM` (0.02) from the true
curve. We spend half of it on ordinary curves, whose vertices lie on the curve, so that a
distance measured between two flattened curves is still right to 0.02 mm.

A polygon inscribed in a circle is always too small. Whole circles and ellipses are therefore
drawn through points pushed outwards until the polygon has exactly the area of the curve: with
a height h of curve over chord, vertices stand 2h/3 outside and chord middles h/3 inside (to
first order). Both stay within 0.005 mm.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .bounds import Budget
from .curves import Arc, Cubic, Curve, Spline, Straight
from .errors import PatternError
from .tracing import Point

CURVE_TOLERANCE_MM = 0.01
CIRCLE_TOLERANCE_MM = 0.005
_MOST_HALVINGS = 18
_FAR_MM = 1e5  # control points beyond this make no drawing that fits in a school


def flatten(
    curve: Curve, budget: Budget, tolerance: float = CURVE_TOLERANCE_MM
) -> NDArray[np.float64]:
    """The curve's vertices as an array of shape (n, 2), in millimetres.

    A closed curve may or may not repeat its first point at the end; tidying removes it.
    """
    _refuse_far(curve)
    whole = curve.whole_ellipse
    if whole is not None:
        return _flatten_ellipse(whole, budget, min(tolerance, CIRCLE_TOLERANCE_MM))
    points: list[Point] = [curve.start]
    for span in curve.spans:
        if isinstance(span, Straight):
            budget.spend_vertices(1)
            points.append(span.end)
        elif isinstance(span, Cubic):
            _flatten_cubic(points, span, budget, tolerance)
        elif isinstance(span, Spline):
            _flatten_spline(points, span, budget, tolerance)
        else:
            _flatten_arc(points, span, budget, tolerance)
    return np.asarray(points, dtype=np.float64)


def _flatten_ellipse(arc: Arc, budget: Budget, tolerance: float) -> NDArray[np.float64]:
    greater, _ = arc.half_axes
    if greater == 0.0:
        return np.asarray([arc.centre], dtype=np.float64)
    # Vertices stand 2h/3 outside: h may be one and a half times the tolerance.
    count = _steps(math.tau, greater, 1.5 * tolerance)
    count = max(12, 4 * math.ceil(count / 4))  # symmetrical, and smooth even when tiny
    budget.spend_vertices(count)
    step = math.tau / count
    push = math.sqrt(step / math.sin(step))  # polygon area n/2 sin(step) p^2 = pi
    angle = arc.start_rad + np.sign(arc.sweep_rad) * step * np.arange(count)
    cos, sin = push * np.cos(angle), push * np.sin(angle)
    centre, u, v = np.asarray(arc.centre), np.asarray(arc.u), np.asarray(arc.v)
    points: NDArray[np.float64] = centre + np.outer(cos, u) + np.outer(sin, v)
    return points


def _flatten_arc(points: list[Point], arc: Arc, budget: Budget, tolerance: float) -> None:
    greater, _ = arc.half_axes
    count = _steps(abs(arc.sweep_rad), greater, tolerance)
    budget.spend_vertices(count)
    for index in range(1, count):
        points.append(arc.at(arc.start_rad + arc.sweep_rad * index / count))
    points.append(arc.end)


def _steps(sweep: float, half_axis: float, tolerance: float) -> int:
    """Chords needed so that the curve nowhere rises more than `tolerance` over one.

    The height over a chord of parameter width s is (1 - cos(s/2)) times a half diameter of
    the ellipse, which is at most the greater half axis.
    """
    if half_axis <= tolerance:
        return max(1, math.ceil(sweep / (math.pi / 2)))
    widest = 2.0 * math.acos(1.0 - tolerance / half_axis)
    return max(1, math.ceil(sweep / widest - 1e-9))


def _flatten_cubic(points: list[Point], span: Cubic, budget: Budget, tolerance: float) -> None:
    stack = [(points[-1], span.first, span.second, span.end, 0)]
    while stack:
        p0, p1, p2, p3, depth = stack.pop()
        if depth >= _MOST_HALVINGS or _is_flat(p0, p1, p2, p3, tolerance):
            budget.spend_vertices(1)
            points.append(p3)
            continue
        a, b, c = _middle(p0, p1), _middle(p1, p2), _middle(p2, p3)
        d, e = _middle(a, b), _middle(b, c)
        m = _middle(d, e)
        stack.append((m, e, c, p3, depth + 1))
        stack.append((p0, a, d, m, depth + 1))


def _is_flat(p0: Point, p1: Point, p2: Point, p3: Point, tolerance: float) -> bool:
    """Whether the chord is good enough for the cubic.

    The curve's distance from the chord is a weighted mean of its control points' distances
    with weights that sum to at most 3/4. Measured square to the chord when both control
    points lie beside it, else point by point, which never underestimates.
    """
    cx, cy = p3[0] - p0[0], p3[1] - p0[1]
    length = math.hypot(cx, cy)
    limit = tolerance * 4.0 / 3.0
    if length > 1e-9:
        along = [((p[0] - p0[0]) * cx + (p[1] - p0[1]) * cy) / length for p in (p1, p2)]
        if 0.0 <= along[0] <= along[1] <= length:
            off = [abs((p[0] - p0[0]) * cy - (p[1] - p0[1]) * cx) / length for p in (p1, p2)]
            return max(off) <= limit
    near = (p0[0] + cx / 3, p0[1] + cy / 3)
    far = (p0[0] + 2 * cx / 3, p0[1] + 2 * cy / 3)
    return (
        max(
            math.hypot(p1[0] - near[0], p1[1] - near[1]),
            math.hypot(p2[0] - far[0], p2[1] - far[1]),
        )
        <= limit
    )


def _flatten_spline(points: list[Point], spline: Spline, budget: Budget, tolerance: float) -> None:
    """Halves each piece of the spline until it lies near enough to the chord.

    Square to the chord a cubic piece is a polynomial of third degree that is nothing at both
    ends; three points between fix it, and its peak is at most 1.1 times the highest of them.
    Three points do not tell where a piece of higher degree, or with weights that differ, runs
    between them: it is held to the points whose hull it cannot leave.
    """
    cubic = spline.is_cubic
    for span in spline.pieces:
        low, high = spline.knots[span], spline.knots[span + 1]
        stack = [(low, high, spline.at(low, span), spline.at(high, span), 0)]
        while stack:
            t0, t1, p0, p1, depth = stack.pop()
            half = (t0 + t1) / 2
            if cubic:
                watched = [spline.at(t0 + share * (t1 - t0), span) for share in (0.25, 0.5, 0.75)]
                limit = tolerance / 1.1
            else:
                watched, limit = spline.around(t0, t1, span), tolerance
            near = all(_off(point, p0, p1) <= limit for point in watched)
            if depth >= _MOST_HALVINGS or (depth >= 1 and near):
                budget.spend_vertices(1)
                points.append(p1)
                continue
            middle = watched[1] if cubic else spline.at(half, span)
            stack.append((half, t1, middle, p1, depth + 1))
            stack.append((t0, half, p0, middle, depth + 1))
    points[-1] = spline.end


def _off(point: Point, start: Point, end: Point) -> float:
    """Distance from the point to the straight line between start and end."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    x, y = point[0] - start[0], point[1] - start[1]
    square = dx * dx + dy * dy
    along = 0.0 if square == 0.0 else min(1.0, max(0.0, (x * dx + y * dy) / square))
    return math.hypot(x - along * dx, y - along * dy)


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _refuse_far(curve: Curve) -> None:
    # "not <=" so that a coordinate that is not a number is refused too
    if not all(abs(x) <= _FAR_MM and abs(y) <= _FAR_MM for x, y in curve.control_points):
        raise PatternError(
            "drawing-huge",
            "Something in this drawing lies more than 100 metres away.",
            "Look for a stray point far off the page, or a wrong unit, and save again.",
        )
