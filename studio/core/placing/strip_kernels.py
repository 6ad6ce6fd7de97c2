"""Does one piece of a strip overlap another, and how badly: looked up where it is known already.

In a strip pieces lie at listed turns only and the metal is one rectangle, so everything about two
pieces follows from which forms they have and how far one is shifted from the other. For every
two forms a table over that shift is filled while the search runs: the loss at its nodes, and for
each of its cells whether shifts in it are all free, all in conflict, or must be looked at. What
it says is exact: a cell is only marked when no shift in it can differ.

Inner loops take array by array: a tuple of arrays costs more to hand over, and to take apart,
than most pairs cost to compare.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.kernels import Floats, Ints, crossing

Numbers = npt.NDArray[np.int32]
Cells = npt.NDArray[np.float32]

VISITS = 3.0  # a cell looked at as often as this is worth settling
FREE, HIT, MIXED = 0, 1, 2

# columns of Forms.form: what follows from a form alone
SHAPE, MOVING, MOVING_END, SOLID, SOLID_END, POLES, POLES_END, LONG, LONG_END = range(9)
# columns of Forms.extent: box of the solid, box of the true outline (less a hair), sizes
BOX, BODY, SIZE, REACH = 0, 4, 8, 9
# places in Strip.bounds: the line now, the best so far, the next step, the metal's x0, y0, y1
LINE, BEST, STEP, LEFT, LOW, HIGH = range(6)
# places in Strip.tally
EVALUATIONS, PHASE, SUCCESSES = range(3)


class Forms(NamedTuple):
    """Every piece at each of its listed turns, mirrored or not; forms of a piece are neighbours."""

    form: Ints  # (forms, 9)
    extent: Floats  # (forms, 10)
    at: Ints  # forms of shape k: at[k] to at[k + 1]
    moving: Floats  # (edges, 4): grown by half the kerf, shrunk by a hair
    solid: Floats  # (edges, 4): grown by half the kerf
    poles: Floats  # (circles, 3): x, y, radius
    long: Floats  # (edges, 5): long edges of the solid and their headings, metal on the left


class Tables(NamedTuple):
    """What is known of two forms u ≤ v by the shift of u from v.

    Two forms that are two others turned alike share their table, so that it stays near.
    """

    number: Numbers  # (forms, forms): which table
    twist: Floats  # (forms, forms, 2): cosine and sine of the turn into the table's own forms
    forms: Ints  # (tables, 2): the table's own forms
    origin: Floats  # (tables, 4): least shift x, y; cells per mm along x, y
    # (tables, cells, cells, 4): loss at a cell's corners where all its shifts are in conflict; or
    # first infinity where all are free, −1 where some are, NaN (and visits) where that is not known
    cells: Cells


class Strip(NamedTuple):
    """One search: where the pieces lie and what follows. Everything is changed in place."""

    pose: Floats  # (pieces, 2)
    form: Ints
    box: Floats  # (4, pieces): x0, y0, x1, y1
    loss: Floats  # (pieces, pieces)
    rim_loss: Floats
    weight: Floats
    rim_weight: Floats
    bounds: Floats
    tally: Ints
    best_pose: Floats
    best_form: Ints
    order: Ints


@woven
def within(edges: Floats, first: int, end: int, x: float, y: float) -> bool:
    """Whether a point lies in the rings of these edges, by parity."""
    found = False
    for k in range(first, end):
        y0, y1 = edges[k, 1], edges[k, 3]
        if (y0 > y) != (y1 > y):
            x0 = edges[k, 0]
            if x < x0 + (y - y0) / (y1 - y0) * (edges[k, 2] - x0):
                found = not found
    return found


@compiled
def overlap(
    form: Ints,
    extent: Floats,
    moving: Floats,
    solid: Floats,
    u: int,
    v: int,
    dx: float,
    dy: float,
) -> bool:
    """Whether form u, shifted by (dx, dy) from form v, overlaps it: exact."""
    x0, x1 = max(extent[u, 0] + dx, extent[v, 0]), min(extent[u, 2] + dx, extent[v, 2])
    y0, y1 = max(extent[u, 1] + dy, extent[v, 1]), min(extent[u, 3] + dy, extent[v, 3])
    if x0 >= x1 or y0 >= y1:
        return False
    first, end = form[u, MOVING], form[u, MOVING_END]
    base, last = form[v, SOLID], form[v, SOLID_END]
    for k in range(first, end):
        ax, ay = moving[k, 0] + dx, moving[k, 1] + dy
        bx, by = moving[k, 2] + dx, moving[k, 3] + dy
        ex0, ex1 = min(ax, bx), max(ax, bx)
        ey0, ey1 = min(ay, by), max(ay, by)
        if ex1 < x0 or ex0 > x1 or ey1 < y0 or ey0 > y1:
            continue
        for q in range(base, last):
            cx, cy, ex, ey = solid[q, 0], solid[q, 1], solid[q, 2], solid[q, 3]
            if max(cx, ex) < ex0 or min(cx, ex) > ex1 or max(cy, ey) < ey0 or min(cy, ey) > ey1:
                continue
            if crossing(ax, ay, bx, by, cx, cy, ex, ey):
                return True
    if within(solid, base, last, moving[first, 0] + dx, moving[first, 1] + dy):
        return True
    return within(moving, first, end, solid[base, 0] - dx, solid[base, 1] - dy)


@compiled
def squared_distance(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
    """From a point to the segment a-b, squared."""
    ux, uy = bx - ax, by - ay
    length = ux * ux + uy * uy
    t = 0.0
    if length > 0.0:
        t = min(1.0, max(0.0, ((px - ax) * ux + (py - ay) * uy) / length))
    qx, qy = ax + t * ux - px, ay + t * uy - py
    return qx * qx + qy * qy


@compiled
def settle(
    form: Ints,
    extent: Floats,
    moving: Floats,
    solid: Floats,
    poles: Floats,
    u: int,
    v: int,
    dx: float,
    dy: float,
    away: float,
) -> int:
    """What holds for all shifts no further than `away` from (dx, dy)."""
    for k in range(form[u, POLES], form[u, POLES_END]):
        for m in range(form[v, POLES], form[v, POLES_END]):
            qx, qy = poles[k, 0] + dx - poles[m, 0], poles[k, 1] + dy - poles[m, 1]
            r = poles[k, 2] + poles[m, 2] - away
            if r > 0.0 and qx * qx + qy * qy < r * r:
                return HIT
    if overlap(form, extent, moving, solid, u, v, dx, dy):
        return MIXED
    near = away * away * 1.000001
    for k in range(form[u, MOVING], form[u, MOVING_END]):
        ax, ay = moving[k, 0] + dx, moving[k, 1] + dy
        bx, by = moving[k, 2] + dx, moving[k, 3] + dy
        for q in range(form[v, SOLID], form[v, SOLID_END]):
            cx, cy, ex, ey = solid[q, 0], solid[q, 1], solid[q, 2], solid[q, 3]
            if squared_distance(ax, ay, cx, cy, ex, ey) <= near:
                return MIXED
            if squared_distance(cx, cy, ax, ay, bx, by) <= near:
                return MIXED
    return FREE


@compiled
def node_loss(
    form: Ints, extent: Floats, poles: Floats, u: int, v: int, dx: float, dy: float
) -> float:
    """How deeply the circles of two forms overlap, smoothly continued where they do not."""
    small = 0.01 * max(extent[u, SIZE], extent[v, SIZE])
    total = 0.0
    for k in range(form[u, POLES], form[u, POLES_END]):
        px, py, pr = poles[k, 0] + dx, poles[k, 1] + dy, poles[k, 2]
        for m in range(form[v, POLES], form[v, POLES_END]):
            qx, qy, qr = px - poles[m, 0], py - poles[m, 1], poles[m, 2]
            inside = pr + qr - np.sqrt(qx * qx + qy * qy)
            deep = inside if inside >= small else small * small / (2.0 * small - inside)
            total += deep * min(pr, qr)
    return np.sqrt(total) * np.sqrt(np.sqrt(extent[u, SIZE] * extent[v, SIZE]))


@compiled
def fill(
    form: Ints,
    extent: Floats,
    moving: Floats,
    solid: Floats,
    poles: Floats,
    origin: Floats,
    cells: Cells,
    u: int,
    v: int,
    p: int,
    i: int,
    j: int,
) -> None:
    """Find out what holds in a cell, and the loss at its corners where that is wanted."""
    wide, high = 1.0 / origin[p, 2], 1.0 / origin[p, 3]
    x, y = origin[p, 0] + j * wide, origin[p, 1] + i * high
    # a little more than half the diagonal: shifts are rounded to their cell
    away = 0.5001 * np.sqrt(wide * wide + high * high)
    known = settle(form, extent, moving, solid, poles, u, v, x + 0.5 * wide, y + 0.5 * high, away)
    if known == FREE:
        cells[p, i, j, 0] = np.inf
        return
    if known == MIXED:
        cells[p, i, j, 0] = -1.0
        return
    # the first comes last: it says whether the rest stands
    for k in range(3, -1, -1):
        found = node_loss(form, extent, poles, u, v, x + (k % 2) * wide, y + (k // 2) * high)
        cells[p, i, j, k] = found


@woven
def pair_loss(
    form: Ints,
    extent: Floats,
    moving: Floats,
    solid: Floats,
    poles: Floats,
    number: Numbers,
    twist: Floats,
    own: Ints,
    origin: Floats,
    cells: Cells,
    u: int,
    v: int,
    dx: float,
    dy: float,
) -> float:
    """How badly form u, shifted by (dx, dy) from form v, overlaps it; 0 exactly where not."""
    if u > v:  # tables are kept one way round
        u, v, dx, dy = v, u, -dx, -dy
    p = number[u, v]
    c, s = twist[u, v, 0], twist[u, v, 1]
    dx, dy = dx * c - dy * s, dx * s + dy * c
    most = cells.shape[1] - 1
    fx, fy = (dx - origin[p, 0]) * origin[p, 2], (dy - origin[p, 1]) * origin[p, 3]
    i, j = min(max(int(fy), 0), most), min(max(int(fx), 0), most)
    first = cells[p, i, j, 0]
    if first == np.inf:
        return 0.0
    if not first > 0.0:
        a, b = own[p, 0], own[p, 1]
        if first != first:
            visits = cells[p, i, j, 1]
            cells[p, i, j, 1] = visits + 1.0
            if visits >= VISITS:
                fill(form, extent, moving, solid, poles, origin, cells, a, b, p, i, j)
        # shallow overlaps decide whether pieces come apart: never from the table
        if not overlap(form, extent, moving, solid, a, b, dx, dy):
            return 0.0
        return node_loss(form, extent, poles, a, b, dx, dy)
    fx, fy = fx - j, fy - i
    low = first + (cells[p, i, j, 1] - first) * fx
    top = cells[p, i, j, 2] + (cells[p, i, j, 3] - cells[p, i, j, 2]) * fx
    return low + (top - low) * fy


@woven
def rim_loss(extent: Floats, bounds: Floats, u: int, x: float, y: float) -> float:
    """How badly a form at (x, y) leaves the metal or passes the line."""
    over = max(0.0, bounds[LEFT] - x - extent[u, BODY])
    over += max(0.0, x + extent[u, BODY + 2] - bounds[LINE])
    over += max(0.0, bounds[LOW] - y - extent[u, BODY + 1])
    over += max(0.0, y + extent[u, BODY + 3] - bounds[HIGH])
    if over <= 0.0:
        return 0.0
    return (
        2.0 * np.sqrt((over + 0.01 * extent[u, SIZE]) * extent[u, SIZE]) * np.sqrt(extent[u, SIZE])
    )


@woven
def evaluate(
    form: Ints,
    extent: Floats,
    moving: Floats,
    solid: Floats,
    poles: Floats,
    number: Numbers,
    twist: Floats,
    own: Ints,
    origin: Floats,
    cells: Cells,
    pose: Floats,
    forms: Ints,
    box: Floats,
    weight: Floats,
    rim_weight: float,
    bounds: Floats,
    i: int,
    u: int,
    x: float,
    y: float,
    limit: float,
) -> float:
    """The weighted loss of piece i as form u at (x, y); given up as soon as it exceeds `limit`."""
    total = rim_weight * rim_loss(extent, bounds, u, x, y)
    if total >= limit:
        return total
    x0, y0 = x + extent[u, 0], y + extent[u, 1]
    x1, y1 = x + extent[u, 2], y + extent[u, 3]
    for j in range(box.shape[1]):
        if box[0, j] >= x1 or box[2, j] <= x0 or box[1, j] >= y1 or box[3, j] <= y0 or j == i:
            continue
        found = pair_loss(
            form,
            extent,
            moving,
            solid,
            poles,
            number,
            twist,
            own,
            origin,
            cells,
            u,
            forms[j],
            x - pose[j, 0],
            y - pose[j, 1],
        )
        if found > 0.0:
            total += weight[i, j] * found
            if total >= limit:
                return total
    return total


@compiled
def put(forms: Forms, strip: Strip, i: int) -> None:
    """Lay piece i at its pose."""
    u, x, y = strip.form[i], strip.pose[i, 0], strip.pose[i, 1]
    strip.box[0, i], strip.box[1, i] = x + forms.extent[u, 0], y + forms.extent[u, 1]
    strip.box[2, i], strip.box[3, i] = x + forms.extent[u, 2], y + forms.extent[u, 3]


@compiled
def refresh(forms: Forms, tables: Tables, strip: Strip, i: int) -> None:
    """Lay piece i and find its losses against the metal and all others, both ways."""
    put(forms, strip, i)
    form, extent, moving, solid = forms.form, forms.extent, forms.moving, forms.solid
    poles, number, twist, own = forms.poles, tables.number, tables.twist, tables.forms
    origin, cells, box, pose = tables.origin, tables.cells, strip.box, strip.pose
    found, laid = strip.loss, strip.form
    u, x, y = laid[i], pose[i, 0], pose[i, 1]
    strip.rim_loss[i] = rim_loss(extent, strip.bounds, u, x, y)
    for j in range(box.shape[1]):
        if j == i:
            continue
        value = 0.0
        if (
            box[0, j] < box[2, i]
            and box[2, j] > box[0, i]
            and box[1, j] < box[3, i]
            and box[3, j] > box[1, i]
        ):
            value = pair_loss(
                form,
                extent,
                moving,
                solid,
                poles,
                number,
                twist,
                own,
                origin,
                cells,
                u,
                laid[j],
                x - pose[j, 0],
                y - pose[j, 1],
            )
        found[i, j] = found[j, i] = value
