"""The largest upright rectangle in a polygon, compiled: `rectangles.upright` step for step.

It does in the same order what is written there for processes that have not compiled it, so that
both give the same rectangle, digit for digit. Importing it takes numba: `warming` does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
import numpy as np
import numpy.typing as npt

F = TypeVar("F", bound=Callable[..., Any])
Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Span = tuple[float, float]
Sides = tuple[float, float, float, float]

FLAT = 1e-12
NEAR = 1e-9
CHORDS = 128
"""So many lines across a polygon tell what a turn can bring at most."""


def compiled(function: F) -> F:
    """`function` compiled, every sum as it is written; kept on disk where that is possible."""

    def jit(*, cache: bool) -> F:
        decorate = numba.njit(cache=cache, nogil=True, fastmath=False, error_model="numpy")
        return cast(F, decorate(function))

    try:
        return jit(cache=True)
    except RuntimeError:  # no place to keep the compiled code
        return jit(cache=False)


@compiled
def upright(along_x: Array, along_y: Array, lines: Array, beat: float) -> tuple[float, Sides]:
    """Area and sides of the largest upright rectangle above `beat`; else 0 and sides of no use.

    The tables are those of two `rectangles.Rim`, the lines cut the polygon into bands.
    """
    begins, lows, highs = _free(along_x, lines)
    bands = len(lines) - 1
    room = len(lows) + 2
    span_lows, span_highs = np.empty(room), np.empty(room)
    more_lows, more_highs = np.empty(room), np.empty(room)
    best = beat
    found = (0.0, 0.0, 0.0, 0.0)
    for first in range(bands):
        bottom = lines[first]
        count = begins[first + 1] - begins[first]
        for k in range(count):
            span_lows[k] = lows[begins[first] + k]
            span_highs[k] = highs[begins[first] + k]
        for last in range(first, bands):
            if last > first:
                count = _both(
                    span_lows,
                    span_highs,
                    count,
                    lows,
                    highs,
                    begins[last],
                    begins[last + 1],
                    more_lows,
                    more_highs,
                )
                span_lows, more_lows = more_lows, span_lows
                span_highs, more_highs = more_highs, span_highs
            if count == 0:
                break
            at, widest = 0, span_highs[0] - span_lows[0]
            for k in range(1, count):
                if span_highs[k] - span_lows[k] > widest:
                    at, widest = k, span_highs[k] - span_lows[k]
            if widest * (lines[bands] - bottom) <= best:
                break
            if not widest * (lines[last + 1] - bottom) > best * 0.8:
                continue
            low, high = span_lows[at], span_highs[at]
            if first > 0 and _leaves(begins, lows, highs, first - 1, low, high):
                continue
            if last < bands - 1 and _leaves(begins, lows, highs, last + 1, low, high):
                continue
            if _most_grown(begins, lows, highs, lines, first, last, low, high) <= best:
                continue
            y0, y1 = _reach(along_y, bottom, lines[last + 1], low, high)
            x0, x1 = _reach(along_x, low, high, y0, y1)
            area = (x1 - x0) * (y1 - y0)
            if area > best:
                best, found = area, (x0, y0, x1, y1)
    return (best if best > beat else 0.0), found


@compiled
def _both(
    one_lows: Array,
    one_highs: Array,
    count: int,
    lows: Array,
    highs: Array,
    begin: int,
    end: int,
    into_lows: Array,
    into_highs: Array,
) -> int:
    """What two rows of spans have in common, and how many spans that is."""
    found, i, j = 0, 0, begin
    while i < count and j < end:
        low, high = max(one_lows[i], lows[j]), min(one_highs[i], highs[j])
        if high - low > NEAR:
            into_lows[found], into_highs[found] = low, high
            found += 1
        if one_highs[i] < highs[j]:
            i += 1
        else:
            j += 1
    return found


@compiled
def _leaves(begins: Ints, lows: Array, highs: Array, band: int, begin: float, end: float) -> bool:
    for k in range(begins[band], begins[band + 1]):  # noqa: SIM110 - any() is not compiled
        if lows[k] <= begin and highs[k] >= end:
            return True
    return False


@compiled
def _most_grown(
    begins: Ints,
    lows: Array,
    highs: Array,
    lines: Array,
    first: int,
    last: int,
    low: float,
    high: float,
) -> float:
    bands = len(lines) - 1
    begin, end = low + 1e-6, high - 1e-6
    while first > 0 and _leaves(begins, lows, highs, first - 1, begin, end):
        first -= 1
    while last < bands - 1 and _leaves(begins, lows, highs, last + 1, begin, end):
        last += 1
    height = lines[min(last + 2, bands)] - lines[max(first - 1, 0)]
    return float(height * (high - low + 1e-6))


@compiled
def _within(table: Array, k: int, bottom: float, top: float) -> Span:
    """From where to where an edge reaches along the axis between `bottom` and `top`."""
    down, up = table[0, k], table[1, k]
    if up - down <= FLAT:
        return table[5, k], table[6, k]
    at_low = table[3, k] + (max(bottom, down) - table[2, k]) * table[4, k]
    at_high = table[3, k] + (min(top, up) - table[2, k]) * table[4, k]
    return min(at_low, at_high), max(at_low, at_high)


@compiled
def _reach(table: Array, low: float, high: float, bottom: float, top: float) -> Span:
    """How far [low, high] can be widened along the rim's axis within the band [bottom, top]."""
    middle = (low + high) / 2.0
    below, above = -np.inf, np.inf
    for k in range(table.shape[1]):
        if table[0, k] < top - NEAR and table[1, k] > bottom + NEAR:
            left, right = _within(table, k, bottom, top)
            if right <= middle:
                below = max(below, right)
            if left >= middle:
                above = min(above, left)
    new_low = low if below == -np.inf else min(low, below)
    new_high = high if above == np.inf else max(high, above)
    return new_low, new_high


@compiled
def _free(table: Array, lines: Array) -> tuple[Ints, Array, Array]:
    """Where the spans of each band begin among all, and from where to where each reaches."""
    bands, edges = len(lines) - 1, table.shape[1]
    order = np.argsort(table[5])  # so that what a band meets comes all but sorted
    met = 0
    for band in range(bands):
        for k in range(edges):
            met += table[0, k] < lines[band + 1] - NEAR and table[1, k] > lines[band] + NEAR
    begins = np.zeros(bands + 1, np.int64)
    lows, highs = np.empty(2 * met + 2), np.empty(2 * met + 2)
    lefts, rights, marks = np.empty(edges), np.empty(edges), np.empty(edges)
    found = 0
    for band in range(bands):
        bottom, top = lines[band], lines[band + 1]
        middle = (bottom + top) / 2.0
        blocks = crossings = 0
        for k in order:
            if not (table[0, k] < top - NEAR and table[1, k] > bottom + NEAR):
                continue
            left, right = _within(table, k, bottom, top)
            at = blocks
            while at > 0 and lefts[at - 1] > left:
                lefts[at], rights[at] = lefts[at - 1], rights[at - 1]
                at -= 1
            lefts[at], rights[at] = left, right
            blocks += 1
            if table[0, k] <= middle and table[1, k] > middle:
                mark = table[3, k] + (middle - table[2, k]) * table[4, k]
                at = crossings
                while at > 0 and marks[at - 1] > mark:
                    marks[at] = marks[at - 1]
                    at -= 1
                marks[at] = mark
                crossings += 1
        for pair in range(crossings // 2):
            at_x, high = marks[2 * pair], marks[2 * pair + 1]
            for k in range(blocks):
                if rights[k] <= at_x:
                    continue
                if lefts[k] >= high:
                    break
                if lefts[k] > at_x + NEAR:
                    lows[found], highs[found] = at_x, lefts[k]
                    found += 1
                at_x = max(at_x, rights[k])
            if high > at_x + NEAR:
                lows[found], highs[found] = at_x, high
                found += 1
        begins[band + 1] = found
    return begins, lows, highs


@compiled
def may_beat(edges: Array, turn: float, best: float) -> bool:
    """Whether a rectangle at a turn (in radians) may be larger than `best`; no is certain.

    `edges` are all of a polygon's, as rows of x0, y0, x1, y1.
    """
    c, s = np.cos(turn), np.sin(turn)
    across, along = np.empty((2, len(edges))), np.empty((2, len(edges)))
    for k in range(len(edges)):
        for end in range(2):
            x, y = edges[k, 2 * end], edges[k, 2 * end + 1]
            along[end, k] = c * x + s * y
            across[end, k] = c * y - s * x
    return _chords_beat(across, along, best) and _chords_beat(along, across, best)


@compiled
def _chords_beat(across: Array, along: Array, best: float) -> bool:
    """Whether chords along the axis leave room for more than `best`.

    A rectangle that some of the lines meet lies between those next to them, and is no wider than
    what the chords on all that it meets have in common.
    """
    low, high = across.min(), across.max()
    step = (high - low) / CHORDS
    if step <= NEAR:
        return True
    slack = 1.0 + 1e-6
    if step * (along.max() - along.min()) * slack > best:
        return True
    begins = np.zeros(CHORDS + 1, np.int64)
    for k in range(across.shape[1]):
        first, last = _lines_met(across[0, k], across[1, k], low, step)
        for line in range(first, last):
            begins[line + 1] += 1
    for line in range(CHORDS):
        begins[line + 1] += begins[line]
    marks, filled = np.empty(begins[CHORDS]), np.zeros(CHORDS, np.int64)
    for k in range(across.shape[1]):
        first, last = _lines_met(across[0, k], across[1, k], low, step)
        for line in range(first, last):
            part = (low + (line + 0.5) * step - across[0, k]) / (across[1, k] - across[0, k])
            mark = along[0, k] + (along[1, k] - along[0, k]) * part
            at = begins[line] + filled[line]
            while at > begins[line] and marks[at - 1] > mark:
                marks[at] = marks[at - 1]
                at -= 1
            marks[at] = mark
            filled[line] += 1
    lows, highs = marks[0::2].copy(), marks[1::2].copy()
    room = len(lows) + 2
    span_lows, span_highs = np.empty(room), np.empty(room)
    more_lows, more_highs = np.empty(room), np.empty(room)
    for first in range(CHORDS):
        begin = begins[first] // 2
        count = begins[first + 1] // 2 - begin
        for k in range(count):
            span_lows[k], span_highs[k] = lows[begin + k], highs[begin + k]
        under = low + max(first - 0.5, 0.0) * step
        for last in range(first, CHORDS):
            if last > first:
                begin, end = begins[last] // 2, begins[last + 1] // 2
                count = _both(
                    span_lows, span_highs, count, lows, highs, begin, end, more_lows, more_highs
                )
                span_lows, more_lows = more_lows, span_lows
                span_highs, more_highs = more_highs, span_highs
            widest = 0.0
            for k in range(count):
                widest = max(widest, span_highs[k] - span_lows[k])
            widest = (widest + 1e-6) * slack
            if widest * (high - under) <= best:
                break
            if widest * (min(low + (last + 1.5) * step, high) - under) > best:
                return True
    return False


@compiled
def _lines_met(one: float, other: float, low: float, step: float) -> tuple[int, int]:
    """From which line to before which an edge reaches that goes from `one` to `other`."""
    first = int(np.ceil((min(one, other) - low) / step - 0.5))
    last = int(np.ceil((max(one, other) - low) / step - 0.5))
    return max(first, 0), min(last, CHORDS)
