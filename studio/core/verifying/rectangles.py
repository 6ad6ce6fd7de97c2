"""The largest rectangle that lies in a polygon, at turns in steps of five degrees."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.verifying.warming import Loops, warm_loops

STEP_DEG = 5
BANDS = 28  # even lines across the polygon, beside those through its corners
CORNERS = 24
FLAT = 1e-12  # an edge that rises by no more

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Ends = tuple[Array, Array]
Span = tuple[float, float]
Sides = tuple[float, float, float, float]  # left, bottom, right, top


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An inscribed rectangle: sides in millimetres (longer first) and its polygon."""

    longer_mm: float
    shorter_mm: float
    polygon: Polygon

    @property
    def area_mm2(self) -> float:
        return self.longer_mm * self.shorter_mm


def largest_rectangle(polygon: Polygon) -> Rectangle:
    """The largest rectangle in `polygon` (windows respected) over turns 0°, 5° … 85°.

    Exact in the direction along the bands; across them the rectangle is grown to the polygon's
    rim, so that only its middle depends on the bands. Sides in mm; of an empty polygon both are 0.

    >>> ell = Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
    >>> found = largest_rectangle(ell)
    >>> round(found.longer_mm, 6), round(found.shorter_mm, 6), round(found.area_mm2, 6)
    (100.0, 40.0, 4000.0)
    """
    if polygon.is_empty or polygon.area <= 0.0:
        return Rectangle(0.0, 0.0, Polygon())
    origin = polygon.centroid
    best: tuple[float, Sides, int] = (0.0, (0.0, 0.0, 0.0, 0.0), 0)
    full = float(polygon.area)
    loops = warm_loops()
    edges = np.hstack(_edges(polygon))
    for turn in range(0, 90, STEP_DEG):
        if best[0] >= full * (1.0 - 1e-9):
            break
        if turn and _most_within(polygon.bounds, turn) <= best[0]:
            continue
        if turn and loops and not loops.may_beat(edges, math.radians(turn), best[0]):
            continue
        turned = affinity.rotate(polygon, -turn, origin=origin) if turn else polygon
        area, sides = _upright(turned, best[0], loops)
        if area > best[0] * (1.0 + 1e-9):
            best = (area, sides, turn)
    area, (x0, y0, x1, y1), turn = best
    upright = box(x0, y0, x1, y1)
    shorter, longer = sorted((x1 - x0, y1 - y0))
    return Rectangle(longer, shorter, affinity.rotate(upright, turn, origin=origin))


def _most_within(bounds: Sides, turn_deg: float) -> float:
    """The largest area that a rectangle at a turn can have within an upright box.

    With sides a and b the box asks for a·cos + b·sin ≤ its width and a·sin + b·cos ≤ its height;
    either both are met exactly, or only that of the shorter side, at a·sin = b·cos.
    """
    x0, y0, x1, y1 = bounds
    shorter, longer = sorted((x1 - x0, y1 - y0))
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    if shorter <= 2.0 * s * c * longer or abs(c - s) < 1e-9:
        return shorter * shorter / (4.0 * s * c)
    across = c * c - s * s
    return (longer * c - shorter * s) * (shorter * c - longer * s) / (across * across)


def _upright(polygon: Polygon, beat: float, loops: Loops | None) -> tuple[float, Sides]:
    """The largest upright rectangle, where it may be larger than `beat`; else area 0."""
    rims = _rims(polygon)
    lines = _lines(polygon)
    if loops is not None:
        return loops.upright(rims[0].table, rims[1].table, np.array(lines), beat)
    return upright(rims, lines, beat)


def upright(rims: tuple[Rim, Rim], lines: list[float], beat: float) -> tuple[float, Sides]:
    """What the compiled `upright` gives, for processes that have not compiled it."""
    free = _free_intervals(rims[0], lines)
    best, found = beat, (0.0, 0.0, 0.0, 0.0)
    for first in range(len(lines) - 1):
        spans = free[first]
        bottom = lines[first]
        for last in range(first, len(lines) - 1):
            if last > first:
                spans = _both(spans, free[last])
            if not spans:
                break
            widest = max(high - low for low, high in spans)
            if widest * (lines[-1] - bottom) <= best:
                break
            height = lines[last + 1] - bottom
            if widest * height > best * 0.8:
                low, high = max(spans, key=lambda span: span[1] - span[0])
                if _found_elsewhere(free, first, last, (low, high)):
                    continue
                if _most_grown(free, lines, first, last, (low, high)) <= best:
                    continue
                grown = _grow(rims, (low, bottom, high, lines[last + 1]))
                area = (grown[2] - grown[0]) * (grown[3] - grown[1])
                if area > best:
                    best, found = area, grown
    return (best, found) if best > beat else (0.0, found)


def _most_grown(
    free: list[list[Span]], lines: list[float], first: int, last: int, span: Span
) -> float:
    """No less than the area to which bands from first to last can grow across, over a span.

    They reach into the next band at most, on either side, where it does not leave the span free.
    """
    while first > 0 and _leaves(free[first - 1], span, 1e-6):
        first -= 1
    while last < len(free) - 1 and _leaves(free[last + 1], span, 1e-6):
        last += 1
    height = lines[min(last + 2, len(lines) - 1)] - lines[max(first - 1, 0)]
    return height * (span[1] - span[0] + 1e-6)


def _found_elsewhere(free: list[list[Span]], first: int, last: int, span: Span) -> bool:
    """Whether one band more leaves the same span free, and so grows to the same rectangle."""
    if first > 0 and _leaves(free[first - 1], span):
        return True
    return last < len(free) - 1 and _leaves(free[last + 1], span)


def _leaves(free: list[Span], span: Span, near: float = 0.0) -> bool:
    begin, end = span[0] + near, span[1] - near
    return any(low <= begin and high >= end for low, high in free)


class Rim(NamedTuple):
    """A polygon's edges along one axis, ready to be cut by bands across it.

    A row of the table for each fact, a column for each edge: across the axis its lower, upper and
    first end; along it the first end, the slope, the least and the most.
    """

    table: Array

    def met(self, bottom: Array | float, top: Array | float) -> Ints:
        """(1, edges met) by a band, or (2, edges met): which of a column of bands, and edges."""
        down, up, *_ = self.table
        return np.array(np.nonzero((down < top - 1e-9) & (up > bottom + 1e-9)))

    def within(self, edges: Ints, bottom: Array | float, top: Array | float) -> Ends:
        """From where to where `edges` reach along the axis between `bottom` and `top`."""
        down, up, first, along, slope, least, most = self.table[:, edges]
        at_low = along + (np.maximum(bottom, down) - first) * slope
        at_high = along + (np.minimum(top, up) - first) * slope
        left, right = _ordered(at_low, at_high)
        flat = up - down <= FLAT
        if flat.any():
            left, right = np.where(flat, least, left), np.where(flat, most, right)
        return left, right

    def at(self, edges: Ints, height: Array) -> Array:
        """Where `edges` are along the axis at a height across it."""
        _, _, first, along, slope, _, _ = self.table[:, edges]
        found: Array = along + (height - first) * slope
        return found


def _edges(polygon: Polygon) -> Ends:
    """Where its edges begin and end, a row for each."""
    rings = [shapely.get_coordinates(r) for r in (polygon.exterior, *polygon.interiors)]
    return np.vstack([ring[:-1] for ring in rings]), np.vstack([ring[1:] for ring in rings])


def _rims(polygon: Polygon) -> tuple[Rim, Rim]:
    """Its edges along x and along y."""
    begins, ends = _edges(polygon)
    return _rim(*begins.T, *ends.T), _rim(*begins.T[::-1], *ends.T[::-1])


def _rim(x0: Array, y0: Array, x1: Array, y1: Array) -> Rim:
    rise = y1 - y0
    flat = np.abs(rise) <= FLAT
    slope = np.where(flat, 0.0, (x1 - x0) / np.where(flat, 1.0, rise))
    down, up, least, most = *_ordered(y0, y1), *_ordered(x0, x1)
    return Rim(np.array([down, up, y0, x0, slope, least, most]))


def _ordered(one: Array, other: Array) -> Ends:
    return np.minimum(one, other), np.maximum(one, other)


def _lines(polygon: Polygon) -> list[float]:
    """Heights at which to cut the polygon into bands: through its corners, and evenly."""
    corners = shapely.get_coordinates(polygon.simplify(0.5))[:, 1]
    exact = np.unique(np.round(corners, 6))
    if len(exact) > CORNERS:
        exact = exact[np.linspace(0, len(exact) - 1, CORNERS).astype(int)]
    _, y0, _, y1 = polygon.bounds
    lines = np.unique(np.concatenate([exact, np.linspace(y0, y1, BANDS + 1)]))
    keep = [float(lines[0])]
    keep.extend(float(line) for line in lines[1:] if line - keep[-1] > 1e-6)
    return keep


def _free_intervals(rim: Rim, lines: list[float]) -> list[list[Span]]:
    """For every band the intervals of x in which the whole band lies inside the polygon."""
    bottoms, tops = np.array(lines[:-1]), np.array(lines[1:])
    band, edge = rim.met(bottoms[:, None], tops[:, None])
    left, right = rim.within(edge, bottoms[band], tops[band])
    blocks = _by_band(band, len(bottoms), left, right)
    # crossings of the band's middle line say on which side of an obstacle metal lies
    middle = ((bottoms + tops) / 2.0)[band]
    down, up = rim.table[:2, edge]
    across = (down <= middle) & (up > middle)
    marks = rim.at(edge[across], middle[across])
    crossings = _by_band(band[across], len(bottoms), marks)
    return [
        [
            span
            for (low,), (high,) in zip(marked[0::2], marked[1::2], strict=False)
            for span in _between(low, high, blocked)
        ]
        for marked, blocked in zip(crossings, blocks, strict=True)
    ]


def _by_band(band: Ints, bands: int, *values: Array) -> list[list[tuple[float, ...]]]:
    """Values of each band together, in the order of the first."""
    order = np.lexsort((values[0], band))
    listed = list(zip(*(each[order].tolist() for each in values), strict=True))
    at = np.searchsorted(band[order], np.arange(bands + 1)).tolist()
    return [listed[begin:end] for begin, end in pairwise(at)]


def _between(low: float, high: float, blocks: list[tuple[float, ...]]) -> list[Span]:
    spans = []
    at = low
    for left, right in blocks:
        if right <= at:
            continue
        if left >= high:
            break
        if left > at + 1e-9:
            spans.append((at, left))
        at = max(at, right)
    if high > at + 1e-9:
        spans.append((at, high))
    return spans


def _both(one: list[Span], other: list[Span]) -> list[Span]:
    spans = []
    i = j = 0
    while i < len(one) and j < len(other):
        low, high = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if high - low > 1e-9:
            spans.append((low, high))
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1
    return spans


def _grow(rims: tuple[Rim, Rim], sides: Sides) -> Sides:
    """The rectangle pushed out below, above, left and right until it meets the rim."""
    x0, y0, x1, y1 = sides
    along_x, along_y = rims
    y0, y1 = _reach(along_y, y0, y1, x0, x1)
    x0, x1 = _reach(along_x, x0, x1, y0, y1)
    return x0, y0, x1, y1


def _reach(rim: Rim, low: float, high: float, bottom: float, top: float) -> Span:
    """How far [low, high] can be widened along the rim's axis within the band [bottom, top]."""
    (edge,) = rim.met(bottom, top)
    left, right = rim.within(edge, bottom, top)
    middle = (low + high) / 2.0
    below = right[right <= middle]
    above = left[left >= middle]
    new_low = float(below.max()) if len(below) else low
    new_high = float(above.min()) if len(above) else high
    return min(low, new_low), max(high, new_high)
