"""Random drawings and random changes of their lines, sensible and not, as a page may send them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from random import Random
from typing import Any

from studio.core.correcting import circle_points
from studio.core.reading import Line
from studio.core.reading.tracing import Point, Round
from tests.core.correcting.making import line

Sent = dict[str, Any]


def drawing(random: Random) -> list[Line]:
    """Three to six lines; numbers among their ids may be missing, as after a join."""
    makers = [_polygon, _polygon, _way, _way, _nearly_closed, _circle, _nearly_round, _odd]
    ids = random.sample(range(1, 12), random.randint(3, 6))
    return [random.choice(makers)(random, str(number)) for number in ids]


def change(random: Random, lines: Sequence[Line]) -> Sent:
    """One change; now and then it names what is not there, or a number out of bounds."""
    makers = [
        *[_move_point] * 6,
        *[_add_point] * 3,
        *[_remove_point] * 3,
        *[_join] * 4,
        *[_diameter] * 2,
        _move_line,
        _new_hole,
        _redraw,
        _name,
    ]
    return random.choice(makers)(random, lines)


# ---- lines


def _spot(random: Random, far: float = 40.0) -> Point:
    return _value(random, random.uniform(-far, far)), _value(random, random.uniform(-far, far))


def _value(random: Random, value: float) -> float:
    """As a hand makes it, to a thousandth, or with all its places, as an inch does."""
    return round(value, random.choice((0, 1, 3, 3, 6)))


def _around(random: Random, count: int, radius: float, jitter: float) -> list[Point]:
    x, y = _spot(random)
    found = []
    for step in range(count):
        reach = radius * (1 + random.uniform(-jitter, jitter))
        angle = math.tau * step / count
        found.append((round(x + reach * math.cos(angle), 6), round(y + reach * math.sin(angle), 6)))
    return found


def _polygon(random: Random, number: str) -> Line:
    return line(number, _around(random, random.randint(3, 16), random.uniform(2, 15), 0.4))


def _nearly_round(random: Random, number: str) -> Line:
    """About as far from a circle as may still be one."""
    jitter = random.choice((0.0, 0.01, 0.03, 0.05))
    return line(number, _around(random, random.randint(6, 40), random.uniform(0.3, 10), jitter))


def _circle(random: Random, number: str) -> Line:
    (x, y), across = _spot(random), _value(random, random.uniform(0.5, 12))
    across = max(across, 0.5)
    points = circle_points(x, y, across)
    return line(number, points, element="circle", round=Round(x, y, across))


def _way(random: Random, number: str) -> Line:
    points = [_spot(random)]
    for _ in range(random.randint(1, 12)):
        x, y = points[-1]
        points.append((round(x + random.uniform(-5, 6), 6), round(y + random.uniform(-5, 6), 6)))
    return line(number, points, closed=False)


def _nearly_closed(random: Random, number: str) -> Line:
    """An open line whose ends lie about as far apart as may meet in the middle."""
    points = _around(
        random, random.choice((3, 5, 9, 30)), random.uniform(2, 8), random.random() / 9
    )
    x, y = points[0]
    points.append((round(x + random.choice((0.0, 0.1, 0.29, 0.31, 1.5)), 6), y))
    return line(number, points, closed=False)


def _odd(random: Random, number: str) -> Line:
    """Without an area, crossing itself, hardly to be seen, or as long as a line may be."""
    x, y = _spot(random)
    size = random.choice((0.12, 4.0, 1990.0))
    shapes: list[tuple[list[tuple[float, float]], bool]] = [
        ([(0, 0), (1, 0), (0.25, 0)], True),
        ([(0, 0), (1, 1), (1, 0), (0, 1)], True),
        ([(0, 0), (1, 0.7), (1, 0.1), (0, 0.6)], True),
        ([(0, 0), (1, 0)], False),
        ([(0, 0), (1, 0), (1, 1)], True),
    ]
    points, closed = random.choice(shapes)
    spots = [(round(x + size * a, 6), round(y + size * b, 6)) for a, b in points]
    return line(number, spots, closed=closed)


# ---- changes


def _a_line(random: Random, lines: Sequence[Line]) -> Line:
    return random.choice(lines)


def _named(random: Random, one: Line) -> str:
    return one.id if random.random() < 0.97 else random.choice(("99", "", "0"))


def _index(random: Random, one: Line) -> int:
    count = len(one.points)
    if random.random() < 0.3:  # ends are where it is easiest to be wrong
        return random.choice((0, count - 1))
    return random.randint(0, count - 1) if random.random() < 0.95 else random.choice((count, -1))


def _near(random: Random, at: Point) -> list[Any]:
    if random.random() < 0.03:
        return random.choice(([5000.0, 0.0], [0.0, -4000.0], [None, 1.0], [1.0]))
    far = random.choice((0.0, 0.00002, 0.01, 0.5, 4.0, 30.0))
    return [at[0] + random.uniform(-far, far), at[1] + random.uniform(-far, far)]


def _move_point(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    index = _index(random, one)
    # Now and then onto another point of the line, so that the two become one.
    there = (
        random.choice(one.points) if random.random() < 0.15 else one.points[index % len(one.points)]
    )
    reach = random.choice((0.0, 0.0, 1.0, 3.0, 8.0, 37.123, 100.0))
    if random.random() < 0.03:
        reach = random.choice((-1.0, 100.5))
    return {
        "do": "move-point",
        "line": _named(random, one),
        "index": index,
        "to": _near(random, there),
        "reach_mm": reach,
    }


def _add_point(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    after = _index(random, one)
    a, b = (one.points[place % len(one.points)] for place in (after, after + 1))
    at = _near(random, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
    if random.random() < 0.1:
        at = list(a)
    return {"do": "add-point", "line": _named(random, one), "after": after, "at": at}


def _remove_point(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    return {"do": "remove-point", "line": _named(random, one), "index": _index(random, one)}


def _move_line(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    return {"do": "move-line", "line": _named(random, one), "by": _near(random, (0.0, 0.0))}


def _join(random: Random, lines: Sequence[Line]) -> Sent:
    ends = [each for each in lines if not each.closed] or lines
    one = random.choice(ends if random.random() < 0.9 else lines)
    other = one if random.random() < 0.5 else random.choice(ends)
    end, other_end = random.choice(
        (("first", "last"), ("last", "first"), ("first", "first"), ("last", "last"))
    )
    if random.random() < 0.02:
        end = "middle"
    return {
        "do": "join",
        "line": _named(random, one),
        "end": end,
        "other": _named(random, other),
        "other_end": other_end,
    }


def _across(random: Random) -> float:
    if random.random() < 0.1:
        return random.choice((0.0, 0.1, 0.2, 0.1999999, 2000.0, 2001.0))
    return random.choice((0.5, 1.6129, 1.2, 3.175, random.uniform(0.2, 20)))


def _diameter(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    return {"do": "diameter", "line": _named(random, one), "diameter_mm": _across(random)}


def _new_hole(random: Random, lines: Sequence[Line]) -> Sent:
    return {"do": "new-hole", "at": _near(random, _spot(random)), "diameter_mm": _across(random)}


def _redraw(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    other = _circle(random, "1") if random.random() < 0.5 else _polygon(random, "1")
    circle = other.round and [other.round.x_mm, other.round.y_mm, other.round.diameter_mm]
    if circle and random.random() < 0.1:
        circle = random.choice(([*circle[:2], 0.1], circle[:2]))
    points: list[Any] = [list(point) for point in other.points]
    if random.random() < 0.2:
        points = random.choice(([], points[:1], points[:2], [*points, points[0]], [*points, [0.0]]))
    return {
        "do": "redraw",
        "line": _named(random, one),
        "points": points,
        "closed": random.random() < 0.7,
        "round": circle,
        "why": "",
    }


def _name(random: Random, lines: Sequence[Line]) -> Sent:
    one = _a_line(random, lines)
    return {"do": "name", "labels": {_named(random, one): random.choice(("outline", "ignore", ""))}}
