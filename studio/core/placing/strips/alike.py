"""Which forms of a strip's pieces look alike, so that what is known of two serves others too.

Two pieces drawn alike, a piece turned until it covers itself, and two forms turned together: in
each of these cases one table (`pairs`) answers for all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from shapely import get_coordinates
from shapely.geometry import LinearRing, Polygon

from studio.core.placing.separating.kernels import Floats, Ints

from .pairs import Numbers

FULL = 360_000_000  # a full turn in millionths of a degree, whole numbers that can be divided
ALIKE_DIGITS = 5  # of a millimetre: a thirtieth of the hair that contact is allowed


class Kin(NamedTuple):
    """Which figure a form shows, and how far that is turned (millionths of a degree)."""

    figure: int
    turn: int


class Family:
    """All figures met so far, and after which turn each covers itself."""

    def __init__(self) -> None:
        self.known: dict[bytes, Kin] = {}
        self.repeat: list[int] = []

    def join(self, turns_deg: Sequence[float], outlines: Sequence[Polygon]) -> list[Kin]:
        """The kin of one piece at several turns, each drawn about its own middle."""
        keys = [_key(outline) for outline in outlines]
        corners = min((len(outline.exterior.coords) - 1 for outline in outlines), default=0)
        turns = [round(turn * 1e6) for turn in turns_deg]
        figure, base = len(self.repeat), 0
        for key, turn in zip(keys, turns, strict=True):
            if key in self.known:
                figure, base = self.known[key].figure, self.known[key].turn - turn
                break
        else:
            self.repeat.append(FULL)
        found = []
        for key, turn in zip(keys, turns, strict=True):
            own = Kin(figure, (turn + base) % FULL)
            alike = self.known.setdefault(key, own)
            if alike.figure == figure:
                again = math.gcd(self.repeat[figure], own.turn - alike.turn)
                # no figure covers itself more often than it has corners: less is rounding, as a
                # seventh of a full turn is no whole number
                if again * corners >= FULL:
                    self.repeat[figure] = again
            found.append(own)
        return found

    def look(self, kin: Kin) -> tuple[int, int]:
        """The same for all forms that look alike."""
        return kin.figure, kin.turn % self.repeat[kin.figure]

    def shared_tables(self, kins: Sequence[Kin]) -> tuple[Numbers, Floats, Ints]:
        """For any two forms the number of their table, and what turns their shift into its own.

        And for each table the two forms that it is made for.
        """
        n = len(kins)
        number = np.zeros((n, n), dtype=np.int32)
        twist = np.zeros((n, n, 2))
        own: list[tuple[int, int]] = []
        known: dict[tuple[int, int, int], int] = {}
        for u, a in enumerate(kins):
            for v, b in enumerate(kins):
                again = math.gcd(self.repeat[a.figure], self.repeat[b.figure])
                bend = (b.turn - a.turn) % again
                p = known.get((a.figure, b.figure, bend))
                if p is not None:
                    q = self._turn_into(a, b, kins[own[p][0]], kins[own[p][1]])
                    twist[u, v] = _direction(q)
                else:
                    p = known.get((b.figure, a.figure, -bend % again))
                    if p is not None:  # the other way round: a shift becomes its opposite
                        q = self._turn_into(b, a, kins[own[p][0]], kins[own[p][1]])
                        twist[u, v] = _direction(q + FULL // 2)
                    else:
                        p = known[a.figure, b.figure, bend] = len(own)
                        own.append((u, v))
                        twist[u, v] = _direction(0)
                number[u, v] = p
        return number, twist, np.array(own, dtype=np.int64)

    def _turn_into(self, a: Kin, b: Kin, first: Kin, second: Kin) -> int:
        """The turn that makes a look like `first` and b like `second`."""
        step, again = self.repeat[a.figure], self.repeat[b.figure]
        turns = (first.turn - a.turn + k * step for k in range(FULL // step))
        return next(q for q in turns if (b.turn + q - second.turn) % again == 0)


def _key(outline: Polygon) -> bytes:
    """The same for outlines, with their windows, that are drawn alike."""
    windows = sorted(_ring_key(ring) for ring in outline.interiors)
    return b"|".join([_ring_key(outline.exterior), *windows])


def _ring_key(ring: LinearRing) -> bytes:
    points = get_coordinates(ring)[:-1]
    points = np.round(points, ALIKE_DIGITS) + 0.0  # so that there is no negative nought
    first = int(np.lexsort((points[:, 1], points[:, 0]))[0])
    return np.roll(points, -first, axis=0).tobytes()


def _direction(turn: int) -> tuple[float, float]:
    """Cosine and sine of a turn, exact for quarter turns."""
    quarters, rest = divmod(turn % FULL, FULL // 4)
    if rest == 0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarters]
    return math.cos(math.radians(turn / 1e6)), math.sin(math.radians(turn / 1e6))
