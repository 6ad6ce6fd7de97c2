"""Is a line that shows no corner made of many short straight sides?

The corners of a regular polygon of a dozen sides turn so little that they pass for wobbles of a
curve. But between them its sides are straight, where a curve would bow all along. So the line is
drawn with straight strokes as well as may be, and the bow that is left over each stroke is
compared with that of an arc which turns as much.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from . import thresholds
from .ways import Points, Section, Way, turns

_STANDS_OUT = 1.5  # tolerances: a mark that stands out less is the hand's
_CLEAR = 0.12  # of a side at either end, where ink and hand round its corners


def is_many_sided(way: Way, section: Section, *, surely: bool = False) -> bool:
    """Whether straight sides explain the section and one curve does not.

    `surely` when the section must look so to a coarse eye and to a fine one, and bow less.
    """
    points = way.even(section)
    every = all if surely else any
    most = thresholds.SIDES_SURE_BOW if surely else thresholds.SIDES_MOST_BOW
    return every(
        _bowed(points, tolerance, section.whole) <= most
        for tolerance in thresholds.SIDES_TOLERANCES_MM
    )


def _bowed(points: Points, tolerance_mm: float, whole: bool) -> float:
    """How much the sides bow, as a share of arcs in their place; 1 where nobody can tell."""
    marks = _marks(points, tolerance_mm, whole)
    if len(marks) - 1 < (thresholds.LEAST_SIDES if whole else 2):
        return 1.0
    ring = np.vstack((points[:-1], points)) if whole else points
    sides = [ring[one : other + 1] for one, other in pairwise(marks)]
    chords = np.array([side[-1] - side[0] for side in sides])
    lengths = np.hypot(*chords.T)
    if float(lengths.min()) < thresholds.LEAST_SIDE_MM:
        return 1.0
    bends = turns(chords[:-1], chords[1:])
    closing = turns(chords[-1:], chords[:1]) if whole else np.zeros(1)
    before, after = np.concatenate((closing, bends)), np.concatenate((bends, closing))
    bow = arc = 0.0
    for side, length, one, other in zip(sides, lengths, before, after, strict=True):
        turn = float(one + other) / 2
        if one * other < 0.0 or abs(turn) < math.radians(4.0):
            continue
        # An arc that turns by so much rises this far over its chord; to the right where it
        # turns to the left.
        arc += length * abs(turn) / 8
        bow -= math.copysign(1.0, turn) * _rise(side)
    return bow / arc if arc > 0.0 else 1.0


def _marks(points: Points, tolerance_mm: float, whole: bool) -> list[int]:
    """Where straight strokes meet, as places among the points (twice around where `whole`)."""
    if not whole:
        return _without_slight(points, _kept(points, tolerance_mm), tolerance_mm, whole=False)
    # It is begun at a corner, so that no side is cut in two where the line happens to begin.
    first = _kept(points, tolerance_mm)
    begin = first[1] if len(first) > 2 else 0
    turned = np.vstack((points[begin:-1], points[: begin + 1]))
    marks = _without_slight(turned, _kept(turned, tolerance_mm), tolerance_mm, whole=True)
    return [begin + mark for mark in marks]


def _without_slight(
    points: Points, marks: list[int], tolerance_mm: float, *, whole: bool
) -> list[int]:
    """Without the marks of a swing: those that hardly stand out between their neighbours."""
    marks = list(marks)
    while len(marks) > 3:
        drawn = points[marks]
        one, middle, other = drawn[:-2], drawn[1:-1], drawn[2:]
        chord = other - one
        away = middle - one
        long = np.maximum(np.hypot(*chord.T), 1e-9)
        height = np.abs(chord[:, 0] * away[:, 1] - chord[:, 1] * away[:, 0]) / long
        least = int(height.argmin())
        steps = np.hypot(*np.diff(drawn, axis=0).T)
        if height[least] >= _STANDS_OUT * tolerance_mm:
            short = np.minimum(steps[:-1], steps[1:]) < thresholds.LEAST_SIDE_MM
            if not short.any():
                break
            least = int(np.where(short, height, np.inf).argmin())
        del marks[least + 1]
    return marks


def _kept(points: Points, tolerance_mm: float) -> list[int]:
    simple = shapely.get_coordinates(
        shapely.simplify(shapely.linestrings(points), tolerance_mm, preserve_topology=False)
    )
    found: list[int] = []
    at = 0
    for spot in simple[:-1]:
        while not np.array_equal(points[at], spot):
            at += 1
        found.append(at)
    return [*found, len(points) - 1]


def _rise(side: Points) -> float:
    """How far the middle of the side lies to the left of its ends, by the parabola nearest."""
    count = len(side)
    clear = int(_CLEAR * count)
    inner = side[clear : count - clear] if count - 2 * clear > 4 else side
    chord = side[-1] - side[0]
    along = chord / max(float(np.hypot(*chord)), 1e-9)
    off: NDArray[np.float64] = (inner - side[0]) @ np.array([-along[1], along[0]])
    t = np.linspace(-1.0, 1.0, len(inner)) * len(inner) / count
    shape = 1.0 - t**2
    shape -= shape.mean()
    return float((off - off.mean()) @ shape) / float(shape @ shape)
