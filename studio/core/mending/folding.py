"""Are the two halves of a closed line nearly mirror images?

The axis is that about which the line, folded over, lies nearest to itself: tried through the
centroid in all directions, then moved and turned step by step: each mirrored point is paired
with the nearest of the line, and the best axis for all pairs is found at once (as P. Besl and
N. McKay do for turned shapes, "A method for registration of 3-D shapes", IEEE PAMI 14, 1992).
The measure follows H. Zabrodsky, S. Peleg, D. Avnir, "Symmetry as a continuous feature", IEEE
PAMI 17, 1995: how far points must move to be symmetric.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.core.reading import Line

from . import thresholds
from .ways import Points, Way

_SAMPLES = 180
_DIRECTIONS = 60
_TRIED = 3
_STEPS = 25


@dataclass(frozen=True, slots=True)
class Axis:
    """The line of all points p with n . (p - centre) = shift, n = (-sin, cos) of the turn."""

    centre: NDArray[np.float64]
    turn_rad: float
    shift_mm: float

    @property
    def normal(self) -> NDArray[np.float64]:
        return np.array([-math.sin(self.turn_rad), math.cos(self.turn_rad)])

    def side(self, points: Points) -> NDArray[np.float64]:
        """Distances from the axis, positive on the left of its direction."""
        found: NDArray[np.float64] = (points - self.centre) @ self.normal - self.shift_mm
        return found

    def mirrored(self, points: Points) -> Points:
        found: Points = points - 2.0 * np.outer(self.side(points), self.normal)
        return found


@dataclass(frozen=True, slots=True)
class Folded:
    """One half kept and mirrored. `side` is "left", "right", "upper" or "lower"."""

    points: Points
    side: str


def folded(way: Way) -> tuple[Folded, ...]:
    """The line with either half mirrored, the calmer half first; empty without advice.

    A half that would make a point or a dent at the fold where none was drawn is left out.
    """
    if not way.closed or way.span < thresholds.LEAST_SYMMETRIC_MM:
        return ()
    axis = best_axis(way)
    if axis is None:
        return ()
    axis = _through_tips(way, axis)
    most = farthest(way, axis)
    if (
        not thresholds.SYMMETRIC_EXACT_MM
        < most
        <= min(thresholds.SYMMETRIC_MOST_MM, thresholds.SYMMETRIC_MOST_SHARE * way.span)
    ):
        return ()
    halves = _halves(way, axis)
    if halves is None:
        return ()
    return tuple(
        Folded(points, _side(half, axis))
        for half in sorted(halves, key=_restless)
        if not _has_new_tip(way, points := _with_mirror(half, axis), half)
    )


def farthest(way: Way, axis: Axis) -> float:
    """The greatest distance between the line and its mirror image."""
    points = way.at(np.linspace(0.0, way.length, _SAMPLES + 1)[:-1])
    mirrored = shapely.points(axis.mirrored(points))
    return float(shapely.distance(mirrored, way.line.linework).max())


def _through_tips(way: Way, axis: Axis) -> Axis:
    """The axis led through the corners at which it almost crosses the line, as a hand would."""
    halves = _halves(way, axis)
    if halves is None or not way.corners:
        return axis
    corners = way.at(np.array(way.corners))
    ends = []
    for crossing in halves[0][[0, -1]]:
        gaps = np.hypot(*(corners - crossing).T)
        near = int(gaps.argmin())
        ends.append(corners[near] if gaps[near] <= thresholds.TIP_NEAR_MM else crossing)
    along = ends[1] - ends[0]
    return Axis(ends[0], math.atan2(float(along[1]), float(along[0])), 0.0)


def _has_new_tip(way: Way, points: Points, half: Points) -> bool:
    ring = tuple((float(x), float(y)) for x, y in points)
    new = Way(Line("", ring, closed=True))
    if not new.corners:
        return False
    corners = new.at(np.array(new.corners))
    old = way.at(np.array(way.corners)) if way.corners else np.empty((0, 2))
    for fold in half[[0, -1]]:
        at_fold = bool((np.hypot(*(corners - fold).T) <= thresholds.CORNER_ARM_MM).any())
        drawn = bool((np.hypot(*(old - fold).T) <= thresholds.TIP_NEAR_MM).any())
        if at_fold and not drawn:
            return True
    return False


def best_axis(way: Way) -> Axis | None:
    """The axis about which the line, folded over, lies nearest to itself.

    None when no axis stands out: something nearly round is nearly symmetric any way.
    """
    points = way.at(np.linspace(0.0, way.length, _SAMPLES + 1)[:-1])
    coarse = way.at(np.linspace(0.0, way.length, 2 * _SAMPLES + 1)[:-1])
    centre = np.asarray(way.line.polygon.centroid.coords[0])
    means = np.empty(_DIRECTIONS)
    for number in range(_DIRECTIONS):
        mirrored = Axis(centre, number * math.pi / _DIRECTIONS, 0.0).mirrored(points[::2])
        apart = ((mirrored[:, None, :] - coarse[None, :, :]) ** 2).sum(axis=2)
        means[number] = apart.min(axis=1).mean()
    lower = (means <= np.roll(means, 1)) & (means <= np.roll(means, -1))
    lower &= means <= means.min() + (thresholds.SYMMETRIC_MOST_MM / 2) ** 2
    starts = sorted(np.flatnonzero(lower).tolist(), key=lambda each: float(means[each]))[:_TRIED]
    drawn = way.line.linework
    shapely.prepare(drawn)
    tried = [
        _settled(Axis(centre, start * math.pi / _DIRECTIONS, 0.0), points, drawn)
        for start in starts
    ]
    axis = min(tried, key=lambda each: _mean(each, points, drawn))
    stands_out = thresholds.SYMMETRIC_STANDS_OUT**2 * float(np.median(means))
    if _mean(axis, points, drawn) > stands_out:
        return None
    return axis


def _settled(axis: Axis, points: Points, drawn: shapely.LineString) -> Axis:
    """The axis moved and turned until the pairs of points no longer better it."""
    for _ in range(_STEPS):
        mirrored = shapely.points(axis.mirrored(points))
        nearest = shapely.line_interpolate_point(drawn, shapely.line_locate_point(drawn, mirrored))
        pairs = shapely.get_coordinates(nearest)
        p, q = points - points.mean(axis=0), pairs - pairs.mean(axis=0)
        twice = math.atan2(
            float((q[:, 0] * p[:, 1] + q[:, 1] * p[:, 0]).sum()),
            float((q[:, 0] * p[:, 0] - q[:, 1] * p[:, 1]).sum()),
        )
        turned = Axis(axis.centre, twice / 2.0, 0.0)
        middle = (points.mean(axis=0) + pairs.mean(axis=0)) / 2.0
        better = Axis(axis.centre, twice / 2.0, float(turned.side(middle[None])[0]))
        still = abs(better.shift_mm - axis.shift_mm) < 1e-4
        if still and abs(math.sin(better.turn_rad - axis.turn_rad)) < 1e-5:
            return better
        axis = better
    return axis


def _mean(axis: Axis, points: Points, drawn: shapely.LineString) -> float:
    away = shapely.distance(shapely.points(axis.mirrored(points)), drawn)
    return float((away**2).mean())


def _halves(way: Way, axis: Axis) -> tuple[Points, Points] | None:
    """Both halves from axis to axis; None unless the axis meets the line exactly twice."""
    ring = way.ring
    side = axis.side(ring)
    side[np.abs(side) < 1e-7] = 1e-7
    changes = np.flatnonzero(np.sign(side[:-1]) != np.sign(side[1:]))
    if len(changes) != 2:
        return None
    cuts = []
    for index in changes.tolist():
        share = side[index] / (side[index] - side[index + 1])
        cuts.append(ring[index] + share * (ring[index + 1] - ring[index]))
    first, second = changes.tolist()
    inner = np.vstack((cuts[0], ring[first + 1 : second + 1], cuts[1]))
    outer = np.vstack((cuts[1], ring[second + 1 : -1], ring[: first + 1], cuts[0]))
    return inner, outer


def _with_mirror(half: Points, axis: Axis) -> Points:
    """The half, then its mirror image back to where it began."""
    away = np.abs(axis.side(half)) > 0.02  # a point beside the fold would be there twice
    away[[0, -1]] = True
    half = half[away]
    back = axis.mirrored(half[1:-1])[::-1]
    return np.vstack((half, back))


def _side(half: Points, axis: Axis) -> str:
    x, y = axis.normal * float(np.sign(axis.side(half).sum()))
    if abs(x) >= abs(y):
        return "right" if x > 0 else "left"
    return "upper" if y > 0 else "lower"


def _restless(half: Points) -> float:
    """How much the half turns to and fro in all."""
    steps = np.diff(half, axis=0)
    angles = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.mod(np.diff(angles) + math.pi, math.tau) - math.pi
    return float(np.abs(turn).sum())
