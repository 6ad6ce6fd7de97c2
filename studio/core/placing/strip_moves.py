"""One piece of a strip moved to where it overlaps least, and every piece in conflict in turn.

The same guided local search as `separation`, on the tables of `strip_kernels`.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.kernels import Floats, Ints
from studio.core.placing.strip_kernels import (
    BODY,
    EVALUATIONS,
    HIGH,
    LEFT,
    LINE,
    LONG,
    LONG_END,
    LOW,
    REACH,
    SHAPE,
    Cells,
    Forms,
    Numbers,
    Strip,
    Tables,
    evaluate,
    put,
    refresh,
)

UNIFORM, NEARBY, FLUSH = 26, 14, 22  # places tried for one move
KEPT = 3  # of them refined
STEPS = ((0.15, 0.01), (0.01, 0.0002))  # of refining, first and last, by the mean width
EMPTY_HANDED = 1e300


@woven
def somewhere(extent: Floats, bounds: Floats, u: int, out: Floats) -> None:
    """Anywhere on the metal before the line."""
    x0, x1 = bounds[LEFT] - extent[u, BODY], bounds[LINE] - extent[u, BODY + 2]
    y0, y1 = bounds[LOW] - extent[u, BODY + 1], bounds[HIGH] - extent[u, BODY + 3]
    out[0] = x0 + np.random.random() * max(0.0, x1 - x0)
    out[1] = y0 + np.random.random() * max(0.0, y1 - y0)


@compiled
def against_a_wall(extent: Floats, bounds: Floats, u: int, out: Floats) -> None:
    """Anywhere along one of the four walls, or in a corner."""
    somewhere(extent, bounds, u, out)
    pick = np.random.randint(0, 6)
    if pick in (0, 4):
        out[0] = bounds[LEFT] - extent[u, BODY]
    elif pick in (1, 5):
        out[0] = bounds[LINE] - extent[u, BODY + 2]
    if pick == 2 or (pick >= 4 and np.random.random() < 0.5):
        out[1] = bounds[LOW] - extent[u, BODY + 1]
    elif pick >= 3:
        out[1] = bounds[HIGH] - extent[u, BODY + 3]


@compiled
def flush(form: Ints, long: Floats, pose: Floats, laid: Ints, i: int, u: int, out: Floats) -> bool:
    """A long edge laid on another piece's edge that runs against it, at random."""
    n = pose.shape[0]
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
        skip = np.random.randint(0, last - first)
        for k in range(last - first):
            e = first + (skip + k) % (last - first)
            if abs(abs(long[e, 4] - long[own, 4]) - np.pi) > 1e-6:
                continue
            pick = np.random.random()
            if pick < 0.35:
                f, g = 1.0, 0.0  # our beginning on its end
            elif pick < 0.7:
                f, g = 0.0, 1.0
            else:
                f, g = np.random.random(), np.random.random()
            out[0] = pose[j, 0] + long[e, 0] + f * (long[e, 2] - long[e, 0])
            out[1] = pose[j, 1] + long[e, 1] + f * (long[e, 3] - long[e, 1])
            out[0] -= long[own, 0] + g * (long[own, 2] - long[own, 0])
            out[1] -= long[own, 1] + g * (long[own, 3] - long[own, 1])
            return True
    return False


@compiled
def refine(
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
    laid: Ints,
    box: Floats,
    weight: Floats,
    rim_weight: float,
    bounds: Floats,
    tally: Ints,
    i: int,
    u: int,
    spot: Floats,
    value: float,
    step: float,
    least: float,
) -> float:
    """Improve a place by steps along random axes, halved where they fail; the value reached."""
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
        tally[EVALUATIONS] += 1
        found = evaluate(
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
            pose,
            laid,
            box,
            weight,
            rim_weight,
            bounds,
            i,
            u,
            x,
            y,
            value,
        )
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
    return value


@compiled
def move(forms: Forms, tables: Tables, strip: Strip, i: int) -> bool:
    """Move piece i to the least weighted overlap found; whether it moved."""
    form, extent, moving, solid = forms.form, forms.extent, forms.moving, forms.solid
    poles, number, twist, own = forms.poles, tables.number, tables.twist, tables.forms
    origin, cells, box, pose = tables.origin, tables.cells, strip.box, strip.pose
    weight, bounds, laid, tally = strip.weight, strip.bounds, strip.form, strip.tally
    long = forms.long
    rim_weight = strip.rim_weight[i]
    was = laid[i]
    now = rim_weight * strip.rim_loss[i]
    for j in range(pose.shape[0]):
        now += weight[i, j] * strip.loss[i, j]
    kept = np.empty((KEPT, 2))
    kept_form = np.empty(KEPT, np.int64)
    value = np.full(KEPT, EMPTY_HANDED)
    spot = np.empty(2)
    kept[0] = pose[i]
    kept_form[0] = was
    value[0] = now
    near = extent[was, REACH]
    first, count = forms.at[form[was, SHAPE]], forms.at[form[was, SHAPE] + 1]
    for tried in range(NEARBY + FLUSH + UNIFORM):
        u = was
        if tried < NEARBY:
            spot[0] = pose[i, 0] + (np.random.random() - 0.5) * near
            spot[1] = pose[i, 1] + (np.random.random() - 0.5) * near
        else:
            u = np.random.randint(first, count)
            if tried >= NEARBY + FLUSH:
                somewhere(extent, bounds, u, spot)
            elif np.random.random() < 0.15:
                against_a_wall(extent, bounds, u, spot)
            elif not flush(form, long, pose, laid, i, u, spot):
                continue
        worst = 0
        for k in range(1, KEPT):
            if value[k] > value[worst]:
                worst = k
        tally[EVALUATIONS] += 1
        found = evaluate(
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
            pose,
            laid,
            box,
            weight,
            rim_weight,
            bounds,
            i,
            u,
            spot[0],
            spot[1],
            value[worst],
        )
        if found < value[worst]:
            value[worst] = found
            kept[worst] = spot
            kept_form[worst] = u
            if found <= 0.0:
                break
    best = 0
    for k in range(KEPT + 1):
        at = k if k < KEPT else best  # at last the best, more finely
        if value[best] <= 0.0:
            break
        if value[at] < EMPTY_HANDED:
            u = kept_form[at]
            coarse, fine = STEPS[k // KEPT]
            value[at] = refine(
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
                pose,
                laid,
                box,
                weight,
                rim_weight,
                bounds,
                tally,
                i,
                u,
                kept[at],
                value[at],
                coarse * extent[u, REACH],
                fine * extent[u, REACH],
            )
        if value[at] < value[best]:
            best = at
    for k in range(KEPT):
        if value[k] < value[best]:
            best = k
    if value[best] < now:
        pose[i] = kept[best]
        laid[i] = kept_form[best]
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
    found = False
    for j in range(strip.pose.shape[0]):
        found = found or strip.loss[i, j] > 0.0
    return found


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
        right = max(right, strip.pose[i, 0] + forms.extent[strip.form[i], BODY + 2])
    return right
