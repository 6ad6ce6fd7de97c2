"""Where does a number or a word stand in a picture, so that it hides nothing that counts? Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

AROUND = 16  # directions in which a place is looked for
FURTHER = 0.5  # of the radius: from one ring of places to the next
RINGS = 40
APART = 0.1  # of the radius, between two marks

Flags = npt.NDArray[np.bool_]

_TURNS = np.arange(AROUND) * (math.tau / AROUND)
_ROUND = np.column_stack([np.cos(_TURNS), np.sin(_TURNS)])
_OFFSETS = np.vstack([np.zeros((1, 2)), *(FURTHER * ring * _ROUND for ring in range(1, RINGS + 1))])
"""Places round a point, nearest first, in radii."""


def clear_places(
    wanted: Sequence[Point],
    radius: float,
    keep_off: BaseGeometry,
    *,
    taken: Sequence[tuple[Point, float]] = (),
) -> list[Point]:
    """The place nearest to each wanted one for a round mark of this radius.

    No mark covers `keep_off` (windows, holes) or another mark; `taken` are marks that stand
    already, with their radii. A mark that finds no place at all stays where it was wanted.
    """
    places: list[Point] = []
    standing = [(at.x, at.y, size) for at, size in taken]
    for at in wanted:
        spots = np.array([at.x, at.y]) + radius * _OFFSETS
        free = np.ones(len(spots), dtype=bool)
        if standing:
            marks = np.array(standing)
            apart = np.hypot(spots[:, 0:1] - marks[None, :, 0], spots[:, 1:2] - marks[None, :, 1])
            free &= (apart >= marks[None, :, 2] + (1.0 + APART) * radius).all(axis=1)
        free = _clear_of(keep_off, spots, radius, free)
        chosen = _first(free)
        x, y = spots[chosen or 0]
        places.append(Point(float(x), float(y)))
        standing.append((float(x), float(y), radius))
    return places


def _clear_of(
    shape: BaseGeometry, spots: npt.NDArray[np.float64], radius: float, among: Flags
) -> Flags:
    """Which of the spots `among` keep the radius from a shape."""
    if shape.is_empty or not among.any():
        return among
    shapely.prepare(shape)
    clear = among.copy()
    clear[among] = ~np.asarray(shapely.dwithin(shape, shapely.points(spots[among]), radius))
    return clear


def _first(free: Flags) -> int | None:
    found = np.flatnonzero(free)
    return int(found[0]) if len(found) else None
