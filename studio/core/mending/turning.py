"""Corners that are nearly square, and sides that run nearly alike."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from . import thresholds
from .edges import Edge, Ray, Vector
from .ways import Way

_MOST_EDGES = 60


@dataclass(frozen=True, slots=True)
class Turned:
    """Sides that are turned, each with its new ray.

    `count` is the number of corners that become square, or of sides that become parallel;
    `most_deg` by how much the worst of them is off.
    """

    rays: dict[int, Ray]
    count: int = 0
    most_deg: float = 0.0
    square: bool = False

    def and_also(self, rays: dict[int, Ray], count: int, most_deg: float) -> Turned:
        return Turned(self.rays | rays, self.count + count, max(self.most_deg, most_deg))


def turned(way: Way, edges: Mapping[int, Edge]) -> list[Turned]:
    """At most two: all groups with nearly square corners, and all with parallel sides only."""
    right = {pair: off for pair in _corners(way, edges) if (off := _off_square(*pair, edges)) >= 0}
    alike = {
        pair: off
        for pair in combinations(sorted(edges)[:_MOST_EDGES], 2)
        if pair not in right and (off := _off_parallel(way, edges[pair[0]], edges[pair[1]])) >= 0
    }
    square, parallel = Turned({}), Turned({})
    for group in _groups([*right, *alike]):
        corners = [off for pair, off in right.items() if pair[0] in group]
        bent = [off for off in corners if off > thresholds.ANGLE_EXACT_DEG]
        pairs = {pair: off for pair, off in alike.items() if pair[0] in group and off > 0.0}
        rays = _snapped(way, [edges[number] for number in sorted(group)], 4 if corners else 2)
        if rays is None:
            continue
        if bent and (len(corners) > 1 or bent[0] <= thresholds.LONE_SQUARE_DEG):
            square = square.and_also(rays, len(bent), max(bent))
        elif pairs and not bent:
            sides = {number for pair in pairs for number in pair}
            parallel = parallel.and_also(rays, len(sides), max(pairs.values()))
    return [
        *([replace(square, square=True)] if square.count else []),
        *([parallel] if parallel.count else []),
    ]


def _corners(way: Way, edges: Mapping[int, Edge]) -> list[tuple[int, int]]:
    """Pairs of edges that follow one another."""
    count = len(way.sections)
    pairs = [(number, number + 1) for number in range(count - 1)]
    if way.closed and count > 2:
        pairs.append((0, count - 1))
    return [pair for pair in pairs if pair[0] in edges and pair[1] in edges]


def _off_square(one: int, other: int, edges: Mapping[int, Edge]) -> float:
    """By how many degrees the corner is not square; -1 when it is not meant to be."""
    first, second = edges[one], edges[other]
    if min(first.section.length, second.section.length) < thresholds.LEAST_EDGE_MM:
        return -1.0
    off = abs(90.0 - _between(first.ray, second.ray))
    return off if off <= thresholds.SQUARE_MOST_DEG else -1.0


def _off_parallel(way: Way, one: Edge, other: Edge) -> float:
    """By how many degrees two sides run apart, 0 when exact; -1 when not meant to be parallel."""
    lengths = one.section.length, other.section.length
    if min(lengths) < thresholds.LEAST_PARALLEL_MM or min(lengths) < 0.4 * max(lengths):
        return -1.0
    off = _between(one.ray, other.ray)
    if off > thresholds.PARALLEL_MOST_DEG:
        return -1.0
    along = one.ray.along
    first = _reach(way, one, along)
    second = _reach(way, other, along)
    beside = min(first[1], second[1]) - max(first[0], second[0])
    apart = float(np.hypot(*(one.ray.foot(other.ray.point) - other.ray.point)))
    if beside < 0.5 * min(lengths) or apart < 1.0:
        return -1.0
    narrower = math.sin(math.radians(off)) * max(lengths)
    if narrower > thresholds.PARALLEL_MOST_MM:
        return -1.0
    exact = off <= thresholds.ANGLE_EXACT_DEG or narrower <= thresholds.PARALLEL_EXACT_MM
    return 0.0 if exact else off


def _reach(way: Way, edge: Edge, along: Vector) -> tuple[float, float]:
    ends = way.at(np.array([edge.section.begin, edge.section.end])) @ along
    return float(ends.min()), float(ends.max())


def _between(one: Ray, other: Ray) -> float:
    """The angle between two lines without direction, 0 to 90 degrees."""
    cosine = min(1.0, abs(float(one.along @ other.along)))
    return math.degrees(math.acos(cosine))


def _groups(pairs: list[tuple[int, int]]) -> list[set[int]]:
    groups: list[set[int]] = []
    for one, other in pairs:
        joined = {one, other}
        apart = []
        for group in groups:
            if group & joined:
                joined |= group
            else:
                apart.append(group)
        groups = [*apart, joined]
    return groups


def _snapped(way: Way, group: list[Edge], folds: int) -> dict[int, Ray] | None:
    """Each edge turned about its middle onto one of `folds` / 2 shared directions.

    The shared direction is the mean of all, weighted by length, in angles counted `folds` times,
    so that a quarter turn (or a half turn) makes no difference. None when a chain of small
    differences would turn some edge too far.
    """
    angles = np.array([math.atan2(edge.ray.along[1], edge.ray.along[0]) for edge in group])
    weights = np.array([edge.section.length for edge in group])
    base = math.atan2(
        float((weights * np.sin(folds * angles)).sum()),
        float((weights * np.cos(folds * angles)).sum()),
    )
    step = math.tau / folds
    base /= folds
    aims = base + step * np.round((angles - base) / step)
    if float(np.degrees(np.abs(aims - angles)).max()) > thresholds.SQUARE_MOST_DEG:
        return None
    return {
        edge.number: Ray(
            way.even(edge.section).mean(axis=0), np.array([math.cos(aim), math.sin(aim)])
        )
        for edge, aim in zip(group, aims.tolist(), strict=True)
    }
