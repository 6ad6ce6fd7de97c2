"""Does one piece of a strip overlap another, and how badly: looked up where it is known already.

In a strip pieces lie at listed turns only and the metal is one rectangle, so everything about two
pieces follows from which forms they have and how far one is shifted from the other. For every
two forms a table over that shift is filled while the search runs: the loss at its nodes, and for
each of its cells whether shifts in it are all free, all in conflict, or must be looked at. What
it says is exact: a cell is only marked when no shift in it can differ.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.kernels import Floats, Ints, Rings, crossing, within

VISITS = 3  # a cell looked at as often as this is worth settling
FREE, HIT, MIXED = 4, 5, 6


class Forms(NamedTuple):
    """Every piece at each of its listed turns, mirrored or not; forms of a piece are neighbours."""

    solid: Rings  # grown by half the kerf
    moving: Rings  # the same, shrunk by a hair
    pole_at: Ints
    poles: Floats  # (3, circles)
    box: Floats  # (forms, 4) of `solid`
    body: Floats  # (forms, 4) of the true outline, shrunk by a hair
    size: Floats  # square root of the hull's area
    reach: Floats  # mean width
    shape: Ints
    at: Ints  # forms of shape k: at[k] to at[k + 1]
    edge_at: Ints
    edges: Floats  # long edges of `solid` (x0, y0, x1, y1, heading), metal of the piece on the left


class Tables(NamedTuple):
    """What is known of two forms u ≤ v by the shift of u from v."""

    number: npt.NDArray[np.int32]  # (forms, forms): which table
    origin: Floats  # (tables, 4): least shift x, y; cells per mm along x, y
    loss: npt.NDArray[np.float32]  # (tables, cells + 1, cells + 1); NaN where not known yet
    state: npt.NDArray[np.uint8]  # (tables, cells, cells): visits so far, or FREE, HIT, MIXED


class Strip(NamedTuple):
    """One search: where the pieces lie and what follows. Everything is changed in place."""

    pose: Floats  # (pieces, 2)
    form: Ints
    box: Floats  # (4, pieces): x0, y0, x1, y1
    loss: Floats  # (pieces, pieces)
    rim_loss: Floats
    weight: Floats
    rim_weight: Floats
    room: Floats  # x0, y0, y1 of the metal
    line: Floats  # sweep line now, best line so far, next step
    tally: Ints  # evaluations, phase, successes
    best_pose: Floats
    best_form: Ints
    order: Ints


@compiled
def overlap(forms: Forms, u: int, v: int, dx: float, dy: float) -> bool:
    """Whether form u, shifted by (dx, dy) from form v, overlaps it: exact."""
    box = forms.box
    x0, x1 = max(box[u, 0] + dx, box[v, 0]), min(box[u, 2] + dx, box[v, 2])
    y0, y1 = max(box[u, 1] + dy, box[v, 1]), min(box[u, 3] + dy, box[v, 3])
    if x0 >= x1 or y0 >= y1:
        return False
    first, n = forms.moving.at[u], forms.moving.at[u + 1] - forms.moving.at[u]
    base, size = forms.solid.at[v], forms.solid.at[v + 1] - forms.solid.at[v]
    own, after = forms.moving.points, forms.moving.after
    other, other_after = forms.solid.points, forms.solid.after
    for k in range(first, first + n):
        m = first + after[k]
        ax, ay, bx, by = own[k, 0] + dx, own[k, 1] + dy, own[m, 0] + dx, own[m, 1] + dy
        ex0, ex1 = min(ax, bx), max(ax, bx)
        ey0, ey1 = min(ay, by), max(ay, by)
        if ex1 < x0 or ex0 > x1 or ey1 < y0 or ey0 > y1:
            continue
        for q in range(base, base + size):
            w = base + other_after[q]
            cx, cy, ex, ey = other[q, 0], other[q, 1], other[w, 0], other[w, 1]
            if max(cx, ex) < ex0 or min(cx, ex) > ex1 or max(cy, ey) < ey0 or min(cy, ey) > ey1:
                continue
            if crossing(ax, ay, bx, by, cx, cy, ex, ey):
                return True
    if within(other, base, size, other_after, base, own[first, 0] + dx, own[first, 1] + dy):
        return True
    return within(own, first, n, after, first, other[base, 0] - dx, other[base, 1] - dy)


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
def settle(forms: Forms, u: int, v: int, dx: float, dy: float, away: float) -> int:
    """What holds for all shifts no further than `away` from (dx, dy)."""
    poles = forms.poles
    for k in range(forms.pole_at[u], forms.pole_at[u + 1]):
        for m in range(forms.pole_at[v], forms.pole_at[v + 1]):
            qx, qy = poles[0, k] + dx - poles[0, m], poles[1, k] + dy - poles[1, m]
            r = poles[2, k] + poles[2, m] - away
            if r > 0.0 and qx * qx + qy * qy < r * r:
                return HIT
    if overlap(forms, u, v, dx, dy):
        return MIXED
    first, end = forms.moving.at[u], forms.moving.at[u + 1]
    base, last = forms.solid.at[v], forms.solid.at[v + 1]
    own, other = forms.moving.points, forms.solid.points
    near = away * away * 1.000001
    for k in range(first, end):
        m = first + forms.moving.after[k]
        ax, ay, bx, by = own[k, 0] + dx, own[k, 1] + dy, own[m, 0] + dx, own[m, 1] + dy
        for q in range(base, last):
            w = base + forms.solid.after[q]
            cx, cy, ex, ey = other[q, 0], other[q, 1], other[w, 0], other[w, 1]
            if squared_distance(ax, ay, cx, cy, ex, ey) <= near:
                return MIXED
            if squared_distance(cx, cy, ax, ay, bx, by) <= near:
                return MIXED
    return FREE


@compiled
def node_loss(forms: Forms, u: int, v: int, dx: float, dy: float) -> float:
    """How deeply the circles of two forms overlap, smoothly continued where they do not."""
    poles = forms.poles
    small = 0.01 * max(forms.size[u], forms.size[v])
    total = 0.0
    for k in range(forms.pole_at[u], forms.pole_at[u + 1]):
        px, py, pr = poles[0, k] + dx, poles[1, k] + dy, poles[2, k]
        for m in range(forms.pole_at[v], forms.pole_at[v + 1]):
            qx, qy, qr = px - poles[0, m], py - poles[1, m], poles[2, m]
            inside = pr + qr - np.sqrt(qx * qx + qy * qy)
            deep = inside if inside >= small else small * small / (2.0 * small - inside)
            total += deep * min(pr, qr)
    return np.sqrt(total) * np.sqrt(np.sqrt(forms.size[u] * forms.size[v]))


@compiled
def look(forms: Forms, tables: Tables, u: int, v: int, p: int, row: int, column: int) -> float:
    """The loss at a node that was not known yet."""
    origin = tables.origin
    dx = origin[p, 0] + column / origin[p, 2]
    dy = origin[p, 1] + row / origin[p, 3]
    found = node_loss(forms, u, v, dx, dy)
    tables.loss[p, row, column] = found
    return found


@compiled
def pair_loss(forms: Forms, tables: Tables, u: int, v: int, dx: float, dy: float) -> float:
    """How badly form u, shifted by (dx, dy) from form v ≥ u, overlaps it; 0 exactly where not."""
    p = tables.number[u, v]
    cells = tables.state.shape[1]
    origin = tables.origin
    fx, fy = (dx - origin[p, 0]) * origin[p, 2], (dy - origin[p, 1]) * origin[p, 3]
    i, j = min(max(int(fy), 0), cells - 1), min(max(int(fx), 0), cells - 1)
    state = tables.state[p, i, j]
    if state == FREE:
        return 0.0
    if state != HIT:
        if state < VISITS:
            tables.state[p, i, j] = state + 1
        elif state == VISITS:
            wide, high = 1.0 / origin[p, 2], 1.0 / origin[p, 3]
            cx, cy = origin[p, 0] + (j + 0.5) * wide, origin[p, 1] + (i + 0.5) * high
            # a little more than half the diagonal: shifts are rounded to their cell
            away = 0.5001 * np.sqrt(wide * wide + high * high)
            state = settle(forms, u, v, cx, cy, away)
            tables.state[p, i, j] = state
            if state == FREE:
                return 0.0
        if state != HIT and not overlap(forms, u, v, dx, dy):
            return 0.0
    fx, fy = fx - j, fy - i
    a, b = tables.loss[p, i, j], tables.loss[p, i, j + 1]
    c, d = tables.loss[p, i + 1, j], tables.loss[p, i + 1, j + 1]
    if not a >= 0.0:
        a = look(forms, tables, u, v, p, i, j)
    if not b >= 0.0:
        b = look(forms, tables, u, v, p, i, j + 1)
    if not c >= 0.0:
        c = look(forms, tables, u, v, p, i + 1, j)
    if not d >= 0.0:
        d = look(forms, tables, u, v, p, i + 1, j + 1)
    low, high = a + (b - a) * fx, c + (d - c) * fx
    return max(low + (high - low) * fy, 1e-12)


@woven
def rim_loss(forms: Forms, strip: Strip, u: int, x: float, y: float) -> float:
    """How badly a form at (x, y) leaves the metal or passes the line."""
    body, room = forms.body, strip.room
    over = max(0.0, room[0] - x - body[u, 0]) + max(0.0, x + body[u, 2] - strip.line[0])
    over += max(0.0, room[1] - y - body[u, 1]) + max(0.0, y + body[u, 3] - room[2])
    if over <= 0.0:
        return 0.0
    return 2.0 * np.sqrt(over + 0.01 * forms.size[u]) * forms.size[u]


@woven
def between(
    forms: Forms, tables: Tables, u: int, x: float, y: float, v: int, strip: Strip, j: int
) -> float:
    """The loss between form u at (x, y) and piece j, which has form v."""
    dx, dy = x - strip.pose[j, 0], y - strip.pose[j, 1]
    if u <= v:
        return pair_loss(forms, tables, u, v, dx, dy)
    return pair_loss(forms, tables, v, u, -dx, -dy)


@compiled
def evaluate(
    forms: Forms, tables: Tables, strip: Strip, i: int, u: int, x: float, y: float, limit: float
) -> float:
    """The weighted loss of piece i as form u at (x, y); given up as soon as it exceeds `limit`."""
    strip.tally[0] += 1
    total = strip.rim_weight[i] * rim_loss(forms, strip, u, x, y)
    if total >= limit:
        return total
    box = strip.box
    x0, y0 = x + forms.box[u, 0], y + forms.box[u, 1]
    x1, y1 = x + forms.box[u, 2], y + forms.box[u, 3]
    for j in range(box.shape[1]):
        if box[0, j] >= x1 or box[2, j] <= x0 or box[1, j] >= y1 or box[3, j] <= y0 or j == i:
            continue
        loss = between(forms, tables, u, x, y, strip.form[j], strip, j)
        if loss > 0.0:
            total += strip.weight[i, j] * loss
            if total >= limit:
                return total
    return total


@compiled
def put(forms: Forms, strip: Strip, i: int) -> None:
    """Lay piece i at its pose."""
    u, x, y = strip.form[i], strip.pose[i, 0], strip.pose[i, 1]
    strip.box[0, i], strip.box[1, i] = x + forms.box[u, 0], y + forms.box[u, 1]
    strip.box[2, i], strip.box[3, i] = x + forms.box[u, 2], y + forms.box[u, 3]


@compiled
def refresh(forms: Forms, tables: Tables, strip: Strip, i: int) -> None:
    """Lay piece i and find its losses against the metal and all others, both ways."""
    put(forms, strip, i)
    u, x, y = strip.form[i], strip.pose[i, 0], strip.pose[i, 1]
    strip.rim_loss[i] = rim_loss(forms, strip, u, x, y)
    box = strip.box
    for j in range(box.shape[1]):
        if j == i:
            continue
        loss = 0.0
        if (
            box[0, j] < box[2, i]
            and box[2, j] > box[0, i]
            and box[1, j] < box[3, i]
            and box[3, j] > box[1, i]
        ):
            loss = between(forms, tables, u, x, y, strip.form[j], strip, j)
        strip.loss[i, j] = strip.loss[j, i] = loss
