"""The sides of an outline as it lies: its edges, and the straight runs that they make up.

Reckoned once for every piece, in its own drawing, and then laid with the piece. Places along the
rims are told by one number, millimetres from the first corner on: rims follow each other, one
millimetre apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon

from studio.core.cutting.job import Placement

STRAIGHT_MM = 0.05
"""A run is straight when each of its points lies within this of one line."""

BETWEEN_RIMS_MM = 1.0
SAMPLE = 16
SAME_SENSE = 0.9  # cosine: an edge that goes on with the run, not back along it

Array = npt.NDArray[np.float64]
Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Sides:
    """Edges and straight runs (x0, y0, x1, y1), both with the metal of the piece on their left.

    `at` is where each edge begins along the rims, `before` and `after` which edges meet it there;
    `spans` is from where to where along the rims each run reaches. `box` is what
    the edges lie in: least x and y, most x and y.
    """

    edges: Array
    at: Array
    before: npt.NDArray[np.int64]
    after: npt.NDArray[np.int64]
    runs: Array
    spans: Array
    box: Array

    def laid(self, p: Placement) -> Sides:
        """These sides turned and shifted; what is mirrored is mirrored before."""
        angle = math.radians(p.turn_deg)
        c, s = math.cos(angle), math.sin(angle)
        spin = np.array([[c, s], [-s, c]])
        shift = np.array([p.x_mm, p.y_mm])

        def moved(lines: Array) -> Array:
            found: Array = (lines.reshape(-1, 2) @ spin + shift).reshape(-1, 4)
            return found

        edges = moved(self.edges)
        return Sides(
            edges, self.at, self.before, self.after, moved(self.runs), self.spans, _box(edges)
        )

    def lines(self, low: float, high: float) -> Iterator[LineString]:
        """The stretches of the rims from `low` to `high`, one for each rim that they touch."""
        length = np.hypot(*(self.edges[:, 2:] - self.edges[:, :2]).T)
        inside = np.flatnonzero((self.at < high - 1e-9) & (self.at + length > low + 1e-9))
        points: list[tuple[float, float]] = []
        for k in inside.tolist():
            x0, y0, x1, y1 = self.edges[k].tolist()
            start = max(0.0, low - float(self.at[k])) / float(length[k])
            end = min(1.0, (high - float(self.at[k])) / float(length[k]))
            begins, ends = ((x0 + (x1 - x0) * part, y0 + (y1 - y0) * part) for part in (start, end))
            if points and math.dist(points[-1], begins) > 1e-6:
                yield LineString(points)
                points = []
            points.extend([begins, ends] if not points else [ends])
        if points:
            yield LineString(points)


def sides_of(outline: Polygon, straight_min_mm: float, *, mirror: bool = False) -> Sides:
    """The sides of an outline as it is drawn, or of its mirror image (x becomes −x)."""
    if mirror:
        outline = affinity.scale(outline, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
    edges, at, before, after, runs, spans = [], [], [], [], [], []
    count, begins = 0, 0.0
    for corners in _rims(outline):
        ends = np.roll(corners, -1, axis=0)
        length = np.hypot(*(ends - corners).T)
        along = begins + np.concatenate([[0.0], np.cumsum(length)])
        numbers = count + np.arange(len(corners))
        edges.append(np.hstack([corners, ends]))
        at.append(along[:-1])
        before.append(np.roll(numbers, 1))
        after.append(np.roll(numbers, -1))
        for first, last, line in _runs(np.vstack([corners, corners[:1]]), length, straight_min_mm):
            runs.append(line)
            spans.append((along[first], along[last]))
        count += len(corners)
        begins = float(along[-1]) + BETWEEN_RIMS_MM
    every = np.vstack(edges)
    return Sides(
        every,
        np.concatenate(at),
        np.concatenate(before),
        np.concatenate(after),
        np.array(runs).reshape(-1, 4),
        np.array(spans).reshape(-1, 2),
        _box(every),
    )


def _box(edges: Array) -> Array:
    """The least and the most of their corners; each is where one of them begins."""
    corners = edges[:, :2]
    found: Array = np.concatenate([corners.min(axis=0), corners.max(axis=0)])
    return found


def _rims(outline: Polygon) -> Iterator[Array]:
    """The corners of each rim, the metal on the left, beginning at the sharpest, none of them in
    the middle of a straight line."""
    for number, ring in enumerate((outline.exterior, *outline.interiors)):
        coords = shapely.get_coordinates(ring)
        if bool(shapely.is_ccw(ring)) != (number == 0):
            coords = coords[::-1]
        corners = coords[:-1]
        corners = corners[np.any(corners != np.roll(corners, 1, axis=0), axis=1)]
        into, out = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
        turn = np.arctan2(
            into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], np.sum(into * out, axis=1)
        )
        corners = np.roll(corners, -int(np.argmax(np.abs(turn))), axis=0)
        plain = shapely.simplify(shapely.linearrings(corners), 1e-6)
        kept = shapely.get_coordinates(plain)[:-1]
        yield kept if len(kept) >= 3 else corners


def _runs(points: Array, length: Array, least: float) -> Iterator[tuple[int, int, Array]]:
    """The straight runs of a closed rim: first and last point, and the line between its ends."""
    taken = np.zeros(len(length), dtype=bool)
    along = np.concatenate([[0.0], np.cumsum(length)])
    order = np.argsort(-length, kind="stable")
    for k in order[length[order] >= least - 1e-9].tolist():
        if not taken[k]:
            first, last = _absorbed(points, taken, k)
            taken[first:last] = True
            direction = (points[k + 1] - points[k]) / length[k]
            yield first, last, _line(points[first : last + 1], points[k], direction)
    first = 0
    while first < len(length):
        last = int(np.searchsorted(along, along[first] + least - 1e-9))
        if last > len(length):
            break
        if taken[first:last].any() or not _straight(points, first, last):
            first += 1
            continue
        while last < len(length) and not taken[last] and _straight(points, first, last + 1):
            last += 1
        taken[first:last] = True
        part = points[first : last + 1]
        direction = _direction(part)
        assert direction is not None
        line = _middle_line(part, direction)
        if math.dist(line[:2], line[2:]) >= least - 1e-9:
            yield first, last, line
        first = last


def _absorbed(points: Array, taken: npt.NDArray[np.bool_], k: int) -> tuple[int, int]:
    """From where to where the rim goes on along the line of its edge number k."""
    direction = points[k + 1] - points[k]
    direction /= math.hypot(*direction)
    first, last = k, k + 1
    while last < len(taken) and not taken[last] and _goes_on(points, k, direction, last, last + 1):
        last += 1
    while first > 0 and not taken[first - 1] and _goes_on(points, k, direction, first - 1, first):
        first -= 1
    return first, last


def _goes_on(points: Array, k: int, direction: Array, begin: int, end: int) -> bool:
    step = points[end] - points[begin]
    far = points[begin] if begin < k else points[end]
    away = far - points[k]
    across = abs(away[0] * direction[1] - away[1] * direction[0])
    forward = float(step @ direction) >= SAME_SENSE * math.hypot(*step)
    return forward and across <= STRAIGHT_MM


def _straight(points: Array, first: int, last: int) -> bool:
    """Whether a stretch fits between two lines twice the tolerance apart, and never turns back."""
    part = points[first : last + 1]
    return _direction(part) is not None


def _direction(part: Array) -> Array | None:
    """The direction in which points lie within the tolerance of one line, each after the last."""
    chord = part[-1] - part[0]
    size = math.hypot(*chord)
    if size <= 1e-9:
        return None
    chord = chord / size
    some = part[:: max(1, len(part) // SAMPLE)]  # of many points a few may say no for all
    if np.ptp(_across(some, chord)) > 4.0 * STRAIGHT_MM:
        return None
    across = _across(part, chord)
    spread = across.max() - across.min()
    if spread > 4.0 * STRAIGHT_MM or ((np.diff(part, axis=0) @ chord) < 0.0).any():
        return None
    if spread <= 2.0 * STRAIGHT_MM:
        return np.asarray(chord)
    along = (part - part[0]) @ chord  # a little turned, it may fit better
    slope = np.polyfit(along, across, 1)[0]
    turned: Array = chord + slope * np.array([chord[1], -chord[0]])
    turned = turned / math.hypot(*turned)
    across = _across(part, turned)
    return turned if float(np.ptp(across)) <= 2.0 * STRAIGHT_MM else None


def _across(part: Array, direction: Array) -> Array:
    away = part - part[0]
    found: Array = away[:, 0] * direction[1] - away[:, 1] * direction[0]
    return found


def _line(part: Array, begin: Array, direction: Array) -> Array:
    """The line through a point, as long as the part."""
    along = (part - begin) @ direction
    return np.concatenate([begin + along.min() * direction, begin + along.max() * direction])


def _middle_line(part: Array, direction: Array) -> Array:
    """The line that runs through the middle of the points of the part."""
    across = _across(part, direction)
    normal = np.array([direction[1], -direction[0]])
    return _line(part, part[0] + (across.max() + across.min()) / 2.0 * normal, direction)
