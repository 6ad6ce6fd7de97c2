"""How a strip is made shorter: the line is drawn in, and what then overlaps is moved apart.

After the exploration and compression of Gardeyn & Wauters 2025 (arXiv:2509.13329), written anew:
an attempt that fails goes back to its least overlap a few times with the weights kept; layouts
that could not be moved apart are pooled, and the next attempt begins from one of them with two
large pieces changed over. Of our own: steps that grow with success and shrink with failure, so
that a few seconds are enough to come near the end, and flush places (`moves`).
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.separating.conflicts import (
    copy_plan,
    forget_weights,
    raise_weights,
    total_loss,
)
from studio.core.placing.separating.kernels import Floats, Ints

from .kernels import BEST, EVALUATIONS, LEFT, LINE, PHASE, STEP, SUCCESSES, Strip, put
from .moves import furthest, lay_all, shuffle_pass, somewhere
from .pairs import SHAPE, SIZE, Forms, Tables

# places in Hunt.mark: passes without progress, times gone back, pooled layouts, and 1 + the pool's
# place of the best that came lately (or 0)
IDLE, STRUCK, POOLED, FRESH = range(4)
POOL_LINE = 3  # place in Hunt.gauge: where the line of the pooled layouts is
NEW, WORKING = 0, 1  # phases of a strip: needs a target, is moving pieces apart
EXPLORE, COMPRESS = 0, 1
POOL = 300  # failed layouts remembered for one target
COARSE, FINE = 0.02, 0.001  # first and last step of exploring, as a share of the length
LEAST, MOST = 1e-5, 1e-3  # last step of compressing, and the one to begin again with
STALE = (60, 100)  # passes without progress before going back, exploring and compressing
ROUGH_STALE = 25
MORE, MOST_MORE = 4, 180  # exploring, added for every layout that has failed at the same target
STRIKES = (2, 4)  # times to go back before an attempt has failed


class Hunt(NamedTuple):
    """What an attempt remembers beside its strip. Everything is changed in place."""

    pose: Floats  # (pieces, 2): the least overlap of this attempt
    form: Ints
    pool_pose: Floats  # (POOL, pieces, 2): layouts that failed at this target, the best first
    pool_form: Ints
    pool_loss: Floats
    mark: Ints
    gauge: Floats  # least loss, loss at the last strike, step of compressing (share), pool's line


def hunt_of(pieces: int) -> Hunt:
    """A hunt that remembers nothing yet."""
    return Hunt(
        pose=np.zeros((pieces, 2)),
        form=np.zeros(pieces, dtype=np.int64),
        pool_pose=np.zeros((POOL, pieces, 2)),
        pool_form=np.zeros((POOL, pieces), dtype=np.int64),
        pool_loss=np.zeros(POOL),
        mark=np.zeros(4, dtype=np.int64),
        gauge=np.array([0.0, 0.0, MOST, 0.0]),
    )


@compiled
def begin(strip: Strip, hunt: Hunt) -> None:
    """Begin to move apart what overlaps now, with nothing held against anybody."""
    forget_weights(strip)
    strip.tally[PHASE] = WORKING
    copy_plan(strip.pose, strip.form, hunt.pose, hunt.form)
    hunt.mark[IDLE] = hunt.mark[STRUCK] = 0
    hunt.gauge[0] = hunt.gauge[1] = total_loss(strip)


@compiled
def keep_if_least(strip: Strip, hunt: Hunt, loss: float) -> bool:
    """Keep the layout where its overlap is the least of the attempt; whether it is."""
    if loss >= hunt.gauge[0]:
        return False
    if loss < 0.98 * hunt.gauge[0]:
        hunt.mark[IDLE] = 0
    hunt.gauge[0] = loss
    copy_plan(strip.pose, strip.form, hunt.pose, hunt.form)
    return True


@compiled
def go_back(forms: Forms, tables: Tables, strip: Strip, hunt: Hunt) -> None:
    """Lay the pieces as in the attempt's least overlap; the weights stay."""
    copy_plan(hunt.pose, hunt.form, strip.pose, strip.form)
    lay_all(forms, tables, strip)


@compiled
def draw(forms: Forms, tables: Tables, strip: Strip, hunt: Hunt, line: float) -> None:
    """From the best poses, with the line drawn in; what lay beyond a random cut moves along."""
    copy_plan(strip.best_pose, strip.best_form, strip.pose, strip.form)
    strip.bounds[LINE] = line
    shift = strip.bounds[BEST] - line
    cut = strip.bounds[LEFT] + np.random.random() * (strip.bounds[BEST] - strip.bounds[LEFT])
    for i in range(strip.pose.shape[0]):
        put(forms, strip, i)
        if 0.5 * (strip.box[0, i] + strip.box[2, i]) > cut:
            strip.pose[i, 0] -= shift
    lay_all(forms, tables, strip)
    begin(strip, hunt)


@compiled
def begin_anew(
    forms: Forms, tables: Tables, strip: Strip, hunt: Hunt, seed: int, line: float
) -> None:
    """Strew all pieces at random before a line further out, which counts as the best until then."""
    np.random.seed(seed)
    strip.bounds[LINE] = strip.bounds[BEST] = line
    strip.bounds[STEP] = COARSE * (line - strip.bounds[LEFT])
    hunt.mark[POOLED] = hunt.mark[FRESH] = 0  # nothing has failed yet
    for i in range(strip.pose.shape[0]):
        shape = forms.form[strip.form[i], SHAPE]
        strip.form[i] = np.random.randint(forms.at[shape], forms.at[shape + 1])
        somewhere(forms, strip, strip.form[i])
        strip.pose[i, 0], strip.pose[i, 1] = strip.spot[0], strip.spot[1]
    copy_plan(strip.pose, strip.form, strip.best_pose, strip.best_form)
    lay_all(forms, tables, strip)
    begin(strip, hunt)


@compiled
def remember(strip: Strip, hunt: Hunt) -> None:
    """Put the least overlap of a failed attempt into the pool, in order of its loss."""
    if hunt.gauge[POOL_LINE] != strip.bounds[LINE]:
        hunt.gauge[POOL_LINE] = strip.bounds[LINE]
        hunt.mark[POOLED] = hunt.mark[FRESH] = 0
    count = hunt.mark[POOLED]
    at = 0
    while at < count and hunt.pool_loss[at] <= hunt.gauge[0]:
        at += 1
    if at >= POOL:
        return
    for k in range(min(count, POOL - 1), at, -1):
        copy_plan(
            hunt.pool_pose[k - 1], hunt.pool_form[k - 1], hunt.pool_pose[k], hunt.pool_form[k]
        )
        hunt.pool_loss[k] = hunt.pool_loss[k - 1]
    copy_plan(hunt.pose, hunt.form, hunt.pool_pose[at], hunt.pool_form[at])
    hunt.pool_loss[at] = hunt.gauge[0]
    hunt.mark[POOLED] = min(count + 1, POOL)
    if hunt.mark[FRESH] == 0 or at < hunt.mark[FRESH]:
        hunt.mark[FRESH] = at + 1


@woven
def patience(hunt: Hunt, mode: int) -> int:
    """Passes without progress before going back: more where short attempts have failed."""
    if mode == COMPRESS:
        return STALE[mode]
    return STALE[mode] + min(MORE * hunt.mark[POOLED], MOST_MORE)


@compiled
def shove(forms: Forms, tables: Tables, strip: Strip, hunt: Hunt) -> None:
    """From one of the pooled layouts, more likely a good one, with two large pieces swapped."""
    pick = min(abs(np.random.normal()) * 0.25, 0.999)
    k = int(pick * hunt.mark[POOLED])
    copy_plan(hunt.pool_pose[k], hunt.pool_form[k], strip.pose, strip.form)
    swap_two_large(forms, strip)
    lay_all(forms, tables, strip)
    begin(strip, hunt)


@compiled
def swap_two_large(forms: Forms, strip: Strip) -> None:
    """Two large pieces of different shapes change places; any two where that is not found."""
    n = strip.pose.shape[0]
    large = 0.0
    for i in range(n):
        put(forms, strip, i)
        large += forms.extent[strip.form[i], SIZE]
    large *= 0.9 / n
    for number in range(40 if n > 1 else 0):
        a, b = np.random.randint(0, n), np.random.randint(0, n)
        one, other = strip.form[a], strip.form[b]
        if forms.form[one, SHAPE] == forms.form[other, SHAPE]:
            continue
        if number < 30 and (forms.extent[one, SIZE] < large or forms.extent[other, SIZE] < large):
            continue
        swap(strip, a, b)
        break


@compiled
def swap(strip: Strip, a: int, b: int) -> None:
    """Two pieces change places, and what either then lies upon goes the other way."""
    box = strip.box
    dx = 0.5 * (box[0, b] + box[2, b] - box[0, a] - box[2, a])
    dy = 0.5 * (box[1, b] + box[3, b] - box[1, a] - box[3, a])
    for j in range(strip.pose.shape[0]):
        if j in (a, b):
            continue
        mx, my = 0.5 * (box[0, j] + box[2, j]), 0.5 * (box[1, j] + box[3, j])
        if amid(box, a, mx - dx, my - dy):
            strip.pose[j, 0] -= dx
            strip.pose[j, 1] -= dy
        elif amid(box, b, mx + dx, my + dy):
            strip.pose[j, 0] += dx
            strip.pose[j, 1] += dy
    strip.pose[a, 0] += dx
    strip.pose[a, 1] += dy
    strip.pose[b, 0] -= dx
    strip.pose[b, 1] -= dy


@compiled
def amid(box: Floats, i: int, x: float, y: float) -> bool:
    """Whether a point lies in the middle part of piece i's box."""
    mx, my = 0.5 * (box[0, i] + box[2, i]), 0.5 * (box[1, i] + box[3, i])
    wide, high = box[2, i] - box[0, i], box[3, i] - box[1, i]
    return abs(x - mx) < 0.35 * wide and abs(y - my) < 0.35 * high


@compiled
def draw_in(
    forms: Forms,
    tables: Tables,
    strip: Strip,
    hunt: Hunt,
    stop: Ints,
    seed: int,
    budget: int,
    mode: int,
) -> None:
    """Spend a budget of evaluations on drawing the line in; the best stays in the strip."""
    np.random.seed(seed)
    end = strip.tally[EVALUATIONS] + budget
    while strip.tally[EVALUATIONS] < end and stop[0] == 0:
        used = max(strip.bounds[BEST] - strip.bounds[LEFT], 1e-9)
        if strip.tally[PHASE] == NEW:
            strip.tally[EVALUATIONS] += 1  # so that a strip with nothing to move ends too
            strip.bounds[STEP] = min(max(strip.bounds[STEP], FINE * used), COARSE * used)
            step = strip.bounds[STEP] if mode == EXPLORE else hunt.gauge[2] * used
            draw(forms, tables, strip, hunt, strip.bounds[BEST] - step)
        strip.tally[EVALUATIONS] += 1
        loss = shuffle_pass(forms, tables, strip, stop)
        if stop[0] != 0:
            return
        if loss <= 0.0:
            copy_plan(strip.pose, strip.form, strip.best_pose, strip.best_form)
            strip.bounds[BEST] = min(strip.bounds[LINE], furthest(forms, strip))
            strip.tally[PHASE] = NEW
            strip.tally[SUCCESSES] += 1
            if mode == EXPLORE:
                strip.bounds[STEP] *= 1.3
            else:
                hunt.gauge[2] = min(hunt.gauge[2] * 1.3, COARSE)
            continue
        raise_weights(strip)
        step = strip.bounds[STEP] if mode == EXPLORE else hunt.gauge[2] * used
        rough = step > 1.01 * FINE * used
        if keep_if_least(strip, hunt, loss):
            continue
        hunt.mark[IDLE] += 1
        if hunt.mark[IDLE] < (ROUGH_STALE if rough else patience(hunt, mode)):
            continue
        hunt.mark[IDLE] = 0
        hunt.mark[STRUCK] = hunt.mark[STRUCK] + 1 if hunt.gauge[0] >= 0.98 * hunt.gauge[1] else 0
        hunt.gauge[1] = hunt.gauge[0]
        if hunt.mark[STRUCK] < (1 if rough else STRIKES[mode]):
            go_back(forms, tables, strip, hunt)
        elif mode == COMPRESS:
            hunt.gauge[2] *= 0.6
            if hunt.gauge[2] < LEAST:
                hunt.gauge[2] = MOST
            strip.tally[PHASE] = NEW
        elif rough:
            strip.bounds[STEP] *= 0.5
            strip.tally[PHASE] = NEW
        else:
            remember(strip, hunt)
            shove(forms, tables, strip, hunt)
