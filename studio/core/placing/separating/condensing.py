"""Few pieces moved apart in a strip that is made shorter and shorter: compiled.

Unlike drawing in, it begins from nothing: the pieces are strewn, and the strip is made longer
where they cannot be moved apart. For a handful of pieces that is quicker than laying them first.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled

from .conflicts import copy_plan, raise_weights
from .evaluating import put
from .kernels import Ints, Kinds, Lane, Region
from .separation import (
    any_turn,
    furthest,
    shuffle_pass,
    start_over,
)

EVALUATIONS, IDLE, SUCCESSES = 0, 1, 4  # places in Lane.tally
NOW, SHORTEST, LEAST = 0, 1, 3  # places in Lane.line
STALE, SOON = 20, 8  # passes without progress before a try ends; before any has succeeded
LONGER, STEP, LEAST_STEP = 1.15, 0.08, 0.004


@compiled
def strew_within(kinds: Kinds, region: Region, lane: Lane, right: float) -> None:
    """Lay every piece anywhere up to a line, at any of its turns."""
    x0, y0 = region.box[0], region.box[1]
    wide, high = right - x0, region.box[3] - y0
    for i in range(lane.pose.shape[0]):
        if kinds.mirrored[lane.kind[i]] >= 0 and np.random.random() < 0.5:
            lane.kind[i] = kinds.mirrored[lane.kind[i]]
        turn = any_turn(kinds, lane.kind[i])
        pole = kinds.pole_at[lane.kind[i]]
        c, s = np.cos(turn), np.sin(turn)
        px, py = kinds.poles[0, pole], kinds.poles[1, pole]
        lane.pose[i, 0] = x0 + np.random.random() * wide - (px * c - py * s)
        lane.pose[i, 1] = y0 + np.random.random() * high - (px * s + py * c)
        lane.pose[i, 2] = turn


@compiled
def begin_at(kinds: Kinds, region: Region, lane: Lane, right: float, anew: bool) -> None:
    """Begin a try with the line at `right`: from the shortest layout, or strewn."""
    n = lane.pose.shape[0]
    lane.line[NOW] = right
    if anew:
        strew_within(kinds, region, lane, right)
    else:
        shift = lane.line[SHORTEST] - right
        copy_plan(lane.best_pose, lane.best_kind, lane.pose, lane.kind)
        cut = region.box[0] + np.random.random() * (lane.line[SHORTEST] - region.box[0])
        for i in range(n):
            put(kinds, region, lane, i)
        for i in range(n):
            if 0.5 * (lane.box[i, 0] + lane.box[i, 2]) > cut:
                lane.pose[i, 0] -= shift
    start_over(kinds, region, lane, not anew and np.random.random() < 0.3)


@compiled
def condense(
    kinds: Kinds, region: Region, lane: Lane, stop: Ints, seed: int, budget: int, right: float
) -> bool:
    """Spend a budget of evaluations on a short strip, the line at `right` first.

    Whether the pieces were ever moved apart; the shortest layout stays in the lane.
    """
    np.random.seed(seed)
    x0 = region.box[0]
    end = lane.tally[EVALUATIONS] + budget
    step, tries = STEP, 0
    found = False
    begin_at(kinds, region, lane, min(right, region.box[2]), True)
    while lane.tally[EVALUATIONS] < end and stop[0] == 0:
        lane.tally[EVALUATIONS] += 1  # so that it ends where nothing is moved
        loss = shuffle_pass(kinds, region, lane, stop)
        if stop[0] != 0:
            break
        if loss <= 0.0:
            copy_plan(lane.pose, lane.kind, lane.best_pose, lane.best_kind)
            lane.line[SHORTEST] = min(lane.line[NOW], furthest(kinds, lane))
            lane.tally[SUCCESSES] += 1
            found = True
            tries = 0
            target = lane.line[SHORTEST] - step * (lane.line[SHORTEST] - x0)
            begin_at(kinds, region, lane, target, False)
            continue
        raise_weights(lane)
        if loss < 0.98 * lane.line[LEAST]:
            lane.line[LEAST] = loss
            lane.tally[IDLE] = 0
            continue
        lane.tally[IDLE] += 1
        if lane.tally[IDLE] <= (STALE if found else SOON):
            continue
        lane.tally[IDLE] = 0
        tries += 1
        if not found:
            longer = x0 + LONGER * (lane.line[NOW] - x0)
            begin_at(kinds, region, lane, min(longer, region.box[2]), True)
            continue
        if tries % 2 == 0:
            step = max(0.5 * step, LEAST_STEP)
        target = lane.line[SHORTEST] - step * (lane.line[SHORTEST] - x0)
        begin_at(kinds, region, lane, target, tries % 3 == 2)
    return found
