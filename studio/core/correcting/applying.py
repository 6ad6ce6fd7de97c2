"""The lines as they are after the student's changes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from studio.core.drawing import FLATTENING_TOLERANCE_MM
from studio.core.reading.bounds import (
    MAX_LINES,
    MAX_SIZE_MM,
    MAX_VERTICES,
    SAME_POINT_MM,
    SPECK_MM,
)
from studio.core.reading.joining.meetings import TooTangled, meetings
from studio.core.reading.joining.rounds import round_of
from studio.core.reading.labels import Label
from studio.core.reading.tracing import Line, Point, Round, Tracing, gap

from .changes import (
    MAX_CHANGES,
    AddPoint,
    Change,
    Diameter,
    Join,
    MoveLine,
    MovePoint,
    Name,
    NewHole,
    Redraw,
    RemovePoint,
)
from .errors import CannotChange

WELD_MM = 0.3  # ends this near each other meet in the middle; a wider gap is bridged straight
_MAX_ALL_POINTS = 2 * MAX_VERTICES
_NO_AREA = 1e-9  # of the square of the line's length
_DECIMALS = 6


def corrected(tracing: Tracing, changes: Sequence[Change]) -> Tracing:
    """The tracing with every change in its turn; the one given stays as it is.

    Line ids stay those of the reader; a joined line keeps the first one's. Raises CannotChange
    for a change that its lines do not bear.
    """
    if not changes:
        return tracing
    if len(changes) > MAX_CHANGES:
        raise CannotChange(
            f"This drawing has been changed {MAX_CHANGES:,} times. Download it, and bring the "
            "file as a new pattern."
        )
    lines = {line.id: line for line in tracing.lines}
    for change in changes:
        _apply(lines, change)
    if sum(len(line.points) for line in lines.values()) > _MAX_ALL_POINTS:
        raise CannotChange("The lines would have too many points.")
    return replace(tracing, lines=tuple(lines.values()))


def refuse_scribble(tracing: Tracing) -> None:
    """Raises CannotChange for lines that cross too often to be measured."""
    try:
        meetings(
            [np.asarray(line.points, dtype=np.float64) for line in tracing.lines],
            [line.closed for line in tracing.lines],
        )
    except TooTangled as tangled:
        raise CannotChange("The lines would cross each other far too often.") from tangled


def circle_points(x: float, y: float, diameter_mm: float) -> tuple[Point, ...]:
    """A circle as short straight lines, counter-clockwise, within the house's tolerance."""
    radius = diameter_mm / 2
    share = min(1.0, FLATTENING_TOLERANCE_MM / radius)
    count = 4 * max(6, math.ceil(math.pi / math.acos(1.0 - share) / 4))
    return tuple(
        (
            round(x + radius * math.cos(math.tau * step / count), _DECIMALS),
            round(y + radius * math.sin(math.tau * step / count), _DECIMALS),
        )
        for step in range(count)
    )


def middle_of(line: Line) -> Point:
    """The middle of a circle, or of the area inside a closed line.

    A line that crosses itself, as an eight does, may have no area left, or its middle far off;
    then it is the middle of the line itself.
    """
    if line.round is not None:
        return line.round.x_mm, line.round.y_mm
    area, way = line.polygon, line.linework
    x0, y0, x1, y1 = way.bounds
    centre = area.centroid
    if area.area <= _NO_AREA * way.length**2 or not (x0 <= centre.x <= x1 and y0 <= centre.y <= y1):
        centre = way.centroid
    if centre.is_empty:
        return line.points[0]
    return float(centre.x), float(centre.y)


def _apply(lines: dict[str, Line], change: Change) -> None:
    match change:
        case Redraw(line_id, points, closed, circle, _):
            line = _known(lines, line_id)
            if circle is not None and not closed:
                raise CannotChange("A circle is a closed line.")
            lines[line_id] = _sound(replace(line, points=points, closed=closed, round=circle))
        case MovePoint(line_id, index, to, reach_mm):
            lines[line_id] = _moved(_known(lines, line_id), index, to, reach_mm)
        case AddPoint(line_id, after, at):
            lines[line_id] = _added(_known(lines, line_id), after, at)
        case RemovePoint(line_id, index):
            line = _known(lines, line_id)
            _check_index(line, index)
            kept = line.points[:index] + line.points[index + 1 :]
            lines[line_id] = _reshaped(line, kept)
        case MoveLine(line_id, by):
            lines[line_id] = _shifted(_known(lines, line_id), by)
        case Join(line_id, end, other_id, other_end):
            _join(lines, line_id, end, other_id, other_end)
        case Diameter(line_id, diameter_mm):
            line = _known(lines, line_id)
            if not line.closed:
                raise CannotChange("Only a closed line can become a drill mark.")
            lines[line_id] = _circle(line, *middle_of(line), diameter_mm)
        case NewHole(at, diameter_mm):
            if len(lines) >= MAX_LINES:
                raise CannotChange(f"A drawing may have {MAX_LINES:,} lines at most.")
            fresh = Line(next_id(lines), (), closed=True, element="circle")
            lines[fresh.id] = _circle(fresh, *at, diameter_mm)
        case Name(labels):
            for line_id, _ in labels:
                _known(lines, line_id)


def next_id(lines: dict[str, Line]) -> str:
    """One more than the greatest number among the ids."""
    return str(max((int(each) for each in lines if each.isdecimal()), default=0) + 1)


def _known(lines: dict[str, Line], line_id: str) -> Line:
    line = lines.get(line_id)
    if line is None:
        raise CannotChange("That line is not in this pattern any more. Load the page again.")
    return line


def _check_index(line: Line, index: int) -> None:
    if index >= len(line.points):
        raise CannotChange("That point is not on the line any more. Load the page again.")


def _moved(line: Line, index: int, to: Point, reach_mm: float) -> Line:
    _check_index(line, index)
    x, y = line.points[index]
    by = to[0] - x, to[1] - y
    points = list(line.points)
    for other, share in shares(line, index, reach_mm).items():
        px, py = line.points[other]
        points[other] = _rounded(px + share * by[0], py + share * by[1])
    points[index] = to
    return _reshaped(line, tuple(points))


def shares(line: Line, index: int, reach_mm: float) -> dict[int, float]:
    """How much of a point's way its neighbours go: 1 at the point, 0 at `reach_mm` along."""
    points, count = line.points, len(line.points)
    found = {index: 1.0}
    if reach_mm <= 0:
        return found
    for step in (1, -1):
        walked, here = 0.0, index
        while True:
            there = here + step
            if line.closed:
                there %= count
            if not 0 <= there < count or there == index:
                break
            walked += gap(points[here], points[there])
            if walked >= reach_mm:
                break
            share = 0.5 * (1.0 + math.cos(math.pi * walked / reach_mm))
            found[there] = max(found.get(there, 0.0), share)
            here = there
    return found


def _added(line: Line, after: int, at: Point) -> Line:
    _check_index(line, after)
    if not line.closed and after == len(line.points) - 1:
        raise CannotChange("A point can be added between two others.")
    points = (*line.points[: after + 1], at, *line.points[after + 1 :])
    return _reshaped(line, points)


def _shifted(line: Line, by: Point) -> Line:
    points = tuple(_rounded(x + by[0], y + by[1]) for x, y in line.points)
    circle = line.round
    if circle is not None:
        x, y = _rounded(circle.x_mm + by[0], circle.y_mm + by[1])
        circle = Round(x, y, circle.diameter_mm)
    return _sound(replace(line, points=points, round=circle))


def _circle(line: Line, x: float, y: float, diameter_mm: float) -> Line:
    x, y = _rounded(x, y)
    return _sound(
        replace(
            line,
            points=circle_points(x, y, diameter_mm),
            closed=True,
            round=Round(x, y, diameter_mm),
            hint=_opened_hint(line),
        )
    )


def _join(lines: dict[str, Line], line_id: str, end: str, other_id: str, other_end: str) -> None:
    one, other = _known(lines, line_id), _known(lines, other_id)
    if one.closed or other.closed:
        raise CannotChange("Only open ends can be joined.")
    if one.id == other.id:
        if end == other_end:
            raise CannotChange("A line is closed by joining its two ends.")
        lines[line_id] = _closed(one)
        return
    first = one.points if end == "last" else one.points[::-1]
    then = other.points if other_end == "first" else other.points[::-1]
    points = _bridged(first, then)
    if end != "last":
        points = points[::-1]
    del lines[other_id]
    lines[line_id] = _sound(replace(one, points=points, round=None))


def _closed(line: Line) -> Line:
    points = line.points
    width = gap(points[0], points[-1])
    if width <= WELD_MM:
        middle = _rounded((points[0][0] + points[-1][0]) / 2, (points[0][1] + points[-1][1]) / 2)
        points = (middle, *points[1:-1])
    # A scan calls a closed line without shading a surface line; one that was open it knew not.
    return _reshaped(replace(line, points=points, closed=True, hint=_opened_hint(line)), points)


def _opened_hint(line: Line) -> str:
    return "" if line.hint == Label.SURFACE else line.hint


def _bridged(first: tuple[Point, ...], then: tuple[Point, ...]) -> tuple[Point, ...]:
    if gap(first[-1], then[0]) > WELD_MM:
        return first + then
    middle = _rounded((first[-1][0] + then[0][0]) / 2, (first[-1][1] + then[0][1]) / 2)
    return (*first[:-1], middle, *then[1:])


def _reshaped(line: Line, points: tuple[Point, ...]) -> Line:
    """The line through these points; whether it still is a circle is looked at again."""
    sound = _sound(replace(line, points=points, round=None))
    if not sound.closed:
        return sound
    return replace(sound, round=round_of(np.asarray(sound.points, dtype=np.float64)))


def _sound(line: Line) -> Line:
    """The same line without repeated points. Raises CannotChange when none worth it is left."""
    kept: list[Point] = []
    for point in line.points:
        if not kept or gap(kept[-1], point) > SAME_POINT_MM / 10:
            kept.append(point)
    if line.closed and len(kept) > 1 and gap(kept[0], kept[-1]) <= SAME_POINT_MM / 10:
        kept.pop()
    least = 3 if line.closed else 2
    if len(kept) < least:
        words = "A closed line needs three points" if line.closed else "A line needs two points"
        raise CannotChange(f"{words} at least. To be rid of the line, leave it out.")
    xs, ys = [x for x, _ in kept], [y for _, y in kept]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    if max(wide, high) < SPECK_MM:
        raise CannotChange("The line would be too small to see. To be rid of it, leave it out.")
    if max(wide, high) > MAX_SIZE_MM:
        raise CannotChange(f"A line may be {MAX_SIZE_MM:,.0f} mm long at most.")
    return replace(line, points=tuple(kept))


def _rounded(x: float, y: float) -> Point:
    return round(x, _DECIMALS) + 0.0, round(y, _DECIMALS) + 0.0
