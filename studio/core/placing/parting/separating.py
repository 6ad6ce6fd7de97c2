"""Straight cuts between groups that lie already, each through one part from edge to edge."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from .metal import main_turn
from .parts import Parts

MOST_TRIES = 3_000  # cuts tried for one stock piece, before it is taken to be impossible
MOST_HEADINGS = 24
NONE_MM = 1e-6

Name = str | None


class GivenUp(Exception):
    """Too much was tried."""


class Separator:
    """Cuts one stock piece so that each part has pieces of one group at most."""

    def __init__(self, parts: Parts, lying: Mapping[Name, BaseGeometry], margin: float) -> None:
        """`lying` has all that lies there, by group; cuts keep `margin` from it."""
        self.parts = parts
        self.lying = dict(lying)
        self.keep = margin + 0.5 * parts.kerf
        self.tries = 0
        self.stuck: tuple[Name, ...] = ()

    def separated(self) -> Parts | None:
        """The stock piece with its cuts, or None; `stuck` then names a group that is in the way
        of another."""
        try:
            return self._apart(self.parts.copy(), 0, tuple(self.lying))
        except GivenUp:
            return None

    def _apart(self, parts: Parts, number: int, names: tuple[Name, ...]) -> Parts | None:
        if len(names) < 2:
            return parts
        for low, high, through, along in self._gaps(parts, number, names):
            self.tries += 1
            if self.tries > MOST_TRIES:
                raise GivenUp
            cut = parts.copy()
            made = cut.cut(number, through, along)
            if made is None:
                continue
            left, right = made
            sides = (low, high) if self._lies_on(low[0], left.region) else (high, low)
            after = self._apart(cut, left.number, sides[0])
            after = None if after is None else self._apart(after, right.number, sides[1])
            if after is not None:
                return after
        self.stuck = self.stuck if self.stuck and len(self.stuck) <= len(names) else names
        return None

    def _lies_on(self, name: Name, region: BaseGeometry) -> bool:
        return bool(region.intersects(self.lying[name].representative_point()))

    def _gaps(
        self, parts: Parts, number: int, names: tuple[Name, ...]
    ) -> Iterator[
        tuple[tuple[Name, ...], tuple[Name, ...], tuple[float, float], tuple[float, float]]
    ]:
        """Lines that pass between groups: who lies below, who above, a point and a direction."""
        for heading in self._headings(parts, number, names):
            c, s = math.cos(heading), math.sin(heading)
            spans = []
            for name in names:
                points = shapely.get_coordinates(self.lying[name])
                across = -points[:, 0] * s + points[:, 1] * c
                spans.append((float(across.min()), float(across.max()), name))
            spans.sort(key=lambda span: span[:2])
            top = spans[0][1]
            for k in range(1, len(spans)):
                room = spans[k][0] - top
                if room >= 2.0 * self.keep - NONE_MM:
                    low = tuple(span[2] for span in spans[:k])
                    high = tuple(span[2] for span in spans[k:])
                    for at in dict.fromkeys(
                        (top + 0.5 * room, top + self.keep, spans[k][0] - self.keep)
                    ):
                        yield low, high, (-s * at, c * at), (c, s)
                top = max(top, spans[k][1])

    def _headings(self, parts: Parts, number: int, names: tuple[Name, ...]) -> list[float]:
        """Directions of cuts: the metal's own first, then those of what lies there."""
        main = math.radians(main_turn(parts.leaves[number].region))
        found = [main, main + 0.5 * math.pi, 0.0, 0.5 * math.pi]
        for name in names:
            corners = shapely.get_coordinates(self.lying[name].convex_hull)
            steps = np.diff(corners, axis=0)
            length = np.hypot(steps[:, 0], steps[:, 1])
            for k in np.argsort(-length, kind="stable")[:3].tolist():
                found.append(math.atan2(steps[k, 1], steps[k, 0]))
        kept: list[float] = []
        for heading in found:
            turn = heading % math.pi
            near = (abs(turn - k) for k in kept)
            if all(min(away, math.pi - away) > 1e-4 for away in near):
                kept.append(turn)
        return kept[:MOST_HEADINGS]
