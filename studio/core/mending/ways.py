"""A line as a ruler sees it: measured at even distances, cut into sections at its corners."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from studio.core.reading import Line

from . import thresholds

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Section:
    """The stretch between two corners, `begin` and `end` in millimetres along the line.

    `whole` when a closed line has no corner; then it begins and ends at its first point.
    """

    begin: float
    end: float
    whole: bool = False

    @property
    def length(self) -> float:
        return self.end - self.begin


class Way:
    """The line with the places of its corners; all measures in millimetres along it."""

    def __init__(self, line: Line) -> None:
        self.line = line
        self.closed = line.closed
        points = np.asarray(line.points, dtype=np.float64)
        self.ring = np.vstack((points, points[:1])) if line.closed else points
        steps = np.hypot(*np.diff(self.ring, axis=0).T)
        self.run: Points = np.concatenate(([0.0], np.cumsum(steps)))

    @property
    def length(self) -> float:
        return float(self.run[-1])

    @cached_property
    def span(self) -> float:
        """The greater side of the upright box."""
        return float(np.ptp(self.ring, axis=0).max())

    def at(self, places: NDArray[np.float64]) -> Points:
        """Points at these distances along the line; around again where it is closed."""
        along = np.mod(places, self.length) if self.closed else np.clip(places, 0.0, self.length)
        return np.stack([np.interp(along, self.run, self.ring[:, axis]) for axis in (0, 1)], axis=1)

    def even(self, section: Section, trim: float = 0.0) -> Points:
        """The section at even steps, both ends included, less `trim` at each."""
        length = section.length - 2 * trim
        step = max(thresholds.STEP_MM, self.length / thresholds.MOST_STEPS)
        count = max(8, math.ceil(length / step))
        return self.at(np.linspace(section.begin + trim, section.end - trim, count + 1))

    def vertices(self, section: Section) -> Points:
        """The line's own points in the section, with both ends."""
        if section.whole:
            return self.ring
        runs = self.run[:-1] if self.closed else self.run
        own = self.ring[: len(runs)]
        if section.end > self.length + 1e-9:
            runs, own = np.concatenate((runs, runs + self.length)), np.vstack((own, own))
        inner = (runs > section.begin + 1e-6) & (runs < section.end - 1e-6)
        ends = self.at(np.array([section.begin, section.end]))
        return np.vstack((ends[:1], own[inner], ends[1:]))

    @cached_property
    def corners(self) -> tuple[float, ...]:
        """Where the line turns sharply, in order along it."""
        return _corners(self)

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """In order along the line; of a closed line the last one runs over its first point."""
        marks = self.corners
        if self.closed:
            if not marks:
                return (Section(0.0, self.length, whole=True),)
            after = (*marks[1:], marks[0] + self.length)
            return tuple(Section(one, other) for one, other in zip(marks, after, strict=True))
        stops = (0.0, *marks, self.length)
        return tuple(Section(one, other) for one, other in pairwise(stops))


def _corners(way: Way) -> tuple[float, ...]:
    """The points whose two sides run apart by more than the line bends beside them.

    A corner turns as much however far away it is looked at from; a wobble does not. So both a
    near and a far look must see it.
    """
    arm = min(thresholds.CORNER_ARM_MM, way.length / 16)
    places = way.run[:-1] if way.closed else way.run[1:-1]
    if not way.closed:
        inside = (places > arm) & (places < way.length - arm)
        places = places[inside]
    if not len(places):
        return ()
    sharp = np.minimum(_excess(way, places, arm), _excess(way, places, 1.6 * arm))
    found: list[float] = []
    limit = math.radians(thresholds.CORNER_DEG)
    while len(sharp):
        best = int(sharp.argmax())
        if sharp[best] < limit:
            break
        found.append(float(places[best]))
        away = np.abs(places - places[best])
        if way.closed:
            away = np.minimum(away, way.length - away)
        sharp[away < arm] = 0.0
    return _lasting(way, sorted(found))


def _lasting(way: Way, found: list[float]) -> tuple[float, ...]:
    """Without those of a wobble: looked at from further away the line hardly turns there."""
    while found:
        marks = np.array(found)
        ends = [marks[-1] - way.length, marks[0] + way.length] if way.closed else [0.0, way.length]
        gaps = np.diff([ends[0], *found, ends[1]])
        arms = np.minimum(thresholds.CORNER_FAR_MM, 0.9 * np.minimum(gaps[:-1], gaps[1:]))
        middle = way.at(marks)
        turn = np.abs(turns(middle - way.at(marks - arms), way.at(marks + arms) - middle))
        least = int(turn.argmin())
        if turn[least] >= math.radians(thresholds.CORNER_FAR_DEG):
            break
        del found[least]
    return tuple(found)


def _excess(way: Way, places: NDArray[np.float64], arm: float) -> NDArray[np.float64]:
    middle = way.at(places)
    one, other = way.at(places - arm), way.at(places + arm)
    near_in, near_out = middle - one, other - middle
    far_in = one - way.at(places - 2 * arm)
    far_out = way.at(places + 2 * arm) - other
    turn = turns(near_in, near_out)
    bend = (turns(far_in, near_in) + turns(near_out, far_out)) / 2
    # What bends the other way beside it makes no corner of a wobble.
    same = np.maximum(0.0, bend * np.sign(turn))
    excess: NDArray[np.float64] = np.abs(turn) - same
    return excess


def turns(before: Points, after: Points) -> NDArray[np.float64]:
    """Angles from each direction to the other, counter-clockwise positive, in radians."""
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    angle: NDArray[np.float64] = np.arctan2(cross, (before * after).sum(axis=1))
    return angle
