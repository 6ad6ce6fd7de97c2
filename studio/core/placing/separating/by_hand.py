"""May two outlines come nearer than their gap? The rules for hands in the compiled search.

A pose that overlaps once outlines are grown by half the gap is looked at again where the piece
has straight runs that it would share, or lie free on: is everything nearer than the gap within
the zone of such lines, and nothing nearer than the kerf? Never more generous than the judge.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.spacing import ALONG_MM, END_MM, TRUE_MM

from .kernels import Floats, Kinds, Lane, Region, crossing, lay, leaves, within

MOST_LINES = 64
LEAST_KERF_MM = 0.001  # with less, outlines may touch, and only a crossing is too near


@woven
def common_part(
    ax: float,
    ay: float,
    ux: float,
    uy: float,
    length: float,
    cx: float,
    cy: float,
    dx: float,
    dy: float,
    apart: float,
    facing: float,
) -> tuple[float, float]:
    """From where to where along a run (from a, direction u) the edge c-d runs `apart` to its
    right; (1, 0) where it does not. `facing` is 1 for the same sense, −1 against it."""
    c_off = (cx - ax) * uy - (cy - ay) * ux
    d_off = (dx - ax) * uy - (dy - ay) * ux
    if abs(c_off - apart) > TRUE_MM or abs(d_off - apart) > TRUE_MM:
        return 1.0, 0.0
    c_at = (cx - ax) * ux + (cy - ay) * uy
    d_at = (dx - ax) * ux + (dy - ay) * uy
    if (d_at - c_at) * facing <= 0.0:
        return 1.0, 0.0
    return max(0.0, min(c_at, d_at)), min(length, max(c_at, d_at))


@compiled
def note_lines(
    kinds: Kinds,
    region: Region,
    lane: Lane,
    i: int,
    kind: int,
    x: float,
    y: float,
    c: float,
    s: float,
    without: int,
    first: int,
) -> int:
    """Write the lines that piece i would share at a pose, and its free edges, to `lane.lines`
    from row `first`; the rows now in use. Piece `without` is not looked at."""
    count = first
    least = region.rules[4]
    shared = region.rules[3]
    for e in range(kinds.run_at[kind], kinds.run_at[kind + 1]):
        run = kinds.run[e]
        ax, ay = run[0] * c - run[1] * s + x, run[0] * s + run[1] * c + y
        bx, by = run[2] * c - run[3] * s + x, run[2] * s + run[3] * c + y
        length = np.hypot(bx - ax, by - ay)
        ux, uy = (bx - ax) / length, (by - ay) / length
        for k in range(region.lines.shape[0]):
            line = region.lines[k]
            low, high = common_part(
                ax, ay, ux, uy, length, line[0], line[1], line[2], line[3], 0.0, 1.0
            )
            if high - low >= least and count < MOST_LINES:
                row = lane.lines[count]
                row[0], row[1] = ax + ux * low, ay + uy * low
                row[2], row[3], row[4] = ax + ux * high, ay + uy * high, 1.0
                count += 1
        x0, x1 = min(ax, bx) - shared - 0.01, max(ax, bx) + shared + 0.01
        y0, y1 = min(ay, by) - shared - 0.01, max(ay, by) + shared + 0.01
        for j in range(lane.box.shape[0]):
            if j in (i, without) or lane.box[j, 0] > x1 or lane.box[j, 2] < x0:
                continue
            if lane.box[j, 1] > y1 or lane.box[j, 3] < y0:
                continue
            other = lane.kind[j]
            jx, jy = lane.pose[j, 0], lane.pose[j, 1]
            jc, js = np.cos(lane.pose[j, 2]), np.sin(lane.pose[j, 2])
            for f in range(kinds.run_at[other], kinds.run_at[other + 1]):
                theirs = kinds.run[f]
                low, high = common_part(
                    ax,
                    ay,
                    ux,
                    uy,
                    length,
                    theirs[0] * jc - theirs[1] * js + jx,
                    theirs[0] * js + theirs[1] * jc + jy,
                    theirs[2] * jc - theirs[3] * js + jx,
                    theirs[2] * js + theirs[3] * jc + jy,
                    shared,
                    -1.0,
                )
                if high - low >= least and count < MOST_LINES:
                    row = lane.lines[count]
                    row[0], row[1] = ax + ux * low, ay + uy * low
                    row[2], row[3], row[4] = ax + ux * high, ay + uy * high, 0.0
                    count += 1
    return count


@woven
def clipped(low: float, high: float, at: float, slope: float, most: float) -> tuple[float, float]:
    """What of [low, high] has at + t · slope ≤ most."""
    if abs(slope) < 1e-15:
        if at > most:
            return 1.0, 0.0
        return low, high
    t = (most - at) / slope
    if slope > 0.0:
        return low, min(high, t)
    return max(low, t), high


@woven
def near_disc(
    ax: float, ay: float, ex: float, ey: float, px: float, py: float, r: float
) -> tuple[float, float]:
    """Where the segment from a along e (t from 0 to 1) lies within r of a point."""
    fx, fy = ax - px, ay - py
    a = ex * ex + ey * ey
    b = fx * ex + fy * ey
    root = b * b - a * (fx * fx + fy * fy - r * r)
    if root <= 0.0 or a < 1e-30:
        return 1.0, 0.0
    root = np.sqrt(root)
    return max(0.0, (-b - root) / a), min(1.0, (-b + root) / a)


@compiled
def near_part(
    ax: float,
    ay: float,
    bx: float,
    by: float,
    cx: float,
    cy: float,
    dx: float,
    dy: float,
    r: float,
) -> tuple[float, float]:
    """Where the segment a-b (t from 0 to 1) lies within r of the segment c-d: one stretch."""
    ex, ey = bx - ax, by - ay
    begin, end = near_disc(ax, ay, ex, ey, cx, cy, r)
    low, high = near_disc(ax, ay, ex, ey, dx, dy, r)
    if low < high:
        if begin < end:
            begin, end = min(begin, low), max(end, high)
        else:
            begin, end = low, high
    length = np.hypot(dx - cx, dy - cy)
    if length < 1e-12:
        return begin, end
    vx, vy = (dx - cx) / length, (dy - cy) / length
    along, across = (ax - cx) * vx + (ay - cy) * vy, (ax - cx) * vy - (ay - cy) * vx
    run, rise = ex * vx + ey * vy, ex * vy - ey * vx
    low, high = clipped(0.0, 1.0, along, run, length)
    low, high = clipped(low, high, -along, -run, 0.0)
    low, high = clipped(low, high, across, rise, r)
    low, high = clipped(low, high, -across, -rise, r)
    if low < high:
        if begin < end:
            begin, end = min(begin, low), max(end, high)
        else:
            begin, end = low, high
    return begin, end


@woven
def off_line(px: float, py: float, line: Floats) -> float:
    """How far a point lies beside the line on which a stretch lies."""
    ex, ey = line[2] - line[0], line[3] - line[1]
    return abs((px - line[0]) * ey - (py - line[1]) * ex) / max(np.hypot(ex, ey), 1e-15)


@woven
def near_end(px: float, py: float, x: float, y: float, r: float) -> bool:
    """Whether a point lies within r of another."""
    return (px - x) * (px - x) + (py - y) * (py - y) <= r * r


@woven
def beside(px: float, py: float, line: Floats, r: float) -> bool:
    """Whether a point lies between the ends of a stretch, or within r of one of them."""
    ex, ey = line[2] - line[0], line[3] - line[1]
    t = ((px - line[0]) * ex + (py - line[1]) * ey) / max(ex * ex + ey * ey, 1e-30)
    between = t >= 0.0 and t <= 1.0
    first = near_end(px, py, line[0], line[1], r)
    return between or first or near_end(px, py, line[2], line[3], r)


@compiled
def in_zone(
    lane: Lane,
    count: int,
    px: float,
    py: float,
    qx: float,
    qy: float,
    r: float,
    wide: float,
    free: bool,
) -> bool:
    """Whether a stretch from p to q runs along one of the first `count` lines, each `wide`, or
    lies within r of an end of one."""
    for k in range(count):
        line = lane.lines[k]
        if free and line[4] == 0.0:
            continue
        if near_end(px, py, line[0], line[1], r) and near_end(qx, qy, line[0], line[1], r):
            return True
        if near_end(px, py, line[2], line[3], r) and near_end(qx, qy, line[2], line[3], r):
            return True
        along = off_line(px, py, line) <= wide and off_line(qx, qy, line) <= wide
        if along and beside(px, py, line, r) and beside(qx, qy, line, r):
            return True
    return False


@woven
def part_in_zone(
    lane: Lane,
    count: int,
    ax: float,
    ay: float,
    bx: float,
    by: float,
    low: float,
    high: float,
    r: float,
    wide: float,
    free: bool,
) -> bool:
    """The same of the stretch of a-b from `low` to `high` (0 to 1)."""
    ex, ey = bx - ax, by - ay
    return in_zone(
        lane, count, ax + low * ex, ay + low * ey, ax + high * ex, ay + high * ey, r, wide, free
    )


@woven
def apart(
    ax: float,
    ay: float,
    bx: float,
    by: float,
    cx: float,
    cy: float,
    dx: float,
    dy: float,
    by_mm: float,
) -> bool:
    """Whether the boxes of two segments are further apart than `by_mm`."""
    return (
        max(ax, bx) + by_mm < min(cx, dx)
        or max(cx, dx) + by_mm < min(ax, bx)
        or max(ay, by) + by_mm < min(cy, dy)
        or max(cy, dy) + by_mm < min(ay, by)
    )


@compiled
def pair_excused(
    kinds: Kinds,
    region: Region,
    lane: Lane,
    i: int,
    kind: int,
    x: float,
    y: float,
    c: float,
    s: float,
    j: int,
    own: int,
) -> bool:
    """Whether piece i at a pose may be nearer to piece j than the gap; its own lines are the
    first `own` rows of `lane.lines`."""
    other = lane.kind[j]
    jx, jy = lane.pose[j, 0], lane.pose[j, 1]
    jc, js = np.cos(lane.pose[j, 2]), np.sin(lane.pose[j, 2])
    count = note_lines(kinds, region, lane, j, other, jx, jy, jc, js, i, own)
    if count == 0:
        return False
    kerf, gap = region.rules[1], region.rules[2]
    r = 2.0 * gap - END_MM
    wide = region.rules[3] + ALONG_MM
    half = lane.bare.shape[0] // 2
    n = lay(kinds.body, kind, x, y, c, s, lane.bare, 0)
    m = lay(kinds.body, other, jx, jy, jc, js, lane.bare, half)
    after = kinds.body.after
    one, two = kinds.body.at[kind], kinds.body.at[other]
    bare = lane.bare
    for k in range(n):
        k2 = after[one + k]
        ax, ay, bx, by = bare[k, 0], bare[k, 1], bare[k2, 0], bare[k2, 1]
        if (
            max(ax, bx) < lane.box[j, 0] - gap
            or min(ax, bx) > lane.box[j, 2] + gap
            or max(ay, by) < lane.box[j, 1] - gap
            or min(ay, by) > lane.box[j, 3] + gap
        ):
            continue
        for q in range(m):
            q2 = half + after[two + q]
            cx, cy = bare[half + q, 0], bare[half + q, 1]
            dx, dy = bare[q2, 0], bare[q2, 1]
            if apart(ax, ay, bx, by, cx, cy, dx, dy, gap):
                continue
            if crossing(ax, ay, bx, by, cx, cy, dx, dy):
                return False
            low, high = near_part(ax, ay, bx, by, cx, cy, dx, dy, gap)
            if low >= high:
                continue
            if kerf > LEAST_KERF_MM:
                begin, end = near_part(ax, ay, bx, by, cx, cy, dx, dy, kerf)
                if begin < end:
                    return False
            if not part_in_zone(lane, count, ax, ay, bx, by, low, high, r, wide, False):
                return False
            low, high = near_part(cx, cy, dx, dy, ax, ay, bx, by, gap)
            if not part_in_zone(lane, count, cx, cy, dx, dy, low, high, r, wide, False):
                return False
    return not (
        within(bare, half, m, after, two, bare[0, 0], bare[0, 1])
        or within(bare, 0, n, after, one, bare[half, 0], bare[half, 1])
    )


@compiled
def rim_excused(
    kinds: Kinds,
    region: Region,
    lane: Lane,
    kind: int,
    x: float,
    y: float,
    c: float,
    s: float,
    own: int,
) -> bool:
    """Whether a piece at a pose may be nearer to a clean edge than the gap."""
    if own == 0:
        return False
    n = lay(kinds.body, kind, x, y, c, s, lane.bare, 0)
    bare, after, begin = lane.bare, kinds.body.after, kinds.body.at[kind]
    x0 = y0 = np.inf
    x1 = y1 = -np.inf
    for k in range(n):
        x0, x1 = min(x0, bare[k, 0]), max(x1, bare[k, 0])
        y0, y1 = min(y0, bare[k, 1]), max(y1, bare[k, 1])
    if x1 > lane.line[0] + 1e-6:
        return False
    if leaves(region.hard, region.hard_starts, after, begin, bare, n, x0, y0, x1, y1):
        return False
    kerf, gap = region.rules[1], region.rules[2]
    r = 2.0 * gap - END_MM
    wide = region.rules[3] + ALONG_MM
    for e in range(region.near.shape[0]):
        cx, cy, dx, dy = region.near[e, 0], region.near[e, 1], region.near[e, 2], region.near[e, 3]
        if (
            max(cx, dx) < x0 - gap
            or min(cx, dx) > x1 + gap
            or max(cy, dy) < y0 - gap
            or min(cy, dy) > y1 + gap
        ):
            continue
        for k in range(n):
            k2 = after[begin + k]
            ax, ay, bx, by = bare[k, 0], bare[k, 1], bare[k2, 0], bare[k2, 1]
            if apart(ax, ay, bx, by, cx, cy, dx, dy, gap):
                continue
            low, high = near_part(ax, ay, bx, by, cx, cy, dx, dy, gap)
            kept = low >= high or part_in_zone(lane, own, ax, ay, bx, by, low, high, r, wide, False)
            if not kept:
                return False
            low, high = near_part(ax, ay, bx, by, cx, cy, dx, dy, kerf)
            kept = low >= high or part_in_zone(lane, own, ax, ay, bx, by, low, high, r, wide, True)
            if not kept:
                return False
    return True
