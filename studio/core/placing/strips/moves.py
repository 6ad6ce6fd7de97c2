"""One piece of a strip moved to where it overlaps least, and every piece in conflict in turn.

The same guided local search as `separating.separation`, on the tables of `pairs`.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.separating.conflicts import in_conflict, shuffle_conflicts, total_loss
from studio.core.placing.separating.kernels import Floats, Ints

from .kernels import HIGH, LEFT, LINE, LOW, Strip, evaluate, put, refresh
from .pairs import BODY, LONG, LONG_END, REACH, SHAPE, SOLID, SOLID_END, Forms, Tables

UNIFORM, NEARBY, TOUCHING = 100, 20, 60  # places tried for one move
KEPT = 6  # of them refined
ALIKE = 0.1  # two places no further apart, by the mean width, would be refined into one
STEPS = ((0.15, 0.01), (0.01, 0.0002))  # of refining, first and last, by the mean width
EMPTY_HANDED = 1e300


@woven
def somewhere(forms: Forms, strip: Strip, u: int) -> None:
    """Anywhere on the metal before the line."""
    extent, bounds, out = forms.extent, strip.bounds, strip.spot
    x0, x1 = bounds[LEFT] - extent[u, BODY], bounds[LINE] - extent[u, BODY + 2]
    y0, y1 = bounds[LOW] - extent[u, BODY + 1], bounds[HIGH] - extent[u, BODY + 3]
    out[0] = x0 + np.random.random() * max(0.0, x1 - x0)
    out[1] = y0 + np.random.random() * max(0.0, y1 - y0)


@woven
def against_a_wall(forms: Forms, strip: Strip, u: int) -> None:
    """Anywhere along one of the four walls, or in a corner."""
    extent, bounds, out = forms.extent, strip.bounds, strip.spot
    somewhere(forms, strip, u)
    pick = np.random.randint(0, 6)
    if pick in (0, 4):
        out[0] = bounds[LEFT] - extent[u, BODY]
    elif pick in (1, 5):
        out[0] = bounds[LINE] - extent[u, BODY + 2]
    if pick == 2 or (pick >= 4 and np.random.random() < 0.5):
        out[1] = bounds[LOW] - extent[u, BODY + 1]
    elif pick >= 3:
        out[1] = bounds[HIGH] - extent[u, BODY + 3]


@woven
def flush(forms: Forms, strip: Strip, i: int, u: int) -> bool:
    """A long edge laid on another piece's edge that runs against it, at random."""
    form, long, laid = forms.form, forms.long, strip.form
    n = strip.pose.shape[0]
    begin, end = form[u, LONG], form[u, LONG_END]
    if begin == end or n < 2:
        return False
    own = begin + np.random.randint(0, end - begin)
    for _ in range(6):
        j = np.random.randint(0, n)
        if j == i:
            continue
        first, last = form[laid[j], LONG], form[laid[j], LONG_END]
        if first == last:
            continue
        e = first + np.random.randint(0, last - first)
        for _ in range(last - first):
            e = e + 1 if e + 1 < last else first
            if abs(abs(long[e, 4] - long[own, 4]) - np.pi) > 1e-6:
                continue
            pick = np.random.random()
            if pick < 0.35:
                f, g = 1.0, 0.0  # our beginning on its end
            elif pick < 0.7:
                f, g = 0.0, 1.0
            else:
                f, g = np.random.random(), np.random.random()
            bring_together(strip, long, own, g, j, e, f)
            return True
    return False


@woven
def touch(forms: Forms, strip: Strip, i: int, u: int) -> None:
    """A corner laid on another piece's corner or edge, or an edge on its corner, at random."""
    form, laid = forms.form, strip.form
    j = np.random.randint(0, strip.pose.shape[0])
    if j == i:
        j = (j + 1) % strip.pose.shape[0]
    own = np.random.randint(form[u, SOLID], form[u, SOLID_END])
    e = np.random.randint(form[laid[j], SOLID], form[laid[j], SOLID_END])
    f = g = 0.0
    pick = np.random.random()
    if pick < 0.25:
        f = np.random.random()
    elif pick < 0.5:
        g = np.random.random()
    bring_together(strip, forms.solid, own, g, j, e, f)


@woven
def bring_together(
    strip: Strip, edges: Floats, own: int, g: float, j: int, e: int, f: float
) -> None:
    """Lay the point at share g of edge `own` on that at share f of piece j's edge e."""
    pose, out = strip.pose, strip.spot
    out[0] = pose[j, 0] + edges[e, 0] + f * (edges[e, 2] - edges[e, 0])
    out[1] = pose[j, 1] + edges[e, 1] + f * (edges[e, 3] - edges[e, 1])
    out[0] -= edges[own, 0] + g * (edges[own, 2] - edges[own, 0])
    out[1] -= edges[own, 1] + g * (edges[own, 3] - edges[own, 1])


@compiled
def refine(
    forms: Forms, tables: Tables, strip: Strip, i: int, k: int, step: float, least: float
) -> None:
    """Improve a kept place by steps along random axes, halved where they fail."""
    spot, u, value = strip.kept[k], strip.kept_form[k], strip.value[k]
    dx = dy = 0.0
    turn_back = False
    while step > least and value > 0.0:
        if turn_back:
            dx, dy = -dx, -dy
        else:
            axis = np.random.randint(0, 4)
            dx = step if axis == 0 else 0.0 if axis == 1 else step * 0.7071
            dy = 0.0 if axis == 0 else step if axis == 1 else step * 0.7071
            if axis == 3:
                dy = -dy
        x, y = spot[0] + dx, spot[1] + dy
        found = evaluate(forms, tables, strip, i, u, x, y, value)
        if found < value:
            value = found
            spot[0], spot[1] = x, y
            step *= 1.1
            turn_back = False
        elif turn_back:
            step *= 0.5
            turn_back = False
        else:
            turn_back = True
    strip.value[k] = value


@woven
def place_beside(strip: Strip, u: int, away: float, other: int) -> int:
    """The kept place that is nearly the one at hand, or else `other`."""
    kept, spot = strip.kept, strip.spot
    for k in range(KEPT):
        near = abs(kept[k, 0] - spot[0]) < away and abs(kept[k, 1] - spot[1]) < away
        if near and strip.kept_form[k] == u and strip.value[k] < EMPTY_HANDED:
            return k
    return other


@woven
def try_places(forms: Forms, tables: Tables, strip: Strip, i: int) -> None:
    """Keep the best of places nearby, touching others or the walls, and anywhere."""
    kept, value, spot, pose = strip.kept, strip.value, strip.spot, strip.pose
    was = strip.form[i]
    shape = forms.form[was, SHAPE]
    near = forms.extent[was, REACH]
    for tried in range(NEARBY + TOUCHING + UNIFORM):
        u = was
        if tried < NEARBY:
            spot[0] = pose[i, 0] + (np.random.random() - 0.5) * near
            spot[1] = pose[i, 1] + (np.random.random() - 0.5) * near
        else:
            u = np.random.randint(forms.at[shape], forms.at[shape + 1])
            if tried >= NEARBY + TOUCHING:
                somewhere(forms, strip, u)
            elif np.random.random() < 0.15:
                against_a_wall(forms, strip, u)
            elif not flush(forms, strip, i, u):
                touch(forms, strip, i, u)
        worst = 0
        for k in range(1, KEPT):
            if value[k] > value[worst]:
                worst = k
        found = evaluate(forms, tables, strip, i, u, spot[0], spot[1], value[worst])
        if found < value[worst]:
            at = place_beside(strip, u, ALIKE * near, worst)
            if found >= value[at]:
                continue
            value[at] = found
            kept[at, 0], kept[at, 1] = spot[0], spot[1]
            strip.kept_form[at] = u
            if found <= 0.0:
                return


@compiled
def move(forms: Forms, tables: Tables, strip: Strip, i: int) -> bool:
    """Move piece i to the least weighted overlap found; whether it moved."""
    kept, value, pose = strip.kept, strip.value, strip.pose
    now = strip.rim_weight[i] * strip.rim_loss[i]
    for j in range(pose.shape[0]):
        now += strip.weight[i, j] * strip.loss[i, j]
    for k in range(KEPT):
        value[k] = EMPTY_HANDED
    kept[0, 0], kept[0, 1] = pose[i, 0], pose[i, 1]
    strip.kept_form[0] = strip.form[i]
    value[0] = now
    try_places(forms, tables, strip, i)
    best = 0
    for k in range(KEPT + 1):
        at = k if k < KEPT else best  # at last the best, more finely
        if value[best] <= 0.0:
            break
        if value[at] < EMPTY_HANDED:
            coarse, fine = STEPS[k // KEPT]
            wide = forms.extent[strip.kept_form[at], REACH]
            refine(forms, tables, strip, i, at, coarse * wide, fine * wide)
        if value[at] < value[best]:
            best = at
    for k in range(KEPT):
        if value[k] < value[best]:
            best = k
    if value[best] < now:
        pose[i, 0], pose[i, 1] = kept[best, 0], kept[best, 1]
        strip.form[i] = strip.kept_form[best]
        refresh(forms, tables, strip, i)
        return True
    return False


@compiled
def shuffle_pass(forms: Forms, tables: Tables, strip: Strip, stop: Ints) -> float:
    """Move every piece that is in conflict once, in random order; the loss that is left."""
    for a in range(shuffle_conflicts(strip)):
        if in_conflict(strip, strip.order[a]):
            move(forms, tables, strip, strip.order[a])
        if stop[0] != 0:
            break
    return total_loss(strip)


@compiled
def lay_all(forms: Forms, tables: Tables, strip: Strip) -> None:
    """Lay every piece at its pose and find all losses."""
    n = strip.pose.shape[0]
    for i in range(n):
        put(forms, strip, i)
    for i in range(n):
        refresh(forms, tables, strip, i)


@compiled
def furthest(forms: Forms, strip: Strip) -> float:
    """The right end of the pieces' true outlines."""
    right = -np.inf
    for i in range(strip.pose.shape[0]):
        right = max(right, strip.pose[i, 0] + forms.extent[strip.form[i], BODY + 2])
    return right
