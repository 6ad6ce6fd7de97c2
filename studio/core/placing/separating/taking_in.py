"""Moving apart what was laid on metal that had no place for it: weights rise where it stays.

The line is the metal's own right end, so all of the metal is used. An attempt goes back to its
least overlap a few times with the weights kept, then two large pieces change places; it has
failed when that has brought nothing for a while. Its least overlap stays in the lane (`aside`),
for whoever wants to know which pieces are in conflict there.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled

from .conflicts import copy_plan, forget_weights, raise_weights, total_loss
from .evaluating import put, refresh
from .kernels import Ints, Kinds, Lane, Region
from .separation import any_turn, shuffle_pass, start_over

# places in Lane.tally: evaluations, passes without progress, phase, times gone back, shoves that
# brought nothing
EVALUATIONS, IDLE, PHASE, STRUCK, SHOVED = range(5)
LEAST, WHOLE_LEAST = 3, 2  # places in Lane.line: least loss since a shove, and of the attempt
NEW, WORKING, APART, FAILED = range(4)  # phases of an attempt
STALE = 60  # passes without progress before going back
STRIKES = 2  # times to go back before a shove
SHOVES = 6  # without progress, then the attempt has failed
PROGRESS = 0.98


@compiled
def lay_all(kinds: Kinds, region: Region, lane: Lane) -> float:
    """Lay every piece at its pose; all overlaps together."""
    for i in range(lane.pose.shape[0]):
        put(kinds, region, lane, i)
    for i in range(lane.pose.shape[0]):
        refresh(kinds, region, lane, i)
    return total_loss(lane)


@compiled
def strew(kinds: Kinds, region: Region, lane: Lane, first: int, seed: int) -> None:
    """Lay the pieces from number `first` on anywhere on the metal, at any of their turns."""
    np.random.seed(seed)
    x0, y0 = region.box[0], region.box[1]
    wide, high = region.box[2] - x0, region.box[3] - y0
    for i in range(first, lane.pose.shape[0]):
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
def keep_least(lane: Lane, loss: float) -> None:
    """Keep the layout where its overlap is the least so far."""
    if loss < lane.line[LEAST]:
        if loss < PROGRESS * lane.line[LEAST]:
            lane.tally[IDLE] = 0
            lane.tally[STRUCK] = 0
        lane.line[LEAST] = loss
        copy_plan(lane.pose, lane.kind, lane.best_pose, lane.best_kind)
    if loss < lane.line[WHOLE_LEAST]:
        if loss < PROGRESS * lane.line[WHOLE_LEAST]:
            lane.tally[SHOVED] = 0
        lane.line[WHOLE_LEAST] = loss
        copy_plan(lane.pose, lane.kind, lane.aside_pose, lane.aside_kind)


@compiled
def move_apart(
    kinds: Kinds, region: Region, lane: Lane, stop: Ints, seed: int, budget: int
) -> None:
    """Spend a budget of evaluations on moving the pieces apart; the phase says how it went."""
    np.random.seed(seed)
    end = lane.tally[EVALUATIONS] + budget
    if lane.tally[PHASE] == NEW:
        forget_weights(lane)
        lane.line[0] = region.box[2]
        lane.line[LEAST] = lane.line[WHOLE_LEAST] = np.inf
        lane.tally[IDLE] = lane.tally[STRUCK] = lane.tally[SHOVED] = 0
        keep_least(lane, lay_all(kinds, region, lane))
        lane.tally[PHASE] = WORKING
    while lane.tally[EVALUATIONS] < end and stop[0] == 0 and lane.tally[PHASE] == WORKING:
        lane.tally[EVALUATIONS] += 1  # so that it ends where nothing is moved
        loss = shuffle_pass(kinds, region, lane, stop)
        if stop[0] != 0:
            return
        lane.tally[IDLE] += 1
        keep_least(lane, loss)
        if loss <= 0.0:
            lane.tally[PHASE] = APART
            return
        raise_weights(lane)
        if lane.tally[IDLE] < STALE:
            continue
        lane.tally[IDLE] = 0
        lane.tally[STRUCK] += 1
        if lane.tally[STRUCK] <= STRIKES:  # back to the least overlap; the weights stay
            copy_plan(lane.best_pose, lane.best_kind, lane.pose, lane.kind)
            lay_all(kinds, region, lane)
            continue
        lane.tally[STRUCK] = 0
        lane.tally[SHOVED] += 1
        if lane.tally[SHOVED] > SHOVES:
            lane.tally[PHASE] = FAILED
            return
        if np.random.random() < 0.5:
            copy_plan(lane.aside_pose, lane.aside_kind, lane.pose, lane.kind)
            lay_all(kinds, region, lane)
        start_over(kinds, region, lane, True)
        lane.tally[IDLE] = 0
        lane.tally[PHASE] = WORKING
        lane.line[LEAST] = np.inf
        keep_least(lane, total_loss(lane))
