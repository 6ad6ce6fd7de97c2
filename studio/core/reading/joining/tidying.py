"""From rough lines to a tracing: stray dots dropped, doubles read once, loose ends joined."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.core.drawing import Finding, Weight
from studio.core.reading.bounds import (
    MAX_CROSSINGS,
    MAX_LINES,
    SAME_LINE_MM,
    SAME_POINT_MM,
    SPECK_MM,
)
from studio.core.reading.errors import PatternError
from studio.core.reading.rough import Rough, RoughLine
from studio.core.reading.tracing import Line, Tracing
from studio.core.shortening import shortened

from .chaining import chain_by_layer
from .meetings import TooTangled, meetings
from .rounds import round_of

_MOST_FINDINGS = 100
_MOST_IN_ONE_PLACE = 500
_DECIMALS = 6  # a millionth of a millimetre: exact for a saw, short in JSON


@dataclass(slots=True)
class Loose:
    """A line on its way to the tracing; `order` is its place in the file."""

    order: int
    rough: RoughLine

    @property
    def points(self) -> NDArray[np.float64]:
        return self.rough.points


def tidy(rough: Rough) -> Tracing:
    """Numbers the lines "1", "2", ... in the order of the file, after joining."""
    findings = list(rough.findings)
    lines = [
        Loose(order, cleaned)
        for order, line in enumerate(rough.lines)
        if (cleaned := _cleaned(line)) is not None
    ]
    specks = len(rough.lines) - len(lines)
    lines = _once(lines, findings)
    lines = [
        Loose(order, line)
        for order, line in chain_by_layer([(each.order, each.rough) for each in lines], findings)
    ]
    kept = [each for each in lines if _extent(each.points) >= SPECK_MM]
    specks += len(lines) - len(kept)
    kept = _once(kept, findings)
    if specks:
        findings.append(
            Finding(
                "line-speck",
                Weight.CAUTION,
                f"{specks} stray dot{'s' if specks > 1 else ''} smaller than {SPECK_MM:g} mm "
                "left out.",
                "Nothing to do, unless one was meant to be a drill mark: then draw it larger.",
                limit_mm=SPECK_MM,
            )
        )
    if len(kept) > MAX_LINES:
        raise PatternError(
            "too-many-lines",
            f"This drawing has {len(kept):,} separate lines; {MAX_LINES:,} are read at most.",
            "Remove hatching and hidden layers, and join loose lines into outlines.",
        )
    kept.sort(key=lambda each: each.order)
    _refuse_scribble(kept)
    return Tracing(
        rough.source,
        tuple(_line(str(number), each.rough) for number, each in enumerate(kept, start=1)),
        shortened(findings, _MOST_FINDINGS),
        rough.paper,
    )


def _refuse_scribble(lines: list[Loose]) -> None:
    try:
        meetings([each.points for each in lines], [each.rough.closed for each in lines])
    except TooTangled as tangled:
        raise PatternError(
            "too-tangled",
            f"The lines of this drawing cross each other more than {MAX_CROSSINGS:,} times.",
            "Remove hatching and scribbles; keep only the lines to be sawn or marked.",
        ) from tangled


def _cleaned(line: RoughLine) -> RoughLine | None:
    """Without repeated points; a closed line without an inside becomes an open one."""
    points = np.round(line.points, _DECIMALS) + 0.0  # no negative zeros
    if len(points) > 1:
        moved = np.any(np.abs(np.diff(points, axis=0)) > SAME_POINT_MM / 10, axis=1)
        points = points[np.concatenate(([True], moved))]
    closed = line.closed
    if closed and len(points) > 1 and np.hypot(*(points[0] - points[-1])) <= SAME_POINT_MM:
        points = points[:-1]
    if len(points) < 2 or _extent(points) <= SAME_POINT_MM:
        return None
    if closed and (len(points) < 3 or _breadth(points) <= SAME_POINT_MM):
        closed = False
        if len(points) == 3 or len(points) > 3:
            points = _ends_of_flat(points)
    return replace(line, points=points, closed=closed)


def _ends_of_flat(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The two ends of a closed line that runs to and fro on itself."""
    far = int(np.argmax(np.hypot(*(points - points[0]).T)))
    other = int(np.argmax(np.hypot(*(points - points[far]).T)))
    return points[[far, other]]


def _breadth(points: NDArray[np.float64]) -> float:
    """How far the points lie off their longest chord from the first one's farthest point."""
    ends = _ends_of_flat(points)
    along = ends[1] - ends[0]
    length = float(np.hypot(*along))
    off = (points - ends[0]) @ np.array([-along[1], along[0]]) / length
    return float(off.max() - off.min())


def _extent(points: NDArray[np.float64]) -> float:
    return float(np.ptp(points, axis=0).max())


def _once(lines: list[Loose], findings: list[Finding]) -> list[Loose]:
    """Drops every line that lies on an earlier one, such as a fill under its own stroke."""
    if len(lines) < 2:
        return lines
    shapes: Any = [
        shapely.linearrings(each.points) if each.rough.closed else shapely.linestrings(each.points)
        for each in lines
    ]
    lengths = shapely.length(shapes)
    bounds = shapely.bounds(shapes)
    dropped: set[int] = set()
    first: int | None = None
    _refuse_crowd(bounds[:, :2])
    corners: Any = shapely.points(bounds[:, :2])
    tree = shapely.STRtree(corners)
    for index in range(len(lines)):
        if index in dropped:
            continue
        near = tree.query(shapely.Point(bounds[index, :2]), "dwithin", 2 * SAME_LINE_MM)
        near = near[near > index]
        # Neighbours in a curve of tiny loose lines are near each other but no doubles.
        slack = min(SAME_LINE_MM, 0.05 * float(lengths[index]))
        # All at once: thousands of lines may begin on one spot.
        near = near[np.abs(bounds[near] - bounds[index]).max(axis=1, initial=0.0) <= slack]
        near = near[np.abs(lengths[near] - lengths[index]) <= 0.01 * lengths[index] + slack]
        for other in near:
            if int(other) in dropped:
                continue
            if lines[index].rough.closed != lines[other].rough.closed:
                continue
            one, two = shapes[index], shapes[other]
            if _lies_on(two, one, slack) and _lies_on(one, two, slack):
                dropped.add(int(other))
                first = index if first is None else first
    if first is not None:
        x, y = lines[first].points[0]
        count = len(dropped)
        findings.append(
            Finding(
                "line-double",
                Weight.CAUTION,
                f"{count} line{'s' if count > 1 else ''} drawn twice in the same place, "
                "such as a colour and its border, read once.",
                "Nothing to do; each line is sawn only once.",
                at=(float(x), float(y)),
            )
        )
    return [each for index, each in enumerate(lines) if index not in dropped]


def _refuse_crowd(corners: NDArray[np.float64]) -> None:
    """Comparing each with each is quick only while few lines begin in one place."""
    _, counts = np.unique(np.round(corners / SAME_LINE_MM), axis=0, return_counts=True)
    if counts.max() > _MOST_IN_ONE_PLACE:
        raise PatternError(
            "too-tangled",
            f"More than {_MOST_IN_ONE_PLACE} lines of this drawing begin in one place.",
            "Remove hatching and scribbles; keep only the lines to be sawn or marked.",
        )


def _lies_on(line: shapely.Geometry, other: shapely.Geometry, slack: float) -> bool:
    shapely.prepare(other)
    corners = shapely.points(shapely.get_coordinates(line))
    return bool(np.all(shapely.dwithin(other, corners, slack)))


def _line(number: str, rough: RoughLine) -> Line:
    found = rough.round
    if found is None and rough.closed:
        found = round_of(rough.points)
    points = np.round(rough.points, _DECIMALS)
    return Line(
        number,
        tuple((float(x), float(y)) for x, y in points),
        rough.closed,
        found,
        rough.element,
        rough.name,
        rough.hint,
        rough.layer,
    )
