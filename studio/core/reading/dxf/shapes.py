"""One DXF entity as an exact curve in the drawing's own units.

Circles, arcs, polylines and inserts are written in a plane of their own (`plane_of`); lines,
ellipses and splines in the drawing's. Everything that does not lie flat is refused in words.

ezdxf's own paths are not used: the README of `studio/core/reading` has the measured reasons.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from ..bounds import Budget
from ..curves import Arc, Cubic, Curve, Matrix, Span, Spline, Straight, ellipse
from ..svg.fault import Fault
from ..tracing import Point
from .groups import Entity

_SAME = 1e-9
_SHALLOW_RAD = 0.2  # a flatter arc has a centre too far away to be reckoned from
_TILT = 1e-6
_MOST_DEGREE = 5  # what drawing programs write is of degree 3, a few of 5


def curve_of(entity: Entity, budget: Budget) -> Curve | None:
    """None for what has no length. Raises `Fault` for what cannot be read exactly."""
    return _SHAPES[entity.kind](entity, budget)


def plane_of(entity: Entity) -> Matrix:
    """From the entity's own plane to the drawing's: the same, or seen from behind."""
    return Matrix(a=-1.0) if _from_behind(entity) else Matrix()


def _from_behind(entity: Entity) -> bool:
    x, y, z = entity.place(210) or (0.0, 0.0, 1.0)
    if max(abs(x), abs(y)) > _TILT * abs(z):
        raise Fault(
            "entity-tilted",
            f"A {entity.kind} in this drawing stands tilted in space.",
            "Draw it flat, seen from above, and save the file again.",
        )
    return z < 0.0


def _flat(entity: Entity, *heights: float) -> None:
    """Refuses lines that climb: what is seen from above is shorter than what was drawn."""
    if max(heights) - min(heights) > 1e-6 * max(1.0, *map(abs, heights)):
        raise Fault(
            "entity-tilted",
            f"A {entity.kind} in this drawing climbs in space; metal is sawn flat.",
            "Set the height (z) of all points to 0 and save the file again.",
        )


def _line(entity: Entity, budget: Budget) -> Curve | None:
    budget.spend_path_points(2)
    start, end = entity.place(10), entity.place(11)
    flat_start, flat_end = entity.at(10), entity.at(11)
    assert start is not None
    assert end is not None
    _flat(entity, start[2], end[2])
    if flat_start == flat_end:
        return None
    return Curve(flat_start, (Straight(flat_end),), closed=False)


def _circle(entity: Entity, budget: Budget) -> Curve | None:
    budget.spend_path_points(1)
    radius = _radius(entity)
    if radius == 0.0:
        return None
    return ellipse(entity.at(10), radius, radius).mapped(plane_of(entity))


def _arc(entity: Entity, budget: Budget) -> Curve | None:
    budget.spend_path_points(3)
    radius = _radius(entity)
    if radius == 0.0:
        return None
    start = math.radians(entity.number(50))
    sweep = math.radians((entity.number(51) - entity.number(50)) % 360.0)
    centre = entity.at(10)
    if sweep < _SAME:
        return ellipse(centre, radius, radius).mapped(plane_of(entity))
    begin = _on(centre, radius, start)
    end = _on(centre, radius, start + sweep)
    span = arc_span(centre, radius, start, sweep, begin, end)
    return Curve(begin, (span,), closed=False).mapped(plane_of(entity))


def _radius(entity: Entity) -> float:
    radius = entity.number(40)
    if radius < 0.0:
        raise Fault(
            "size-negative",
            f"The radius of a {entity.kind} in this drawing is negative ({radius:g}).",
            "Delete it, draw it again and save the file again.",
        )
    return radius


def _on(centre: Point, radius: float, angle: float) -> Point:
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def arc_span(
    centre: Point, radius: float, start_rad: float, sweep_rad: float, begin: Point, end: Point
) -> Span:
    """The arc of a circle; a shallow one as the cubic that differs by less than 1e-8 radius."""
    if abs(sweep_rad) >= _SHALLOW_RAD:
        return Arc(centre, (radius, 0.0), (0.0, radius), start_rad, sweep_rad, end)
    arm = 4.0 / 3.0 * math.tan(sweep_rad / 4.0) * radius
    last = start_rad + sweep_rad
    return Cubic(
        (begin[0] - arm * math.sin(start_rad), begin[1] + arm * math.cos(start_rad)),
        (end[0] + arm * math.sin(last), end[1] - arm * math.cos(last)),
        end,
    )


def bulge_span(start: Point, end: Point, bulge: float) -> Span:
    """The arc whose bulge, the tangent of a quarter of its angle, is given; left is positive."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if abs(bulge) < _SAME or chord == 0.0:
        return Straight(end)
    sweep = 4.0 * math.atan(bulge)
    if abs(sweep) < _SHALLOW_RAD:
        # Arms of a third of the arc, turned from the chord by half the angle.
        arm = 4.0 / 3.0 * math.tan(sweep / 4.0) / (2.0 * math.sin(sweep / 2.0))
        cos, sin = math.cos(sweep / 2.0), math.sin(sweep / 2.0)
        return Cubic(
            (start[0] + arm * (cos * dx + sin * dy), start[1] + arm * (cos * dy - sin * dx)),
            (end[0] - arm * (cos * dx - sin * dy), end[1] - arm * (cos * dy + sin * dx)),
            end,
        )
    lift = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = ((start[0] + end[0]) / 2 - lift * dy, (start[1] + end[1]) / 2 + lift * dx)
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    angle = math.atan2(start[1] - centre[1], start[0] - centre[0])
    return Arc(centre, (radius, 0.0), (0.0, radius), angle, sweep, end)


def _light_polyline(entity: Entity, budget: Budget) -> Curve | None:
    corners: list[Point] = []
    bulges: list[float] = []
    for code, value in entity.groups:
        if code == 10:
            x, y, _ = entity.point(value)
            corners.append((x, y))
            bulges.append(0.0)
        elif code == 42 and bulges:
            bulges[-1] = entity.usable(value)
    return _chained(entity, corners, bulges, budget)


def _old_polyline(entity: Entity, budget: Budget) -> Curve | None:
    flags = entity.whole(70)
    if flags & (16 | 64):
        raise Fault(
            "solid-unread",
            "A mesh of surfaces is not read.",
            "Draw its outline as flat lines and save the file again.",
        )
    seen = [corner for corner in entity.corners if not corner.whole(70) & 16]
    places = [corner.place(10) or (*corner.at(10), 0.0) for corner in seen]
    if flags & 8 and places:
        _flat(entity, *(z for _, _, z in places))
    bulges = [0.0 if flags & 8 else corner.number(42) for corner in seen]
    return _chained(entity, [(x, y) for x, y, _ in places], bulges, budget)


def _chained(
    entity: Entity, corners: Sequence[Point], bulges: Sequence[float], budget: Budget
) -> Curve | None:
    budget.spend_path_points(len(corners))
    if len(corners) < 2:
        return None
    closed = bool(entity.whole(70) & 1)
    spans = [
        bulge_span(start, end, bulge)
        for (start, end), bulge in zip(pairwise(corners), bulges, strict=False)
    ]
    if closed:
        spans.append(bulge_span(corners[-1], corners[0], bulges[-1]))
    return Curve(corners[0], tuple(spans), closed).mapped(plane_of(entity))


def _ellipse(entity: Entity, budget: Budget) -> Curve | None:
    budget.spend_path_points(3)
    centre, major = entity.at(10), entity.place(11) or (0.0, 0.0, 0.0)
    _flat(entity, 0.0, major[2])
    ratio = abs(entity.number(40, 1.0))
    side = -ratio if _from_behind(entity) else ratio
    u: Point = (major[0], major[1])
    v: Point = (-side * major[1], side * major[0])
    if math.hypot(*u) == 0.0 or ratio == 0.0:
        return None
    start, stop = entity.number(41), entity.number(42, math.tau)
    sweep = stop - start
    if not 0.0 < sweep <= math.tau:
        sweep %= math.tau
    whole = sweep < _SAME or abs(sweep - math.tau) < 1e-6
    arc = Arc(centre, u, v, start, math.tau if whole else sweep, (0.0, 0.0))
    begin = arc.at(start)
    end = begin if whole else arc.at(start + sweep)
    return Curve(begin, (Arc(centre, u, v, start, arc.sweep_rad, end),), closed=whole)


def _spline(entity: Entity, budget: Budget) -> Curve | None:
    control = entity.places(10)
    if not control:
        return _through(entity, budget)
    _flat(entity, *(z for _, _, z in control))
    weights = entity.numbers(41) or [1.0] * len(control)
    return _checked(
        entity,
        entity.whole(71, 3),
        entity.numbers(40),
        [(x, y, w) for (x, y, _), w in zip(control, weights, strict=False)],
        len(control),
        budget,
    )


def _through(entity: Entity, budget: Budget) -> Curve | None:
    """The spline through its fit points, where a file gives no control points."""
    points = entity.places(11)
    if len(points) < 2:
        return None
    budget.spend_path_points(10 * len(points))
    _flat(entity, *(z for _, _, z in points))
    if len(points) > 2_000:
        raise _bad_spline()
    from ezdxf.math import fit_points_to_cad_cv

    ends = [tangent for code in (12, 13) if (tangent := entity.place(code)) is not None]
    try:
        made = fit_points_to_cad_cv(points, tangents=ends if len(ends) == 2 else None)
        control = [(float(p.x), float(p.y), 1.0) for p in made.control_points]
        knots = [float(knot) for knot in made.knots()]
    except Exception as broken:
        # Points on one spot or tangents of no length: the equations have no answer.
        raise _bad_spline() from broken
    return _checked(entity, made.order - 1, knots, control, len(control), budget)


def _checked(
    entity: Entity,
    degree: int,
    knots: Sequence[float],
    control: list[tuple[float, float, float]],
    expected: int,
    budget: Budget,
) -> Curve | None:
    budget.spend_path_points(len(control))
    for number in (*knots, *(value for point in control for value in point)):
        entity.usable(number)
    sound = (
        1 <= degree <= _MOST_DEGREE
        and degree < len(control) == expected
        and len(knots) == len(control) + degree + 1
        and all(low <= high for low, high in pairwise(knots))
        and all(weight > 1e-6 for _, _, weight in control)
    )
    if not sound:
        raise _bad_spline()
    spline = Spline(degree, tuple(knots), tuple(control), (0.0, 0.0))
    pieces = spline.pieces
    if not pieces:
        return None
    start = spline.at(knots[pieces[0]], pieces[0])
    end = spline.at(knots[pieces[-1] + 1], pieces[-1])
    span = Spline(degree, spline.knots, spline.control, end)
    return Curve(start, (span,), closed=False)


def _bad_spline() -> Fault:
    return Fault(
        "spline-bad",
        "A spline in this drawing is damaged: its knots, weights and points do not agree.",
        "Draw it again, or turn it into a polyline, and save the file again.",
    )


_SHAPES: dict[str, Callable[[Entity, Budget], Curve | None]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _old_polyline,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
}
KINDS = frozenset(_SHAPES)
