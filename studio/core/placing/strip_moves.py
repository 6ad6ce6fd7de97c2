"""One piece of a strip moved to where it overlaps least, and every piece in conflict in turn.

The same guided local search as `separation`, on the tables of `strip_kernels`.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.kernels import Floats, Ints
from studio.core.placing.strip_kernels import Forms, Strip, Tables, evaluate, put, refresh

UNIFORM, NEARBY, FLUSH = 26, 14, 22  # places tried for one move
KEPT = 3  # of them refined
EMPTY_HANDED = 1e300


@woven
def any_form(forms: Forms, u: int) -> int:
    """A form of the same piece at random."""
    shape = forms.shape[u]
    return np.random.randint(forms.at[shape], forms.at[shape + 1])


@woven
def somewhere(forms: Forms, strip: Strip, u: int, out: Floats) -> None:
    """Anywhere on the metal before the line."""
    body, room = forms.body, strip.room
    x0, x1 = room[0] - body[u, 0], strip.line[0] - body[u, 2]
    y0, y1 = room[1] - body[u, 1], room[2] - body[u, 3]
    out[0] = x0 + np.random.random() * max(0.0, x1 - x0)
    out[1] = y0 + np.random.random() * max(0.0, y1 - y0)


@compiled
def against_a_wall(forms: Forms, strip: Strip, u: int, out: Floats) -> None:
    """Anywhere along one of the four walls, or in a corner."""
    somewhere(forms, strip, u, out)
    body, room = forms.body, strip.room
    pick = np.random.randint(0, 6)
    if pick in (0, 4):
        out[0] = room[0] - body[u, 0]
    elif pick in (1, 5):
        out[0] = strip.line[0] - body[u, 2]
    if pick == 2 or (pick >= 4 and np.random.random() < 0.5):
        out[1] = room[1] - body[u, 1]
    elif pick >= 3:
        out[1] = room[2] - body[u, 3]


@compiled
def flush(forms: Forms, strip: Strip, i: int, u: int, out: Floats) -> bool:
    """A long edge laid on another piece's edge that runs against it, at random."""
    n = strip.pose.shape[0]
    begin, end = forms.edge_at[u], forms.edge_at[u + 1]
    if begin == end or n < 2:
        return False
    own = forms.edges[np.random.randint(begin, end)]
    for _ in range(6):
        j = np.random.randint(0, n)
        if j == i:
            continue
        v = strip.form[j]
        ob, oe = forms.edge_at[v], forms.edge_at[v + 1]
        if ob == oe:
            continue
        skip = np.random.randint(0, oe - ob)
        for k in range(oe - ob):
            e = ob + (skip + k) % (oe - ob)
            bend = abs(forms.edges[e, 4] - own[4])
            if abs(bend - np.pi) > 1e-6:
                continue
            other = forms.edges[e]
            x, y = strip.pose[j, 0], strip.pose[j, 1]
            pick = np.random.random()
            if pick < 0.35:
                out[0], out[1] = x + other[2] - own[0], y + other[3] - own[1]
            elif pick < 0.7:
                out[0], out[1] = x + other[0] - own[2], y + other[1] - own[3]
            else:
                f, g = np.random.random(), np.random.random()
                out[0] = x + other[0] + f * (other[2] - other[0]) - own[0] - g * (own[2] - own[0])
                out[1] = y + other[1] + f * (other[3] - other[1]) - own[1] - g * (own[3] - own[1])
            return True
    return False


@compiled
def refine(
    forms: Forms,
    tables: Tables,
    strip: Strip,
    i: int,
    u: int,
    pose: Floats,
    value: float,
    step: float,
    least: float,
) -> float:
    """Improve a pose by steps along random axes, halved where they fail; the value reached."""
    while step > least and value > 0.0:
        axis = np.random.randint(0, 4)
        dx = step if axis == 0 else 0.0 if axis == 1 else step * 0.7071
        dy = 0.0 if axis == 0 else step if axis == 1 else step * 0.7071
        if axis == 3:
            dy = -dy
        found = evaluate(forms, tables, strip, i, u, pose[0] + dx, pose[1] + dy, value)
        if found >= value:
            dx, dy = -dx, -dy
            found = evaluate(forms, tables, strip, i, u, pose[0] + dx, pose[1] + dy, value)
        if found < value:
            value = found
            pose[0] += dx
            pose[1] += dy
            step *= 1.1
        else:
            step *= 0.5
    return value


@compiled
def move(forms: Forms, tables: Tables, strip: Strip, i: int) -> bool:
    """Move piece i to the least weighted overlap found; whether it moved."""
    own = strip.form[i]
    now = evaluate(forms, tables, strip, i, own, strip.pose[i, 0], strip.pose[i, 1], EMPTY_HANDED)
    if now <= 0.0:
        refresh(forms, tables, strip, i)
        return False
    kept = np.empty((KEPT, 2))
    kept_form = np.empty(KEPT, np.int64)
    value = np.full(KEPT, EMPTY_HANDED)
    pose = np.empty(2)
    near = 0.5 * forms.reach[own]
    kept[0] = strip.pose[i]
    kept_form[0] = own
    value[0] = now
    for number in range(UNIFORM + NEARBY + FLUSH):
        u = own if number < NEARBY else any_form(forms, own)
        if number < NEARBY:
            pose[0] = strip.pose[i, 0] + (np.random.random() - 0.5) * 2.0 * near
            pose[1] = strip.pose[i, 1] + (np.random.random() - 0.5) * 2.0 * near
        elif number < NEARBY + FLUSH:
            if np.random.random() < 0.15:
                against_a_wall(forms, strip, u, pose)
            elif not flush(forms, strip, i, u, pose):
                continue
        else:
            somewhere(forms, strip, u, pose)
        worst = 0
        for k in range(1, KEPT):
            if value[k] > value[worst]:
                worst = k
        found = evaluate(forms, tables, strip, i, u, pose[0], pose[1], value[worst])
        if found < value[worst]:
            value[worst] = found
            kept[worst] = pose
            kept_form[worst] = u
            if found <= 0.0:
                break
    best = 0
    for k in range(KEPT):
        if 0.0 < value[k] < EMPTY_HANDED:
            u = kept_form[k]
            reach = forms.reach[u]
            value[k] = refine(
                forms, tables, strip, i, u, kept[k], value[k], 0.15 * reach, 0.01 * reach
            )
        if value[k] < value[best]:
            best = k
    u = kept_form[best]
    if value[best] > 0.0:
        reach = forms.reach[u]
        value[best] = refine(
            forms, tables, strip, i, u, kept[best], value[best], 0.01 * reach, 0.0002 * reach
        )
    if value[best] < now:
        strip.pose[i] = kept[best]
        strip.form[i] = u
        refresh(forms, tables, strip, i)
        return True
    return False


@compiled
def total_loss(strip: Strip) -> float:
    n = strip.pose.shape[0]
    total = 0.0
    for i in range(n):
        total += strip.rim_loss[i]
        for j in range(i):
            total += strip.loss[i, j]
    return total


@woven
def in_conflict(strip: Strip, i: int) -> bool:
    if strip.rim_loss[i] > 0.0:
        return True
    for j in range(strip.pose.shape[0]):
        if strip.loss[i, j] > 0.0:
            return True
    return False


@compiled
def shuffle_pass(forms: Forms, tables: Tables, strip: Strip, stop: Ints) -> float:
    """Move every piece that is in conflict once, in random order; the loss that is left."""
    count = 0
    for i in range(strip.pose.shape[0]):
        if in_conflict(strip, i):
            strip.order[count] = i
            count += 1
    for a in range(count - 1, 0, -1):
        b = np.random.randint(0, a + 1)
        strip.order[a], strip.order[b] = strip.order[b], strip.order[a]
    for a in range(count):
        if in_conflict(strip, strip.order[a]):
            move(forms, tables, strip, strip.order[a])
        if stop[0] != 0:
            break
    return total_loss(strip)


@compiled
def raise_weights(strip: Strip) -> None:
    """Make what still overlaps dearer, the worst most, and let the rest fade."""
    n = strip.pose.shape[0]
    worst = 1e-300
    for i in range(n):
        worst = max(worst, strip.rim_loss[i])
        for j in range(i):
            worst = max(worst, strip.loss[i, j])
    for i in range(n):
        if strip.rim_loss[i] > 0.0:
            strip.rim_weight[i] *= 1.2 + 0.8 * strip.rim_loss[i] / worst
        else:
            strip.rim_weight[i] = max(1.0, strip.rim_weight[i] * 0.95)
        for j in range(i):
            if strip.loss[i, j] > 0.0:
                w = strip.weight[i, j] * (1.2 + 0.8 * strip.loss[i, j] / worst)
            else:
                w = max(1.0, strip.weight[i, j] * 0.95)
            strip.weight[i, j] = strip.weight[j, i] = min(w, 1e12)


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
        right = max(right, strip.pose[i, 0] + forms.body[strip.form[i], 2])
    return right
