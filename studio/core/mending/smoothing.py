"""Takes the tremor out of a line and leaves its shape.

Penalised least squares with third differences (E. T. Whittaker, "On a new method of
graduation", 1922; P. H. C. Eilers, "A perfect smoother", Analytical Chemistry 75, 2003): a wave
of the length L keeps the share h = 1 / (1 + (cut / L)^6) of its height. What that takes off is
smoothed too and given back ("twicing", J. W. Tukey, "Exploratory Data Analysis", 1977), so the
share becomes 1 - (1 - h)^2: with the shorter cut of 7 mm half of a wave of 6 mm is left, 98 in
100 of one of 9.5 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from . import thresholds
from .edges import fitted
from .hands import is_even_wave, swings, trembles
from .sides import is_many_sided
from .ways import Points, Section, Way

_PINNED = 1e6
_SIMPLE_MM = 0.01


@dataclass(frozen=True, slots=True)
class Smoothed:
    """The new points of one section, both ends included and unmoved (unless it is `whole`)."""

    section: Section
    points: Points
    most_mm: float


def smoothed(way: Way, section: Section) -> Smoothed | None:
    """The section without its tremor; None when it has none or when it shows what is meant."""
    least = thresholds.LEAST_SMOOTH_WHOLE_MM if section.whole else thresholds.LEAST_SMOOTH_MM
    if section.length < least:
        return None
    step = max(thresholds.STEP_MM, way.length / thresholds.MOST_STEPS)
    if step > thresholds.SMOOTH_WAVE_MM / 8:
        return None  # so long that its tremor cannot be seen
    if is_many_sided(way, section):
        return None  # it would round corners that are meant
    short, long = thresholds.SMOOTH_CUTS_MM
    # Without corners, or with little room between them, a slow wobble may be a shape.
    slow = not section.whole and section.length >= 2 * long
    tries = (_tried(way, section, cut) for cut in ((short, long) if slow else (short,)))
    return next((found for found in tries if found is not None), None)


def _tried(way: Way, section: Section, cut_mm: float) -> Smoothed | None:
    old, new = _middle(way, section, cut_mm)
    off = _aside(old, new, section.whole)
    most = float(np.hypot(*(new - old).T).max())
    if float(np.abs(off).max()) < thresholds.SMOOTH_LEAST_MM or most > thresholds.SMOOTH_MOST_MM:
        return None
    if is_even_wave(off) or not trembles(off, section.length):
        return None
    if swings(_turning(new), 0.0) > swings(_turning(old), 0.0):
        return None
    return Smoothed(section, _simple(new, section.whole), most)


def is_ornamented(way: Way, section: Section) -> bool:
    """Whether an even wave runs along the section: scallops or teeth beside its middle line."""
    if section.length < 2 * thresholds.SMOOTH_WAVE_MM:
        return False
    old, new = _middle(way, section, thresholds.SMOOTH_CUTS_MM[0])
    if is_even_wave(_aside(old, new, section.whole)):
        return True
    return not section.whole and is_even_wave(fitted(old).aside(old))  # a longer wave


def has_teeth(way: Way) -> bool:
    """Whether many short stretches of one length follow one another from corner to corner."""
    lengths = [section.length for section in way.sections]
    for first in range(len(lengths) - thresholds.EVEN_TEETH + 1):
        run = lengths[first : first + thresholds.EVEN_TEETH]
        if max(run) < thresholds.LEAST_EDGE_MM and min(run) >= (
            1.0 - thresholds.EVEN_TEETH_SHARE
        ) * max(run):
            return True
    return False


def _middle(way: Way, section: Section, cut_mm: float) -> tuple[Points, Points]:
    """The section at even steps, and the smooth line through the middle of its swings."""
    old = way.even(section)
    if section.whole:
        old = old[:-1]
    once = _once(old, section, cut_mm)
    return old, once + _once(old - once, section, cut_mm)


def _once(points: Points, section: Section, cut_mm: float) -> Points:
    way = _whole if section.whole else _open
    return way(points, section.length, cut_mm)


def _strength(step: float, cut_mm: float) -> float:
    # A third difference of a wave of length L is (2 sin(pi step / L))^3 of its height.
    return float((2.0 * math.sin(math.pi * step / cut_mm)) ** -6)


def _whole(points: Points, length: float, cut_mm: float) -> Points:
    """Around a closed line every wave is smoothed by itself, so the share can be written down."""
    count = len(points)
    waves = np.fft.rfft(points, axis=0)
    rough = (2.0 * np.sin(math.pi * np.arange(len(waves)) / count)) ** 6
    share = 1.0 / (1.0 + _strength(length / count, cut_mm) * rough)
    return np.fft.irfft(waves * share[:, None], count, axis=0)


def _open(points: Points, length: float, cut_mm: float) -> Points:
    """Least squares plus strength times squared third differences; both ends stay put."""
    count = len(points)
    strength = _strength(length / (count - 1), cut_mm)
    bands = np.zeros((4, count))  # the diagonal of the system and the three below it
    difference = np.array([-1.0, 3.0, -3.0, 1.0])
    for below in range(4):
        for first, product in enumerate(difference[: 4 - below] * difference[below:]):
            bands[below, first : first + count - 3] += strength * product
    bands[0] += 1.0
    bands[0, [0, -1]] += _PINNED
    wanted = points.copy()
    wanted[[0, -1]] *= 1.0 + _PINNED
    found = solved(bands, wanted)
    found[[0, -1]] = points[[0, -1]]
    return found


def solved(bands: Points, wanted: Points) -> Points:
    """Solves a symmetric positive system with three bands below its diagonal.

    `bands[k, j]` is the entry k below the diagonal in column j; `wanted` has shape (n, 2).
    L D L' factors, row by row; plain numbers are quicker here than short arrays.
    """
    count = bands.shape[1]
    rows: list[tuple[float, float, float, float]] = []  # L's entries 3, 2, 1 left, and D
    given: list[tuple[float, float]] = []
    columns = bands.tolist()
    none = (0.0, 0.0, 0.0, 1.0)
    for i, (x, y) in enumerate(wanted.tolist()):
        one = rows[i - 1] if i > 0 else none
        two = rows[i - 2] if i > 1 else none
        three = rows[i - 3] if i > 2 else none
        c = columns[3][i - 3] if i > 2 else 0.0
        b = (columns[2][i - 2] if i > 1 else 0.0) - c * two[2]
        a = (columns[1][i - 1] if i > 0 else 0.0) - c * one[1] - b * one[2]
        left3, left2, left1 = c / three[3], b / two[3], a / one[3]
        rows.append((left3, left2, left1, columns[0][i] - left3 * c - left2 * b - left1 * a))
        for left, back in ((left3, 3), (left2, 2), (left1, 1)):
            if i >= back:
                x -= left * given[i - back][0]
                y -= left * given[i - back][1]
        given.append((x, y))
    found = [(x / row[3], y / row[3]) for (x, y), row in zip(given, rows, strict=True)]
    for i in range(count - 1, -1, -1):
        x, y = found[i]
        for ahead in (1, 2, 3):
            if i + ahead < count:
                left = rows[i + ahead][3 - ahead]
                x -= left * found[i + ahead][0]
                y -= left * found[i + ahead][1]
        found[i] = x, y
    return np.array(found)


def _aside(old: Points, new: Points, whole: bool) -> NDArray[np.float64]:
    """How far the old points lie to the left of the new line."""
    along = (
        np.roll(new, -1, axis=0) - np.roll(new, 1, axis=0) if whole else np.gradient(new, axis=0)
    )
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    off = old - new
    found: NDArray[np.float64] = along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]
    return found


def _turning(points: Points) -> NDArray[np.float64]:
    steps = np.diff(points, axis=0)
    found: NDArray[np.float64] = steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]
    return found


def _simple(points: Points, whole: bool) -> Points:
    if not whole:
        return shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), _SIMPLE_MM))
    half = len(points) // 2
    first = shapely.get_coordinates(
        shapely.simplify(shapely.linestrings(points[: half + 1]), _SIMPLE_MM)
    )
    rest = np.vstack((points[half:], points[:1]))
    second = shapely.get_coordinates(shapely.simplify(shapely.linestrings(rest), _SIMPLE_MM))
    return np.vstack((first[:-1], second[:-1]))
