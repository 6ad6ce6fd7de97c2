"""Areas put together and taken apart, with proof that none was lost on the way.

Plane geometry in floating point (GEOS) may lose a whole piece of a union without a word, or leave
standing what a difference should have taken away, where outlines touch all but exactly: four
pieces that tile a square of 40,000 mm² can unite to 35,866. Money, weights and what goes back to
the rack rest on such areas. So every result here is worked out twice, the second time from corners
rounded to whole millionths of a millimetre: lines that lay a hair of a rounding apart are then
one line or well apart, and what misled the first reckoning is not there. Where both areas agree
the first result stands, to the last digit; where not, the same is done on a grid, then part by
part, and two reckonings must agree.

That A less B and what A has in common with B add up to A proves nothing: a fault takes from one
what it gives to the other.

A general tool that knows nothing of jobs and plans, which is why search and judge may both use it.
Millimetres, mm². Lines have no area: they are not checked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import partial, reduce
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

GRID_MM: Final = 1e-6
_HAIR_MM2: Final = 1e-9
"""What adding up may be wrong by in an area, however short its rim."""

Way = Callable[[], BaseGeometry]
Coordinates = npt.NDArray[np.float64]


class AreaLost(GEOSException):
    """No two reckonings agree, so no area is told."""


def united(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """All of these areas as one; without any, an empty one.

    Raises AreaLost rather than answer with a part of them.
    """
    each = list(shapes)
    areas = shapely.area(each) if each else np.zeros(1)
    slack = _slack(each)
    least, most = float(areas.max()), float(areas.sum())
    plain = _tried(lambda: shapely.union_all(each))
    if plain is not None and abs(plain.area - most) <= slack:
        return plain  # nothing overlaps, and nothing is missing
    return _agreed(
        plain,
        lambda: shapely.union_all(_rounded(each)),
        (
            lambda: _on_grid(shapely.union_all, _sound(each)),
            lambda: reduce(partial(_on_grid, shapely.union), _sound(each)),
        ),
        (least, most, slack),
    )


def joined(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Two areas as one. Raises AreaLost as `united` does."""
    areas = one.area, other.area
    both = [one, other]
    return _agreed(
        _tried(lambda: shapely.union(one, other)),
        lambda: shapely.union(*_rounded(both)),
        (
            lambda: _on_grid(shapely.union, *_sound(both)),
            lambda: _on_grid(shapely.union_all, _sound(both)[::-1]),
        ),
        (max(areas), sum(areas), _slack(both)),
    )


def without(shape: BaseGeometry, gone: BaseGeometry) -> BaseGeometry:
    """What is left of `shape` when `gone` is taken away.

    Raises AreaLost rather than answer with too little or too much.
    """
    both = [shape, gone]
    plain = _tried(lambda: shape.difference(gone))
    if plain is not None and gone.is_empty:
        return plain

    def part_by_part() -> BaseGeometry:
        left, taken = _sound(both)
        return reduce(partial(_on_grid, shapely.difference), shapely.get_parts(taken), left)

    return _agreed(
        plain,
        lambda: shapely.difference(*_rounded(both)),
        (lambda: _on_grid(shapely.difference, *_sound(both)), part_by_part),
        (shape.area - gone.area, shape.area, _slack(both)),
    )


def common(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What two areas have in common. Raises AreaLost as `without` does."""
    both = [one, other]

    def part_by_part() -> BaseGeometry:
        whole, parts = _sound(both)
        found = [_on_grid(shapely.intersection, whole, each) for each in shapely.get_parts(parts)]
        return _on_grid(shapely.union_all, found)

    return _agreed(
        _tried(lambda: one.intersection(other)),
        lambda: shapely.intersection(*_rounded(both)),
        (lambda: _on_grid(shapely.intersection, *_sound(both)), part_by_part),
        (0.0, min(one.area, other.area), _slack(both)),
    )


def _agreed(
    plain: BaseGeometry | None,
    rounded: Way,
    further: Sequence[Way],
    bounds: tuple[float, float, float],
) -> BaseGeometry:
    """The plain result if another reckoning agrees with it, else the first of the further ones
    that agrees with any other.

    `bounds` are the least and largest area that there can be, and how far areas may differ.
    """
    least, most, slack = bounds
    second = _tried(rounded)
    areas = [
        math.nan if plain is None else float(plain.area),
        math.nan if second is None else float(second.area) * GRID_MM * GRID_MM,
    ]
    results = [plain, None]  # the second has other units: its area alone is of use
    for way in (None, *further):
        if way is not None:
            results.append(_tried(way))
            areas.append(math.nan if results[-1] is None else float(results[-1].area))
        for result, area in zip(results, areas, strict=True):
            agreeing = sum(abs(area - other) <= slack for other in areas)  # itself among them
            if result is not None and agreeing > 1 and least - slack <= area <= most + slack:
                return result
    raise AreaLost("the areas of these outlines cannot be told for certain")


def _tried(way: Way) -> BaseGeometry | None:
    """What comes out, or None where the geometry gives up by itself."""
    try:
        return way()
    except GEOSException:
        return None


def _on_grid(operation: Callable[..., BaseGeometry], *shapes: Any) -> BaseGeometry:
    """The same on a grid, slower and sure-footed."""
    return operation(*shapes, grid_size=GRID_MM)


def _sound(shapes: Sequence[BaseGeometry]) -> Sequence[BaseGeometry]:
    """The same, with needles mended on which an outline touches itself."""
    return [one if one.is_valid else shapely.make_valid(one) for one in shapes]


def _rounded(shapes: Sequence[BaseGeometry]) -> npt.NDArray[np.object_]:
    """The same in whole units of the grid."""
    found: npt.NDArray[np.object_] = shapely.transform(
        np.array(shapes, dtype=object), _to_whole_units
    )
    return found


def _to_whole_units(corners: Coordinates) -> Coordinates:
    whole: Coordinates = np.rint(corners / GRID_MM)
    return whole


def _slack(shapes: Sequence[BaseGeometry]) -> float:
    """How far the areas of two reckonings may differ: no line moves further than the grid."""
    around = float(np.sum(shapely.length(shapes))) if len(shapes) else 0.0
    return GRID_MM * around + _HAIR_MM2
