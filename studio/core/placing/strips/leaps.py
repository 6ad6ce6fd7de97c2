"""One step of a walk over layouts of a strip: a change, and what then overlaps moved apart.

Small changes seldom lead far and often succeed, large ones the other way round; a walk
(`walk`) takes all kinds, at random.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled
from studio.core.placing.separating.conflicts import copy_plan, raise_weights
from studio.core.placing.separating.kernels import Ints

from .drawing_in import IDLE, Hunt, begin, draw, go_back, keep_if_least, swap, swap_two_large
from .kernels import BEST, LEFT, LINE, Strip, put
from .moves import lay_all, shuffle_pass, somewhere
from .pairs import SHAPE, Forms, Tables

# what is changed at first: two large pieces change places, any two, two that are near each other;
# one is laid anywhere, or at another of its turns; the line is drawn in
KINDS = 6
LARGE, ANY, NEAR, ANYWHERE, TURNED, DRAWN = range(KINDS)
DOWN = 0.003  # by which the line is drawn in, as a share of the length
FEW = 12  # passes without progress before going back to the least overlap, or giving up
# a step is given up where after so many passes more is left than so many times what is worth
# pressing: that ended well (no more than 0.3 per cent longer) in at most 5 of 100 such
SOON, LATER = (8, 2.0), (32, 1.2)


@compiled
def swap_any(forms: Forms, strip: Strip) -> None:
    """Two pieces of different shapes change places."""
    n = strip.pose.shape[0]
    for _ in range(40):
        a, b = np.random.randint(0, n), np.random.randint(0, n)
        if forms.form[strip.form[a], SHAPE] != forms.form[strip.form[b], SHAPE]:
            swap(strip, a, b)
            return


@compiled
def swap_near(forms: Forms, strip: Strip) -> None:
    """A piece and one of the nearest that have another shape change places."""
    n, box = strip.pose.shape[0], strip.box
    a = np.random.randint(0, n)
    nearest, least = -1, np.inf
    for b in range(n):
        if forms.form[strip.form[a], SHAPE] == forms.form[strip.form[b], SHAPE]:
            continue
        dx = box[0, a] + box[2, a] - box[0, b] - box[2, b]
        dy = box[1, a] + box[3, a] - box[1, b] - box[3, b]
        far = (dx * dx + dy * dy) * (0.2 + np.random.random())
        if far < least:
            nearest, least = b, far
    if nearest >= 0:
        swap(strip, a, nearest)


@compiled
def lay_anywhere(forms: Forms, strip: Strip) -> None:
    """One piece is laid anywhere, at any of its turns."""
    a = np.random.randint(0, strip.pose.shape[0])
    shape = forms.form[strip.form[a], SHAPE]
    strip.form[a] = np.random.randint(forms.at[shape], forms.at[shape + 1])
    somewhere(forms, strip, strip.form[a])
    strip.pose[a, 0], strip.pose[a, 1] = strip.spot[0], strip.spot[1]


@compiled
def turn_one(forms: Forms, strip: Strip) -> bool:
    """One piece is turned to another of its forms where it lies; whether it has another."""
    a = np.random.randint(0, strip.pose.shape[0])
    shape = forms.form[strip.form[a], SHAPE]
    first, count = forms.at[shape], forms.at[shape + 1] - forms.at[shape]
    if count < 2:
        return False
    step = 1 + np.random.randint(0, count - 1)
    strip.form[a] = first + (strip.form[a] - first + step) % count
    return True


@compiled
def change(forms: Forms, tables: Tables, strip: Strip, hunt: Hunt, kind: int) -> None:
    """Change something of the layout at hand, and begin to move apart what overlaps then.

    At hand is what the strip has for its best.
    """
    if kind == DRAWN:
        share = DOWN * (strip.bounds[BEST] - strip.bounds[LEFT])
        draw(forms, tables, strip, hunt, strip.bounds[BEST] - share)
        return
    copy_plan(strip.best_pose, strip.best_form, strip.pose, strip.form)
    strip.bounds[LINE] = strip.bounds[BEST]
    for i in range(strip.pose.shape[0]):
        put(forms, strip, i)
    if kind == LARGE:
        swap_two_large(forms, strip)
    elif kind == ANY:
        swap_any(forms, strip)
    elif kind == ANYWHERE or (kind == TURNED and not turn_one(forms, strip)):
        lay_anywhere(forms, strip)
    elif kind == NEAR:
        swap_near(forms, strip)
    lay_all(forms, tables, strip)
    begin(strip, hunt)


@compiled
def step(
    forms: Forms,
    tables: Tables,
    strip: Strip,
    hunt: Hunt,
    stop: Ints,
    seed: int,
    kind: int,
    small: float,
) -> float:
    """From the layout at hand: the least overlap, of the layout left in the hunt; 0 where none.

    Given up early where it will hardly become less than `small`.
    """
    np.random.seed(seed)
    change(forms, tables, strip, hunt, kind)
    passes = 0
    while hunt.gauge[0] > 0.0 and stop[0] == 0:
        loss = shuffle_pass(forms, tables, strip, stop)
        if stop[0] != 0:
            break
        raise_weights(strip)
        passes += 1
        hunt.mark[IDLE] += 1
        keep_if_least(strip, hunt, loss)
        if passes == SOON[0] and hunt.gauge[0] > SOON[1] * small:
            break
        if passes == LATER[0] and hunt.gauge[0] > LATER[1] * small:
            break
        if hunt.mark[IDLE] < FEW:
            continue
        if hunt.gauge[0] >= 0.98 * hunt.gauge[1]:
            break
        hunt.mark[IDLE] = 0
        hunt.gauge[1] = hunt.gauge[0]
        go_back(forms, tables, strip, hunt)
    return hunt.gauge[0]
