"""Thins ink to its middle line, one dot wide, without breaking or joining anything.

One side is peeled at a time (north, south, west, east); a dot goes only if its neighbours stay
joined without it and it is no end of a line. Peeling one side at a time keeps the connections
(A. Rosenfeld, "A characterization of parallel thinning algorithms", 1975).

By hand, because OpenCV has a thinning only in its second build, which replaces the one we use.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]


def _may_go() -> NDArray[np.bool_]:
    """For each of 256 neighbourhoods, whether its middle dot may be taken away.

    Bits run round from east against the clock: E, NE, N, NW, W, SW, S, SE.
    """
    table = np.zeros(256, dtype=np.bool_)
    for code in range(256):
        ring = [bool(code >> bit & 1) for bit in range(8)]
        # Yokoi's number of 8-connected parts around the dot.
        parts = sum(
            (not ring[k]) - (not ring[k] and not ring[k + 1] and not ring[(k + 2) % 8])
            for k in (0, 2, 4, 6)
        )
        table[code] = parts == 1 and sum(ring) >= 2
    return table


_TABLE = _may_go()


def thin(mask: Grey) -> Grey:
    """The middle lines of `mask` (1 is ink), same shape; ink at the very border is dropped."""
    skeleton = mask.copy()
    skeleton[[0, -1], :] = 0
    skeleton[:, [0, -1]] = 0
    width = skeleton.shape[1]
    flat = skeleton.ravel()
    east, north, west, south = 1, -width, -1, width
    ring = (east, north + east, north, north + west, west, south + west, south, south + east)
    alive = np.flatnonzero(flat)
    while True:
        before = alive.size
        for side in (north, south, west, east):
            rim = alive[flat[alive + side] == 0]
            code = np.zeros(rim.size, dtype=np.uint8)
            for bit, step in enumerate(ring):
                code |= flat[rim + step] << np.uint8(bit)
            flat[rim[_TABLE[code]]] = 0
            alive = alive[flat[alive] == 1]
        if alive.size == before:
            return skeleton
