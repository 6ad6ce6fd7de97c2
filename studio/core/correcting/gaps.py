"""Which open ends lie so near each other that they were perhaps meant to meet?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from studio.core.reading.labels import Label
from studio.core.reading.tracing import Line, Point, Tracing, gap

MOST_GAPS = 12
WIDE_GAP_MM = 5.0  # an open line that was not understood: nobody draws it so on purpose
SURFACE_GAP_MM = 1.0  # surface lines end near each other on purpose, as hatching does
SHORT_SHARE = 3.0  # a line is at least so many times as long as the gap that would close it
_MOST_ENDS = 4_000


@dataclass(frozen=True, slots=True)
class Gap:
    """Two open ends and how far apart they are; the same line twice when it would close."""

    line: str
    end: str
    other: str
    other_end: str
    at: Point
    to: Point
    width_mm: float


@dataclass(frozen=True, slots=True)
class _End:
    line: Line
    name: str
    at: Point


def gaps(tracing: Tracing, labels: Mapping[str, str]) -> tuple[Gap, ...]:
    """Pairs of ends, nearest first, each end in one pair at most.

    `labels` says what each line is taken for; lines that are left out offer no ends.
    """
    ends = [
        _End(line, name, point)
        for line in tracing.lines
        if not line.closed and labels.get(line.id) != Label.IGNORE
        for name, point in (("first", line.points[0]), ("last", line.points[-1]))
    ][:_MOST_ENDS]
    if len(ends) < 2:
        return ()
    points: Any = shapely.points(np.asarray([end.at for end in ends]))
    tree = shapely.STRtree(points)
    one, other = tree.query(points, "dwithin", WIDE_GAP_MM)
    keep = one < other
    one, other = one[keep], other[keep]
    widths = shapely.distance(points[one], points[other])
    found: list[Gap] = []
    taken: set[int] = set()
    for number in np.argsort(widths, kind="stable"):
        a, b, width = int(one[number]), int(other[number]), float(widths[number])
        if a in taken or b in taken or not _meant(ends[a], ends[b], width, labels):
            continue
        taken |= {a, b}
        found.append(_gap(ends[a], ends[b], width))
        if len(found) == MOST_GAPS:
            break
    for first in range(0, len(ends) - 1, 2):  # a line whose own ends lie far apart
        one_line, width = ends[first].line, gap(ends[first].at, ends[first + 1].at)
        if {first, first + 1} & taken or labels.get(one_line.id) != Label.OPEN:
            continue
        if width * SHORT_SHARE <= one_line.linework.length:
            found.append(_gap(ends[first], ends[first + 1], width))
    return tuple(found[:MOST_GAPS])


def _meant(one: _End, other: _End, width: float, labels: Mapping[str, str]) -> bool:
    if one.line.id == other.line.id and one.line.linework.length < SHORT_SHARE * width:
        return False  # a dash or an arc: closed it would be a sliver
    open_ones = Label.OPEN in (labels.get(one.line.id), labels.get(other.line.id))
    return width <= (WIDE_GAP_MM if open_ones else SURFACE_GAP_MM)


def _gap(one: _End, other: _End, width: float) -> Gap:
    return Gap(one.line.id, one.name, other.line.id, other.name, one.at, other.at, round(width, 3))
