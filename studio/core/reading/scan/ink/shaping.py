"""From measured points to a line with few corners: true corners kept sharp, curves smooth.

A corner is where the direction turns much more than the curvature on both sides explains. Ink
rounds it off, so the points next to it are dropped and both sides are carried on until they
meet. Between corners the line is smoothed by local parabolas, then simplified.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]

_SPACING = 1.0
_CORNER_DEG = 30.0
_TURNED = 0.5  # of half the pen's width: least depth of ink where the pen has turned


@dataclass(frozen=True, slots=True)
class _Pen:
    """Half the pen's width in dots, dots for a millimetre, and where its ink lies."""

    half: float
    px_per_mm: float
    deep: NDArray[np.float32] | None

    def went_through(self, tip: Points) -> bool:
        """Where two sides meet the pen has turned, so there is ink all around."""
        if self.deep is None:
            return True
        column, row = (round(float(value)) for value in tip)
        high, wide = self.deep.shape
        inside = 0 <= row < high and 0 <= column < wide
        return inside and bool(self.deep[row, column] >= _TURNED * self.half)


def shaped(
    points: Points,
    sure: NDArray[np.bool_],
    closed: bool,
    *,
    half: float,
    px_per_mm: float,
    simple: float,
    deep: NDArray[np.float32] | None = None,
) -> Points:
    """All lengths in dots; `points` measured where `sure`. A closed line repeats no point.

    `deep` says how far each dot of the picture lies inside the ink, for lines that a pen drew.
    """
    pen = _Pen(half, px_per_mm, deep)
    if sure.sum() < (8 if closed else 2):
        return points[:: max(1, len(points) // 50)]
    even = resampled(_carried(points, sure, closed, pen), closed, _SPACING)
    if len(even) < (12 if closed else 4):
        return even
    corners = _corners(even, closed, half, px_per_mm)
    found = _simplified(_sections(even, closed, corners, pen), closed, simple)
    if not closed or shapely.is_simple(shapely.linearrings(found)):
        return found
    # Two corners so near each other that their sides cross: rounded ones do not.
    found = _simplified(_sections(even, closed, [], pen), closed, simple)
    if shapely.is_simple(shapely.linearrings(found)):
        return found
    parts = shapely.get_parts(shapely.buffer(shapely.polygons(even), 0.0))
    largest = max(parts, key=lambda part: float(part.area), default=None)
    return found if largest is None else shapely.get_coordinates(largest.exterior)[:-1]


def _carried(points: Points, sure: NDArray[np.bool_], closed: bool, pen: _Pen) -> Points:
    """The measured points, with a tip where the line turns within an unmeasured gap."""
    half, px_per_mm = pen.half, pen.px_per_mm
    known = np.flatnonzero(sure)
    measured = points[known]
    count = len(measured)
    if count < 16:
        return measured
    steps = np.diff(known, append=known[0] + len(points) if closed else known[-1])
    tips: list[tuple[int, Points]] = []
    reach = max(6, round(0.6 * px_per_mm))
    for place in np.flatnonzero(steps > 3).tolist():
        arms = np.concatenate(
            (
                steps[np.arange(place - reach + 1, place) % count],
                steps[np.arange(place + 1, place + reach) % count],
            )
        )
        if (arms > 3).any():
            continue  # too little is known to carry on from
        before = measured[np.arange(place - reach + 1, place + 1) % count]
        after = measured[np.arange(place + 1, place + reach + 1) % count]
        _, u = _heading(before[::-1], px_per_mm)
        _, v = _heading(after, px_per_mm)
        if u @ v > -0.9:
            middle = (before[-1] + after[0]) / 2
            wide = float(np.hypot(*(before[-1] - after[0])))
            tip = _meeting(before, after, middle, min(wide, 3.0 * half + 3.0), pen)
            tips.append((place + 1, tip))
    if not tips:
        return measured
    return np.insert(measured, [place for place, _ in tips], [tip for _, tip in tips], axis=0)


def resampled(points: Points, closed: bool, spacing: float) -> Points:
    """Points at even distances along the line; the first stays."""
    line = np.vstack((points, points[:1])) if closed else points
    steps = np.hypot(*np.diff(line, axis=0).T)
    keep = np.concatenate(([True], steps > 1e-9))
    line, steps = line[keep], steps[keep[1:]]
    run = np.concatenate(([0.0], np.cumsum(steps)))
    count = max(2, round(run[-1] / spacing))
    places = np.linspace(0.0, run[-1], count + 1)
    if closed:
        places = places[:-1]
    return np.stack([np.interp(places, run, line[:, axis]) for axis in (0, 1)], axis=1)


def _direction(points: Points) -> Points:
    unit: Points = points / np.maximum(np.hypot(*points.T), 1e-9)[:, None]
    return unit


def _turn(before: Points, after: Points) -> NDArray[np.float64]:
    turn: NDArray[np.float64] = np.arctan2(
        before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)
    )
    return turn


Corner = tuple[int, float]  # index, and by how much the line turns there (radians)


def _corners(points: Points, closed: bool, half: float, px_per_mm: float) -> list[Corner]:
    """The corners in order along the line."""
    gap = max(2, round(0.8 * half + 0.5))
    arm = max(4, round(0.35 * px_per_mm))
    count = len(points)
    reach = gap + 2 * arm
    if count < 2 * reach + 3:
        arm = max(2, (count - 3) // 4 - gap // 2)
        reach = gap + 2 * arm
        if arm < 3 or count < 2 * reach + 1:
            return []
    here = np.arange(count) if closed else np.arange(reach, count - reach)
    if not len(here):
        return []

    def at(step: int) -> Points:
        found: Points = points[(here + step) % count] if closed else points[here + step]
        return found

    far_in = _direction(at(-gap - arm) - at(-gap - 2 * arm))
    near_in = _direction(at(-gap) - at(-gap - arm))
    near_out = _direction(at(gap + arm) - at(gap))
    far_out = _direction(at(gap + 2 * arm) - at(gap + arm))
    turn = _turn(near_in, near_out)
    bend = (_turn(far_in, near_in) + _turn(near_out, far_out)) / (2 * arm)
    excess = np.abs(turn - bend * (2 * gap + arm))
    # Where both sides bend opposite ways or turn and bend disagree, trust the smaller claim.
    excess = np.minimum(excess, np.abs(turn))
    found: list[Corner] = []
    apart = gap + arm
    score = excess.copy()
    limit = math.radians(_CORNER_DEG)
    while True:
        best = int(score.argmax())
        if score[best] < limit:
            return sorted(found)
        # A plateau of equal turns lies evenly on both sides of the corner.
        place = int(here[best])
        found.append((place, abs(float(turn[best]))))
        away = np.abs(here - place)
        if closed:
            away = np.minimum(away, count - away)
        score[away <= apart] = 0.0


def _sections(points: Points, closed: bool, corners: list[Corner], pen: _Pen) -> list[Points]:
    """Smoothed stretches between corners; neighbours share the corner point."""
    half, px_per_mm = pen.half, pen.px_per_mm
    window = max(2, round(0.45 * px_per_mm))
    if not corners:
        return [_smoothed(points, closed, window)]
    count = len(points)
    # Ink fills the inside of a sharp corner further than that of a blunt one.
    cuts = [
        round(max(0.8 * half + 0.5, half / max(0.2, math.tan((math.pi - turn) / 2)) + 1.0))
        for _, turn in corners
    ]
    places = [place for place, _ in corners]
    if closed:
        spans = [
            (one, other if other > one else other + count)
            for one, other in zip(places, places[1:] + places[:1], strict=True)
        ]
        trims = list(zip(cuts, cuts[1:] + cuts[:1], strict=True))
    else:
        marks = [0, *places, count - 1]
        spans = list(pairwise(marks))
        trims = list(zip([0, *cuts], [*cuts, 0], strict=True))
    parts: list[Points] = []
    for (begin, end), (lead, tail) in zip(spans, trims, strict=True):
        first, last = begin + lead, end - tail
        if last - first < 3:
            first, last = begin + (end - begin) // 3, end - (end - begin) // 3
        part = points[np.arange(first, last + 1) % count]
        parts.append(_smoothed(part, False, window))
    tips = []
    pairs = len(parts) if closed else len(parts) - 1
    for number in range(pairs):
        before, after = parts[number], parts[(number + 1) % len(parts)]
        drawn = points[spans[number][1] % count]
        tips.append(_meeting(before, after, drawn, 3.0 * half + 3.0, pen))
    joined = []
    for number, part in enumerate(parts):
        start = [tips[number - 1]] if closed or number > 0 else []
        stop = [tips[number]] if number < pairs else []
        joined.append(
            np.vstack([*(each[None] for each in start), part, *(each[None] for each in stop)])
        )
    return joined


def _meeting(before: Points, after: Points, drawn: Points, most: float, pen: _Pen) -> Points:
    """Where both sides of a corner meet when carried on; the drawn point when far from it."""
    p, u = _heading(before[::-1], pen.px_per_mm)
    q, v = _heading(after, pen.px_per_mm)
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.12:
        middle: Points = (before[-1] + after[0]) / 2
        return middle
    along = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / cross
    tip: Points = p + along * u
    # A sharp corner reaches further beyond what the ink shows.
    reach = most / max(0.3, math.sqrt(max(0.0, (1 - float(u @ v)) / 2)))
    return tip if np.hypot(*(tip - drawn)) <= reach and pen.went_through(tip) else drawn


def _heading(points: Points, px_per_mm: float) -> tuple[Points, Points]:
    """A point near the first one, and the direction from the line's inside out through it."""
    used = points[: max(3, round(0.6 * px_per_mm))]
    centre = used.mean(axis=0)
    _, _, axes = np.linalg.svd(used - centre, full_matrices=False)
    along = axes[0]
    if along @ (used[0] - used[-1]) < 0:
        along = -along
    # A bent side goes on bending: turn by what it turned from its middle to its end.
    third = max(2, len(used) // 2)
    if len(used) >= 8:
        outer, inner = used[0] - used[third], used[third] - used[-1]
        turn = math.atan2(inner[0] * outer[1] - inner[1] * outer[0], float(inner @ outer))
        if abs(turn) < 0.5:
            c, s = math.cos(turn), math.sin(turn)
            along = np.array([c * along[0] - s * along[1], s * along[0] + c * along[1]])
            return used[0], along
    return centre, along


def _smoothed(points: Points, closed: bool, window: int) -> Points:
    """Local parabolas over `window` points to each side; both ends of an open line stay put."""
    count = len(points)
    if count < 5:
        return points
    window = min(window, (count - 1) // 2)
    if window < 2:
        return points
    t = np.arange(-window, window + 1, dtype=np.float64)
    weight = (1 - (np.abs(t) / (window + 1)) ** 3) ** 3
    basis = np.stack((np.ones_like(t), t, t**2), axis=1)
    kernel = np.linalg.solve(basis.T @ (basis * weight[:, None]), (basis * weight[:, None]).T)[0]
    if closed:
        padded = np.vstack((points[-window:], points, points[:window]))
        return np.stack(
            [np.convolve(padded[:, axis], kernel[::-1], "valid") for axis in (0, 1)], axis=1
        )
    result = points.copy()
    for axis in (0, 1):
        result[window:-window, axis] = np.convolve(points[:, axis], kernel[::-1], "valid")
    for side in (0, 1):
        stretch = points[: 2 * window + 1] if side == 0 else points[::-1][: 2 * window + 1]
        run = np.arange(len(stretch), dtype=np.float64)
        fit = np.polynomial.polynomial.polyfit(run, stretch, 2)
        ends = np.stack(
            [np.polynomial.polynomial.polyval(run[:window], fit[:, axis]) for axis in (0, 1)],
            axis=1,
        )
        if side == 0:
            result[:window] = ends
        else:
            result[count - window :] = ends[::-1]
    return result


def _simplified(parts: list[Points], closed: bool, tolerance: float) -> Points:
    if len(parts) == 1 and closed:
        loop = parts[0]
        half = len(loop) // 2
        parts = [loop[: half + 1], np.vstack((loop[half:], loop[:1]))]
    kept = [
        shapely.get_coordinates(shapely.simplify(shapely.linestrings(part), tolerance))
        for part in parts
    ]
    line = np.vstack([part[:-1] for part in kept[:-1]] + [kept[-1]])
    return line[:-1] if closed else line
