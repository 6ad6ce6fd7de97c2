"""Which sections of a line are straight, or nearly; and a line put together from straight ones."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import thresholds
from .hands import is_bow, is_even_wave, trembles
from .ways import Points, Section, Way

Vector = NDArray[np.float64]

_LEAST_MEETING = math.sin(math.radians(12.0))


@dataclass(frozen=True, slots=True)
class Ray:
    """A straight line without ends: a point on it and its unit direction."""

    point: Vector
    along: Vector

    def foot(self, point: Vector) -> Vector:
        """The point of the ray that is nearest to `point`."""
        found: Vector = self.point + self.along * float((point - self.point) @ self.along)
        return found

    def aside(self, points: Points) -> NDArray[np.float64]:
        """How far points lie to the left of the ray."""
        off: NDArray[np.float64] = (points - self.point) @ np.array([-self.along[1], self.along[0]])
        return off

    def meets(self, other: Ray) -> Vector | None:
        """Where both cross; None when they run too much alike."""
        cross = float(self.along[0] * other.along[1] - self.along[1] * other.along[0])
        if abs(cross) < _LEAST_MEETING:
            return None
        off = other.point - self.point
        share = float(off[0] * other.along[1] - off[1] * other.along[0]) / cross
        found: Vector = self.point + share * self.along
        return found


@dataclass(frozen=True, slots=True)
class Edge:
    """A section that is straight to within `off_mm`; `nearly` when a ruler would better it.

    `ray` is the straight line nearest to it (least squares), running the way the line runs.
    """

    number: int
    section: Section
    ray: Ray
    off_mm: float
    nearly: bool


def edges_of(way: Way, *, paper: bool) -> dict[int, Edge]:
    """The straight and nearly straight sections by their number; curves are left out."""
    found: dict[int, Edge] = {}
    for number, section in enumerate(way.sections):
        if section.whole:
            continue
        edge = _edge(way, number, section, paper)
        if edge is not None:
            found[number] = edge
    return found


def _edge(way: Way, number: int, section: Section, paper: bool) -> Edge | None:
    points = way.even(section)
    ray = fitted(points[_clear_of_tips(points, section.length)])
    off = ray.aside(points)
    length = section.length
    most = float(np.abs(off[_clear_of_tips(points, length)]).max())
    if most <= (thresholds.READING_MM if paper else thresholds.FLATTENING_MM) or (
        length < thresholds.LEAST_EDGE_MM and most <= thresholds.STRAIGHT_MOST_SHARE * length
    ):
        return Edge(number, section, ray, most, nearly=False)
    if length < thresholds.LEAST_EDGE_MM:
        return None
    if most > min(thresholds.STRAIGHT_MOST_MM, thresholds.STRAIGHT_MOST_SHARE * length):
        return None
    if is_even_wave(off) or is_bow(off, length):
        return None
    if not paper and not trembles(off, length):
        return None
    return Edge(number, section, ray, most, nearly=True)


def _clear_of_tips(points: Points, length: float) -> slice:
    """The samples beside which no ink rounds a corner off."""
    step = length / (len(points) - 1)
    tip = int(min(thresholds.TIP_MM, 0.1 * length) / step)
    return slice(tip, len(points) - tip)


def fitted(points: Points, pin: Vector | None = None) -> Ray:
    """The straight line with the least sum of squared distances, through `pin` where given."""
    middle = points.mean(axis=0) if pin is None else pin
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    along: Vector = axes[0]
    if along @ (points[-1] - points[0]) < 0.0:
        along = -along
    return Ray(middle, along)


def ruled(way: Way, edges: Mapping[int, Edge]) -> dict[int, Ray]:
    """A ray for each edge, through the ends that stay where they are.

    An end stays where a curve begins there, and where an open line ends: it may meet another.
    """
    rays: dict[int, Ray] = {}
    for number, edge in edges.items():
        ends = way.at(np.array([edge.section.begin, edge.section.end]))
        stays = [
            end
            for end, beside in zip(ends, _beside(way, number), strict=True)
            if beside not in edges
        ]
        points = way.even(edge.section)
        match stays:
            case []:
                rays[number] = edge.ray
            case [end]:
                rays[number] = fitted(points, end)
            case _:
                chord = ends[1] - ends[0]
                rays[number] = Ray(ends[0], chord / np.hypot(*chord))
    return rays


def _beside(way: Way, number: int) -> tuple[int | None, int | None]:
    """The numbers of the sections before and after, None at an open end."""
    count = len(way.sections)
    if way.closed:
        return (number - 1) % count, (number + 1) % count
    return (number - 1 if number > 0 else None), (number + 1 if number + 1 < count else None)


def put_together(way: Way, rays: Mapping[int, Ray]) -> Points | None:
    """The line with these sections straight; curves beside them follow with their ends.

    Shape (n, 2); a closed line does not repeat its first point. None when two neighbours run
    too much alike to meet.
    """
    sections = way.sections
    count = len(sections)
    marks = [section.begin for section in sections]
    if not way.closed:
        marks.append(sections[-1].end)
    drawn = way.at(np.array(marks))
    tips: list[Vector] = []
    for mark, old in enumerate(drawn):
        before = rays.get((mark - 1) % count) if way.closed or mark > 0 else None
        after = rays.get(mark) if way.closed or mark < count else None
        if before is not None and after is not None:
            tip = before.meets(after)
            if tip is None:
                return None
            tips.append(tip)
        elif before is not None or after is not None:
            ray = before if before is not None else after
            assert ray is not None
            tips.append(ray.foot(old))
        else:
            tips.append(old)
    parts: list[Points] = []
    for number, section in enumerate(sections):
        start, stop = tips[number], tips[(number + 1) % len(tips)]
        if number in rays:
            parts.append(np.vstack((start, stop)))
        else:
            parts.append(_carried(way.vertices(section), start, stop))
    line = np.vstack([part[:-1] for part in parts])
    return line if way.closed else np.vstack((line, parts[-1][-1:]))


def _carried(points: Points, start: Vector, stop: Vector) -> Points:
    """The same curve between other ends: each point goes with the end that is nearer."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    share = np.concatenate(([0.0], np.cumsum(steps))) / max(float(steps.sum()), 1e-9)
    first, last = start - points[0], stop - points[-1]
    found: Points = points + np.outer(1.0 - share, first) + np.outer(share, last)
    return found
