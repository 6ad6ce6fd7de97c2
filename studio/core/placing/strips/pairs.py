"""Does one piece of a strip overlap another, and how badly: looked up where it is known already.

In a strip pieces lie at listed turns only and the metal is one rectangle, so everything about two
pieces follows from which forms they have and how far one is shifted from the other. For every
two forms a table over that shift is filled while the search runs: for each of its cells whether
shifts in it are all free, all in conflict, or differ; then which pairs of edges can cross there.
Whether pieces overlap is exact. How badly is read off between the cell's corners.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studio.core.placing.compiled import compiled, compiled_sum, woven
from studio.core.placing.separating.kernels import Floats, Ints, crossing

Numbers = npt.NDArray[np.int32]
States = npt.NDArray[np.uint8]
Losses = npt.NDArray[np.float32]
Pairs = npt.NDArray[np.uint16]

UNKNOWN, FREE, HIT, MIXED = range(4)
NO_ROOM = -1  # in place of a list: all pairs of edges are tried
LONGEST = 65_535  # pairs in one list, and edges of one form that can be told apart in it
HAIR = 1e-3  # more than what `moving` is shrunk by

# columns of Forms.form: what follows from a form alone
SHAPE, MOVING, MOVING_END, SOLID, SOLID_END, POLES, POLES_END, LONG, LONG_END = range(9)
# columns of Forms.extent, behind the box of the solid: box of the true outline (less a hair), sizes
BODY, SIZE, REACH = 4, 8, 9


class Forms(NamedTuple):
    """Every piece at each of its listed turns, mirrored or not; forms of a piece are neighbours."""

    form: Ints  # (forms, 9)
    extent: Floats  # (forms, 10)
    at: Ints  # forms of shape k: at[k] to at[k + 1]
    moving: Floats  # (edges, 4): grown by half the kerf, shrunk by a hair
    solid: Floats  # (edges, 4): grown by half the kerf
    poles: Floats  # (3, circles): x, y, radius
    long: Floats  # (edges, 5): long edges of the solid and their headings, metal on the left


class Tables(NamedTuple):
    """What is known of any two forms by the shift of the first from the second.

    Two forms that are two others turned alike share their table, so that it stays near.
    """

    number: Numbers  # (forms, forms): which table
    twist: Floats  # (forms, forms, 2): what turns (and scales by ±1) a shift into the table's own
    forms: Ints  # (tables, 2): the table's own forms
    origin: Floats  # (tables, 4): least shift x, y; cells per mm along x, y
    # small numbers apart from large ones, so that what is asked most often stays near
    state: States  # (tables, cells, cells): what holds for the shifts in a cell
    loss: Losses  # (tables, cells + 1, cells + 1): at the cells' corners; NaN where not known yet
    lists: Numbers  # (tables, cells, cells): where the list of a cell in which shifts differ begins
    # (…, 2): first how many pairs follow and whether one form may also lie within the other
    # without a crossing; then the pairs, an edge of `moving` and one of `solid` that can cross,
    # counted within their forms
    pairs: Pairs
    filled: Numbers  # how many rows of `pairs` there are


@compiled
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
def nested(forms: Forms, u: int, v: int, dx: float, dy: float) -> bool:
    """Whether one of two forms whose edges do not cross lies within the other.

    Their boxes are asked first: a corner that lies on an edge, to the last digit, is contact,
    however the parity of that edge comes out.
    """
    extent, moving, solid = forms.extent, forms.moving, forms.solid
    first, base = forms.form[u, MOVING], forms.form[v, SOLID]
    x0, x1 = extent[u, 0] + dx - extent[v, 0], extent[u, 2] + dx - extent[v, 2]
    y0, y1 = extent[u, 1] + dy - extent[v, 1], extent[u, 3] + dy - extent[v, 3]
    if x0 > -HAIR and x1 < HAIR and y0 > -HAIR and y1 < HAIR:
        ax, ay = moving[first, 0] + dx, moving[first, 1] + dy
        if within(solid, base, forms.form[v, SOLID_END], ax, ay):
            return True
    if x0 < 0.0 and x1 > 0.0 and y0 < 0.0 and y1 > 0.0:
        bx, by = solid[base, 0] - dx, solid[base, 1] - dy
        return within(moving, first, forms.form[u, MOVING_END], bx, by)
    return False


@compiled
def overlap(forms: Forms, u: int, v: int, dx: float, dy: float) -> bool:
    """Whether form u, shifted by (dx, dy) from form v, overlaps it: exact."""
    form, extent, moving, solid = forms.form, forms.extent, forms.moving, forms.solid
    x0, x1 = max(extent[u, 0] + dx, extent[v, 0]), min(extent[u, 2] + dx, extent[v, 2])
    y0, y1 = max(extent[u, 1] + dy, extent[v, 1]), min(extent[u, 3] + dy, extent[v, 3])
    if x0 >= x1 or y0 >= y1:
        return False
    for k in range(form[u, MOVING], form[u, MOVING_END]):
        ax, ay = moving[k, 0] + dx, moving[k, 1] + dy
        bx, by = moving[k, 2] + dx, moving[k, 3] + dy
        ex0, ex1 = min(ax, bx), max(ax, bx)
        ey0, ey1 = min(ay, by), max(ay, by)
        if ex1 < x0 or ex0 > x1 or ey1 < y0 or ey0 > y1:
            continue
        for q in range(form[v, SOLID], form[v, SOLID_END]):
            cx, cy, ex, ey = solid[q, 0], solid[q, 1], solid[q, 2], solid[q, 3]
            if max(cx, ex) < ex0 or min(cx, ex) > ex1 or max(cy, ey) < ey0 or min(cy, ey) > ey1:
                continue
            if crossing(ax, ay, bx, by, cx, cy, ex, ey):
                return True
    return nested(forms, u, v, dx, dy)


@woven
def aside(
    ax: float,
    ay: float,
    bx: float,
    by: float,
    cx: float,
    cy: float,
    ex: float,
    ey: float,
    away: float,
) -> bool:
    """Whether c and e lie on the same side of the line a-b, both further from it than `away`."""
    ux, uy = bx - ax, by - ay
    far = away * np.sqrt(ux * ux + uy * uy)
    c = ux * (cy - ay) - uy * (cx - ax)
    e = ux * (ey - ay) - uy * (ex - ax)
    return (c > far and e > far) or (c < -far and e < -far)


@compiled
def settle(
    forms: Forms, tables: Tables, p: int, i: int, j: int, dx: float, dy: float, wx: float, wy: float
) -> int:
    """What holds for all shifts no further than (wx, wy) from (dx, dy).

    Where they differ, the pairs of edges that can cross are listed, as far as there is room.
    """
    form, extent = forms.form, forms.extent
    moving, solid, poles = forms.moving, forms.solid, forms.poles
    lists, pairs = tables.lists, tables.pairs
    u, v = tables.forms[p, 0], tables.forms[p, 1]
    first, first_end = form[u, MOVING], form[u, MOVING_END]
    base, base_end = form[v, SOLID], form[v, SOLID_END]
    away = np.sqrt(wx * wx + wy * wy)
    for k in range(form[u, POLES], form[u, POLES_END]):
        for m in range(form[v, POLES], form[v, POLES_END]):
            qx, qy = poles[0, k] + dx - poles[0, m], poles[1, k] + dy - poles[1, m]
            r = poles[2, k] + poles[2, m] - away
            if r > 0.0 and qx * qx + qy * qy < r * r:
                return HIT
    begin = tables.filled[0]
    at = begin + 1
    fits = max(first_end - first, base_end - base) <= LONGEST
    for k in range(first, first_end):
        ax, ay = moving[k, 0] + dx, moving[k, 1] + dy
        bx, by = moving[k, 2] + dx, moving[k, 3] + dy
        ex0, ex1 = min(ax, bx) - wx, max(ax, bx) + wx
        ey0, ey1 = min(ay, by) - wy, max(ay, by) + wy
        for q in range(base, base_end):
            cx, cy, ex, ey = solid[q, 0], solid[q, 1], solid[q, 2], solid[q, 3]
            if max(cx, ex) < ex0 or min(cx, ex) > ex1 or max(cy, ey) < ey0 or min(cy, ey) > ey1:
                continue
            if aside(ax, ay, bx, by, cx, cy, ex, ey, away):
                continue
            if aside(cx, cy, ex, ey, ax, ay, bx, by, away):
                continue
            if not fits or at >= pairs.shape[0] or at - begin > LONGEST:
                lists[p, i, j] = NO_ROOM
                return MIXED
            pairs[at, 0], pairs[at, 1] = k - first, q - base
            at += 1
    if at == begin + 1:
        return HIT if nested(forms, u, v, dx, dy) else FREE
    x0, x1 = extent[u, 0] + dx - extent[v, 0], extent[u, 2] + dx - extent[v, 2]
    y0, y1 = extent[u, 1] + dy - extent[v, 1], extent[u, 3] + dy - extent[v, 3]
    # what lies inside is smaller than its box by a hair
    inside = x0 > -wx - HAIR and x1 < wx + HAIR and y0 > -wy - HAIR and y1 < wy + HAIR
    around = x0 < wx and x1 > -wx and y0 < wy and y1 > -wy
    lists[p, i, j] = begin
    pairs[begin, 0], pairs[begin, 1] = at - begin - 1, inside or around
    tables.filled[0] = at
    return MIXED


@woven
def listed_overlap(
    forms: Forms, tables: Tables, p: int, i: int, j: int, dx: float, dy: float
) -> bool:
    """The same as `overlap` of a table's own forms, by what is listed for the cell."""
    moving, solid, pairs = forms.moving, forms.solid, tables.pairs
    u, v = tables.forms[p, 0], tables.forms[p, 1]
    head = tables.lists[p, i, j]
    if head == NO_ROOM:
        return overlap(forms, u, v, dx, dy)
    first, base = forms.form[u, MOVING], forms.form[v, SOLID]
    for at in range(head + 1, head + 1 + pairs[head, 0]):
        k, q = first + pairs[at, 0], base + pairs[at, 1]
        if crossing(
            moving[k, 0] + dx,
            moving[k, 1] + dy,
            moving[k, 2] + dx,
            moving[k, 3] + dy,
            solid[q, 0],
            solid[q, 1],
            solid[q, 2],
            solid[q, 3],
        ):
            return True
    return pairs[head, 1] != 0 and nested(forms, u, v, dx, dy)


@compiled_sum
def node_loss(forms: Forms, u: int, v: int, dx: float, dy: float) -> float:
    """How deeply the circles of two forms overlap, smoothly continued where they do not."""
    poles, first, other = forms.poles, forms.extent[u, SIZE], forms.extent[v, SIZE]
    small = 0.01 * max(first, other)
    total = 0.0
    for k in range(forms.form[u, POLES], forms.form[u, POLES_END]):
        px, py, pr = poles[0, k] + dx, poles[1, k] + dy, poles[2, k]
        for m in range(forms.form[v, POLES], forms.form[v, POLES_END]):
            qx, qy, qr = px - poles[0, m], py - poles[1, m], poles[2, m]
            inside = pr + qr - np.sqrt(qx * qx + qy * qy)
            deep = inside if inside >= small else small * small / (2.0 * small - inside)
            total += deep * min(pr, qr)
    return np.sqrt(total) * np.sqrt(np.sqrt(first * other))


@compiled
def fill(forms: Forms, tables: Tables, p: int, i: int, j: int) -> int:
    """Find out what holds in a cell, and the loss at its corners where that is wanted."""
    origin, loss = tables.origin, tables.loss
    wide, high = 1.0 / origin[p, 2], 1.0 / origin[p, 3]
    x, y = origin[p, 0] + j * wide, origin[p, 1] + i * high
    # a little more than half the cell: shifts are rounded to theirs
    known = settle(
        forms, tables, p, i, j, x + 0.5 * wide, y + 0.5 * high, 0.5001 * wide, 0.5001 * high
    )
    if known != FREE:
        u, v = tables.forms[p, 0], tables.forms[p, 1]
        for k in range(4):
            down, across = k // 2, k % 2
            if np.isnan(loss[p, i + down, j + across]):
                loss[p, i + down, j + across] = node_loss(
                    forms, u, v, x + across * wide, y + down * high
                )
    tables.state[p, i, j] = known
    return known


@woven
def pair_loss(forms: Forms, tables: Tables, u: int, v: int, dx: float, dy: float) -> float:
    """How badly form u, shifted by (dx, dy) from form v, overlaps it; 0 exactly where not."""
    origin, state, loss = tables.origin, tables.state, tables.loss
    p = tables.number[u, v]
    c, s = tables.twist[u, v, 0], tables.twist[u, v, 1]
    dx, dy = dx * c - dy * s, dx * s + dy * c
    most = state.shape[1] - 1
    fx, fy = (dx - origin[p, 0]) * origin[p, 2], (dy - origin[p, 1]) * origin[p, 3]
    i, j = min(max(int(fy), 0), most), min(max(int(fx), 0), most)
    known = state[p, i, j]
    if known == UNKNOWN:
        known = fill(forms, tables, p, i, j)
    if known == FREE or (known == MIXED and not listed_overlap(forms, tables, p, i, j, dx, dy)):
        return 0.0
    fx, fy = fx - j, fy - i
    low = loss[p, i, j] + (loss[p, i, j + 1] - loss[p, i, j]) * fx
    top = loss[p, i + 1, j] + (loss[p, i + 1, j + 1] - loss[p, i + 1, j]) * fx
    return low + (top - low) * fy
