"""Lines that meet a line follow it when it is redrawn, so that nothing comes apart.

Two pieces may share an edge, and a surface line may end on an outline. What lay on the old line
lies on the new one afterwards; a shared stretch takes over the new line's very points.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, LineString
from shapely.ops import substring

from studio.core.reading import Line
from studio.core.reading.bounds import HEAL_GAP_MM

from .ways import Points, Way

_STILL_MM = 1e-4
_CORNER_REACH_MM = 0.3


class ComesApart(Exception):
    """A neighbour cannot follow, so the mend is not to be had."""


def followers(lines: Sequence[Line], old: Way, new: Points) -> list[tuple[Line, Points]]:
    """The other lines that met `old`, each with its new points.

    Raises ComesApart when a drill mark lay on the line, which cannot bend.
    """
    drawn = LinearRing(new) if old.closed else LineString(new)
    before = old.line.linework
    shapely.prepare(before)
    x0, y0, x1, y1 = shapely.box(*before.bounds).buffer(HEAL_GAP_MM).bounds
    found = []
    for line in lines:
        if line.id == old.line.id:
            continue
        points = np.asarray(line.points)
        low, high = points.min(axis=0), points.max(axis=0)
        if high[0] < x0 or low[0] > x1 or high[1] < y0 or low[1] > y1:
            continue
        on = np.asarray(shapely.dwithin(before, shapely.points(points), HEAL_GAP_MM))
        if not on.any():
            continue
        followed = _followed(line, points, on, old, before, drawn, new)
        if followed is not None:
            if line.round is not None:
                raise ComesApart
            found.append((line, followed))
    return found


def _followed(
    line: Line,
    points: Points,
    on: NDArray[np.bool_],
    old: Way,
    before: LineString,
    drawn: LineString,
    new: Points,
) -> Points | None:
    count = len(points)
    moved = points.copy()
    for index in np.flatnonzero(on).tolist():
        moved[index] = _new_place(points[index], old, drawn, new)
    changed = bool(np.abs(moved - points).max() > _STILL_MM)
    # Walk along the segments; those that lay on the old line take the new line's way.
    out: list[Points] = []
    segments = count if line.closed else count - 1
    for index in range(segments):
        after = (index + 1) % count
        out.append(moved[index : index + 1])
        if not (on[index] and on[after]):
            continue
        middle = shapely.points((points[index] + points[after]) / 2)
        if not shapely.dwithin(before, middle, HEAL_GAP_MM):
            continue
        between = _way_along(drawn, moved[index], moved[after], points[index], points[after])
        if len(between):
            out.append(between)
            changed = True
    if not line.closed:
        out.append(moved[-1:])
    return np.vstack(out) if changed else None


def _new_place(point: Points, old: Way, drawn: LineString, new: Points) -> Points:
    """Where a point of the old line goes: a corner to the new corner, else straight across."""
    if old.corners:
        corners = old.at(np.array(old.corners))
        if float(np.hypot(*(corners - point).T).min()) <= HEAL_GAP_MM:
            gaps = np.hypot(*(new - point).T)
            nearest = int(gaps.argmin())
            if gaps[nearest] <= drawn.distance(shapely.Point(point)) + _CORNER_REACH_MM:
                corner: Points = new[nearest]
                return corner
    place = drawn.interpolate(drawn.project(shapely.Point(point)))
    return np.array([place.x, place.y])


def _way_along(
    drawn: LineString, start: Points, stop: Points, old_start: Points, old_stop: Points
) -> Points:
    """The new line's points strictly between two places on it, the short way."""
    first = drawn.project(shapely.Point(start))
    last = drawn.project(shapely.Point(stop))
    way = substring(drawn, first, last)
    straight = float(np.hypot(*(old_stop - old_start)))
    if way.length > 2.0 * straight + 1.0:
        return np.empty((0, 2))  # over the line's own first point: its end points are enough
    inner = shapely.get_coordinates(way)[1:-1]
    ends = np.stack((start, stop))
    apart = np.hypot(*(inner[:, None, :] - ends[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    return inner[apart > _STILL_MM] if len(inner) else inner
