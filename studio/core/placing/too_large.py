"""Is a piece larger than any metal? Said only where it is proved for every turn it may lie at.

What lies within a region has no larger area, hull, width, diameter, inscribed or circumscribed
circle than that; and at one turn all shifts that keep it inside can be listed exactly. Where
none of this decides, nothing is claimed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from studio.core.cutting.job import Job, Stock, Wanted, allowed_turns

from .laying.reach import shifts_within
from .rooms import room_of

TOLERANCE_MM = 0.06  # far more than the judge forgives
MOST_TURNS = 60  # of those listed that are looked at one by one
MOST_QUADS = 4_000  # edges of the metal by edges of the piece, at one turn
FINEST = 1e-5  # radians between turns that are told apart

Array = npt.NDArray[np.float64]


class TooLarge:
    """What is proved of the pieces of one job; each is looked at once."""

    def __init__(self, job: Job) -> None:
        self.job = replace(job, fixed=())  # what stands in the way makes no metal smaller
        self.known: dict[str, bool] = {}
        self.sizes: dict[str, tuple[float, ...]] = {}
        self.parts: dict[str, list[tuple[Polygon, tuple[float, ...]]]] = {}

    def proved(self, wanted: Wanted) -> bool:
        """Whether a piece fits on none of the metals, even alone, at whatever turn it may lie."""
        if wanted.id not in self.known:
            self.known[wanted.id] = all(self._on(metal, wanted) for metal in self.job.metal)
        return self.known[wanted.id]

    def has_fitted(self, wanted: Wanted) -> None:
        """A place was found for a piece: there is nothing to prove."""
        self.known[wanted.id] = False

    def all_together(self) -> bool:
        """Whether all pieces that may fit alone need more than the metal's whole area."""
        metal = sum(part.area for metal in self.job.metal for part, _ in self._parts(metal))
        need = {w: w.outline.area * w.count for w in self.job.pieces}
        if sum(need.values()) <= metal:
            return False
        return sum(area for w, area in need.items() if w.count and not self.proved(w)) > metal

    def may_lie(self, wanted: Wanted) -> bool:
        """Whether there is a metal on which any turn is allowed at all."""
        return any(self._turns(metal, wanted) != [] for metal in self.job.metal)

    def _turns(self, metal: Stock, wanted: Wanted) -> list[tuple[bool, float]] | None:
        """Mirroring and turns allowed on a metal; None for any."""
        found: list[tuple[bool, float]] = []
        for mirror in (False, True) if wanted.may_mirror else (False,):
            only = allowed_turns(wanted, metal, mirror=mirror)
            if only is None:
                return None
            found.extend((mirror, turn) for turn in only)
        return found

    def _on(self, metal: Stock, wanted: Wanted) -> bool:
        turns = self._turns(metal, wanted)
        own = self._own_sizes(wanted)
        return all(
            any(one > most for one, most in zip(own, sizes, strict=True))
            or _beyond(part, wanted.outline, turns)
            for part, sizes in self._parts(metal)
        )

    def _own_sizes(self, wanted: Wanted) -> tuple[float, ...]:
        if wanted.id not in self.sizes:
            self.sizes[wanted.id] = _sizes(wanted.outline)
        return self.sizes[wanted.id]

    def _parts(self, metal: Stock) -> list[tuple[Polygon, tuple[float, ...]]]:
        """The connected parts of what may be used of a metal and a little more, with their
        sizes."""
        if metal.id not in self.parts:
            room = room_of(self.job, metal).hard.buffer(TOLERANCE_MM, quad_segs=2)
            parts = shapely.get_parts(room)
            self.parts[metal.id] = [
                (p, _sizes(p)) for p in parts if isinstance(p, Polygon) and not p.is_empty
            ]
        return self.parts[metal.id]


def _beyond(part: Polygon, outline: Polygon, turns: list[tuple[bool, float]] | None) -> bool:
    """Whether it is proved that an outline does not lie in a region at any of the turns."""
    if turns is None:
        return _in_no_box(outline, part)
    if len(turns) > MOST_TURNS:
        return False
    return all(_not_at(part, outline, mirror, turn) for mirror, turn in turns)


def _sizes(outline: Polygon) -> tuple[float, ...]:
    """Measures of which none is larger in a part of a region than in the whole of it."""
    hull = outline.convex_hull
    across = _breadths(shapely.get_coordinates(hull), _headings(hull))
    return (
        outline.area,
        hull.area,
        hull.length,
        float(across.min()),  # a hull is narrowest across one of its edges
        shapely.minimum_bounding_radius(outline),
        # found to a hundredth of a millimetre, which the tolerance outweighs
        shapely.maximum_inscribed_circle(outline, 0.01).length,
    )


def _headings(hull: shapely.Geometry) -> Array:
    """The directions across a hull's edges, in radians."""
    steps = np.diff(shapely.get_coordinates(hull), axis=0)
    found: Array = np.arctan2(steps[:, 0], -steps[:, 1])
    return found


def _breadths(points: Array, headings: Array) -> Array:
    """How far points reach along each of the directions."""
    along = points @ np.vstack([np.cos(headings), np.sin(headings)])
    found: Array = np.ptp(along, axis=0)
    return found


def _in_no_box(outline: Polygon, part: Polygon) -> bool:
    """Whether an outline, turned anyhow, is wider or higher than the boxes about a region."""
    points = shapely.get_coordinates(outline.convex_hull)
    reach = 2.0 * shapely.minimum_bounding_radius(outline)
    for box in (part.envelope, part.minimum_rotated_rectangle):
        corners = shapely.get_coordinates(box)
        wide, high = (float(np.hypot(*(corners[k + 1] - corners[k]))) for k in (0, 1))
        if _never_within(points, reach, wide, high):
            return True
    return False


def _never_within(points: Array, reach: float, wide: float, high: float) -> bool:
    """Whether at no turn the points lie in a box.

    Turned by an angle, nothing grows or shrinks by more than the angle times `reach`: a turn
    that is out by more than that rules out all turns about it, and the others are divided.
    """
    count = 180
    step = math.pi / count  # a box looks the same turned by half a turn
    turns = np.linspace(0.5 * step, math.pi - 0.5 * step, count)
    while len(turns) and step > FINEST:
        over = np.maximum(
            _breadths(points, turns) - wide, _breadths(points, turns + math.pi / 2.0) - high
        )
        if (over <= 0.0).any():
            return False
        turns = turns[over <= 0.5 * step * reach]
        turns = np.concatenate([turns - 0.25 * step, turns + 0.25 * step])
        step *= 0.5
    return not len(turns)


def _not_at(part: Polygon, outline: Polygon, mirror: bool, turn: float) -> bool:
    """Whether an outline lies in a region at no shift, at one turn."""
    if mirror:
        outline = affinity.scale(outline, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
    laid = affinity.rotate(outline, turn, origin=(0.0, 0.0))
    x0, y0, x1, y1 = laid.bounds
    px0, py0, px1, py1 = part.bounds
    if x1 - x0 > px1 - px0 or y1 - y0 > py1 - py0:
        return True
    edges = shapely.get_num_coordinates(part) * shapely.get_num_coordinates(laid.exterior)
    return bool(edges <= MOST_QUADS and shapely.is_empty(shifts_within(part, laid)))
