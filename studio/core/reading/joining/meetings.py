"""Where straight stretches of lines meet, counted before anything costly is tried.

Polygon operations on a scribble can take hours: twenty thousand strokes may cross a hundred
million times. So all meetings are counted first, by boxes, in small portions.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.core.reading.bounds import MAX_CROSSINGS

_CHUNK = 60

Ints = NDArray[np.int64]


class TooTangled(Exception):
    """The lines meet more than `MAX_CROSSINGS` times."""


def meetings(lines: Sequence[NDArray[np.float64]], closed: Sequence[bool]) -> Ints:
    """Pairs of line numbers, shape (m, 2), one for each two stretches that meet.

    Stretches that follow one another in a line do not count. Raises `TooTangled`.
    """
    if not lines:
        return np.empty((0, 2), dtype=np.int64)
    starts, ends, owner, place, size = [], [], [], [], []
    for number, points in enumerate(lines):
        after = np.roll(points, -1, axis=0) if closed[number] else points[1:]
        before = points if closed[number] else points[:-1]
        starts.append(before)
        ends.append(after)
        owner.append(np.full(len(before), number))
        place.append(np.arange(len(before)))
        size.append(np.full(len(before), len(before) if closed[number] else 0))
    owners, places, sizes = np.concatenate(owner), np.concatenate(place), np.concatenate(size)
    sides: Any = shapely.linestrings(
        np.stack((np.concatenate(starts), np.concatenate(ends)), axis=1)
    )
    tree = shapely.STRtree(sides)
    found: list[Ints] = []
    count = 0
    for first in range(0, len(sides), _CHUNK):
        one, other = tree.query(sides[first : first + _CHUNK], "intersects")
        one = one + first
        step = other - one
        same = owners[one] == owners[other]
        follows = same & ((step == 1) | (step == sizes[one] - 1) & (places[one] == 0))
        keep = (step > 0) & ~follows
        count += int(keep.sum())
        if count > MAX_CROSSINGS:
            raise TooTangled
        found.append(np.stack((owners[one[keep]], owners[other[keep]]), axis=1))
    return np.concatenate(found)
