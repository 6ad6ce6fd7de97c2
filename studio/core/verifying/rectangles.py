"""The largest rectangle that lies in a polygon, at turns in steps of five degrees."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

STEP_DEG = 5
BANDS = 28  # even lines across the polygon, beside those through its corners
CORNERS = 24

Array = npt.NDArray[np.float64]


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
    rim, so that only its middle depends on the bands.
    """
    if polygon.is_empty or polygon.area <= 0.0:
        return Rectangle(0.0, 0.0, Polygon())
    origin = polygon.centroid
    best: tuple[float, tuple[float, float, float, float], int] = (0.0, (0.0, 0.0, 0.0, 0.0), 0)
    full = float(polygon.area)
    for turn in range(0, 90, STEP_DEG):
        if best[0] >= full * (1.0 - 1e-9):
            break
        if turn and _most_within(polygon.bounds, turn) <= best[0]:
            continue
        turned = affinity.rotate(polygon, -turn, origin=origin) if turn else polygon
        area, sides = _upright(turned, best[0])
        if area > best[0] * (1.0 + 1e-9):
            best = (area, sides, turn)
    area, (x0, y0, x1, y1), turn = best
    upright = box(x0, y0, x1, y1)
    shorter, longer = sorted((x1 - x0, y1 - y0))
    return Rectangle(longer, shorter, affinity.rotate(upright, turn, origin=origin))


def _most_within(bounds: tuple[float, float, float, float], turn_deg: float) -> float:
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


def _upright(polygon: Polygon, beat: float) -> tuple[float, tuple[float, float, float, float]]:
    """The largest upright rectangle, where it may be larger than `beat`; else area 0."""
    edges = _edges(polygon)
    lines = _lines(polygon)
    free = _free_intervals(edges, lines)
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
                grown = _grow(edges, (low, bottom, high, lines[last + 1]))
                area = (grown[2] - grown[0]) * (grown[3] - grown[1])
                if area > best:
                    best, found = area, grown
    return (best, found) if best > beat else (0.0, found)


def _edges(polygon: Polygon) -> Array:
    rings = [polygon.exterior, *polygon.interiors]
    found = []
    for ring in rings:
        coords = shapely.get_coordinates(ring)
        found.append(np.hstack([coords[:-1], coords[1:]]))
    return np.vstack(found)


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


def _free_intervals(edges: Array, lines: list[float]) -> list[list[tuple[float, float]]]:
    """For every band the intervals of x in which the whole band lies inside the polygon."""
    x0, y0, x1, y1 = edges.T
    result = []
    for bottom, top in pairwise(lines):
        hit = (np.minimum(y0, y1) < top - 1e-9) & (np.maximum(y0, y1) > bottom + 1e-9)
        ax, ay, bx, by = x0[hit], y0[hit], x1[hit], y1[hit]
        rise = by - ay
        slope = np.where(np.abs(rise) > 1e-12, (bx - ax) / np.where(rise == 0.0, 1.0, rise), 0.0)
        at_low = ax + (np.clip(bottom, np.minimum(ay, by), np.maximum(ay, by)) - ay) * slope
        at_high = ax + (np.clip(top, np.minimum(ay, by), np.maximum(ay, by)) - ay) * slope
        flat = np.abs(rise) <= 1e-12
        left = np.where(flat, np.minimum(ax, bx), np.minimum(at_low, at_high))
        right = np.where(flat, np.maximum(ax, bx), np.maximum(at_low, at_high))
        # crossings of the band's middle line say on which side of an obstacle metal lies
        middle = (bottom + top) / 2.0
        across = (np.minimum(ay, by) <= middle) & (np.maximum(ay, by) > middle)
        marks = np.sort((ax + (middle - ay) * slope)[across])
        pairs = [(float(a), float(b)) for a, b in zip(marks[0::2], marks[1::2], strict=False)]
        spans = []
        order = np.argsort(left)
        blocks = list(zip(left[order].tolist(), right[order].tolist(), strict=True))
        for low, high in pairs:
            spans.extend(_between(low, high, blocks))
        result.append(spans)
    return result


def _between(
    low: float, high: float, blocks: list[tuple[float, float]]
) -> list[tuple[float, float]]:
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


def _both(
    one: list[tuple[float, float]], other: list[tuple[float, float]]
) -> list[tuple[float, float]]:
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


def _grow(
    edges: Array, sides: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    """The rectangle pushed out below, above, left and right until it meets the rim."""
    x0, y0, x1, y1 = sides
    swapped = edges[:, [1, 0, 3, 2]]
    y0, y1 = _reach(swapped, y0, y1, x0, x1)
    x0, x1 = _reach(edges, x0, x1, y0, y1)
    return x0, y0, x1, y1


def _reach(edges: Array, low: float, high: float, bottom: float, top: float) -> tuple[float, float]:
    """How far [low, high] can be widened along the first axis within the band [bottom, top]."""
    a, b = edges[:, 1], edges[:, 3]
    hit = (np.minimum(a, b) < top - 1e-9) & (np.maximum(a, b) > bottom + 1e-9)
    x0, y0, x1, y1 = edges[hit].T
    rise = y1 - y0
    safe = np.where(np.abs(rise) > 1e-12, rise, 1.0)
    slope = np.where(np.abs(rise) > 1e-12, (x1 - x0) / safe, 0.0)
    down, up = np.minimum(y0, y1), np.maximum(y0, y1)
    at_low = x0 + (np.clip(bottom, down, up) - y0) * slope
    at_high = x0 + (np.clip(top, down, up) - y0) * slope
    flat = np.abs(rise) <= 1e-12
    left = np.where(flat, np.minimum(x0, x1), np.minimum(at_low, at_high))
    right = np.where(flat, np.maximum(x0, x1), np.maximum(at_low, at_high))
    middle = (low + high) / 2.0
    below = right[right <= middle]
    above = left[left >= middle]
    new_low = float(below.max()) if len(below) else low
    new_high = float(above.min()) if len(above) else high
    return min(low, new_low), max(high, new_high)
