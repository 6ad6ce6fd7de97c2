"""Guided local search: shrink the room, let pieces overlap, move them apart again.

After Egeblad, Nielsen & Odgaard 2007, Umetani et al. 2009, Imamichi et al. 2009, Elkeran 2013
and Gardeyn & Wauters 2025 (overlap minimisation with weights that rise where conflicts stay),
written anew for metal of any outline. Of our own: places where a long straight edge is laid
flush on another or on the metal's rim are tried beside those drawn at random.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven

from .conflicts import (
    copy_plan,
    forget_weights,
    in_conflict,
    raise_weights,
    shuffle_conflicts,
    total_loss,
)
from .evaluating import evaluate, put, refresh
from .kernels import LOOKS, Floats, Ints, Kinds, Lane, Region

UNIFORM, NEARBY, FLUSH = 24, 14, 18  # places tried for one move
KEPT = 3  # of them refined
DEAR = 6.0  # times the present loss: worse places are not looked at further
STALE = 60  # passes without progress before a try ends
TRIES = 2  # of the bold lane before a target is given up, with a shove between them
EMPTY_HANDED = 1e300

NEW, WORKING = 0, 1  # phases of a lane: needs a target, is moving pieces apart


@woven
def any_turn(kinds: Kinds, kind: int) -> float:
    """A turn at random: one of those listed, or any where any is allowed."""
    begin, end = kinds.turn_at[kind], kinds.turn_at[kind + 1]
    if kinds.free_turn[kind] == 1 and np.random.random() < 0.4:
        return np.random.random() * 2.0 * np.pi
    return kinds.turns[begin + np.random.randint(0, end - begin)]


@woven
def nearest_turn(kinds: Kinds, kind: int, turn: float) -> float:
    """The turn itself where it is allowed; else NaN."""
    if kinds.free_turn[kind] == 1:
        return turn
    for k in range(kinds.turn_at[kind], kinds.turn_at[kind + 1]):
        away = (kinds.turns[k] - turn + np.pi) % (2.0 * np.pi) - np.pi
        if abs(away) < 1e-7:
            return kinds.turns[k]
    return np.nan


@woven
def flush_pose(kinds: Kinds, region: Region, lane: Lane, i: int, kind: int, out: Floats) -> bool:
    """A pose with a long edge laid on the metal's rim or on another piece's edge, at random."""
    n = lane.pose.shape[0]
    on_rim = region.long.shape[0] > 0 and (n < 2 or np.random.random() < 0.3)
    runs = kinds.run_at[kind + 1] - kinds.run_at[kind]
    by_hand = region.rules[0] > 0.0 and runs > 0 and np.random.random() < 0.7
    if on_rim and by_hand and region.lines.shape[0] > 0:  # a free edge
        own = kinds.run[kinds.run_at[kind] + np.random.randint(0, runs)]
        k = np.random.randint(0, region.lines.shape[0])
        tx0, ty0, tx1, ty1 = region.lines[k]
    elif on_rim:
        begin, end = kinds.true_at[kind], kinds.true_at[kind + 1]
        if begin == end:
            return False
        own = kinds.true_flush[begin + np.random.randint(0, end - begin)]
        k = np.random.randint(0, region.long.shape[0])
        tx0, ty0, tx1, ty1 = region.long[k]
    elif by_hand:  # a shared line
        own = kinds.run[kinds.run_at[kind] + np.random.randint(0, runs)]
        j = np.random.randint(0, n)
        other = lane.kind[j]
        ob, oe = kinds.run_at[other], kinds.run_at[other + 1]
        if j == i or ob == oe:
            return False
        edge = kinds.run[ob + np.random.randint(0, oe - ob)]
        c, s = np.cos(lane.pose[j, 2]), np.sin(lane.pose[j, 2])
        length = np.hypot(edge[2] - edge[0], edge[3] - edge[1])
        ox = region.rules[3] * (edge[3] - edge[1]) / length  # outwards, by the line's width
        oy = -region.rules[3] * (edge[2] - edge[0]) / length
        x, y = lane.pose[j, 0] + ox * c - oy * s, lane.pose[j, 1] + ox * s + oy * c
        tx1, ty1 = edge[0] * c - edge[1] * s + x, edge[0] * s + edge[1] * c + y
        tx0, ty0 = edge[2] * c - edge[3] * s + x, edge[2] * s + edge[3] * c + y
    else:
        begin, end = kinds.flush_at[kind], kinds.flush_at[kind + 1]
        if begin == end or n < 2:
            return False
        own = kinds.flush[begin + np.random.randint(0, end - begin)]
        j = np.random.randint(0, n)
        other = lane.kind[j]
        ob, oe = kinds.flush_at[other], kinds.flush_at[other + 1]
        if j == i or ob == oe:
            return False
        edge = kinds.flush[ob + np.random.randint(0, oe - ob)]
        c, s = np.cos(lane.pose[j, 2]), np.sin(lane.pose[j, 2])
        x, y = lane.pose[j, 0], lane.pose[j, 1]
        # the neighbour's edge, turned about: our own edge must run against it
        tx1, ty1 = edge[0] * c - edge[1] * s + x, edge[0] * s + edge[1] * c + y
        tx0, ty0 = edge[2] * c - edge[3] * s + x, edge[2] * s + edge[3] * c + y
    heading = np.arctan2(ty1 - ty0, tx1 - tx0) - np.arctan2(own[3] - own[1], own[2] - own[0])
    turn = nearest_turn(kinds, kind, heading)
    if np.isnan(turn):
        return False
    c, s = np.cos(turn), np.sin(turn)
    ax, ay = own[0] * c - own[1] * s, own[0] * s + own[1] * c
    bx, by = own[2] * c - own[3] * s, own[2] * s + own[3] * c
    pick = np.random.random()
    if pick < 0.35:  # the beginnings meet
        out[0], out[1] = tx0 - ax, ty0 - ay
    elif pick < 0.7:  # the ends meet
        out[0], out[1] = tx1 - bx, ty1 - by
    else:  # anywhere along
        f = np.random.random()
        g = np.random.random()
        out[0] = tx0 + f * (tx1 - tx0) - ax - g * (bx - ax)
        out[1] = ty0 + f * (ty1 - ty0) - ay - g * (by - ay)
    out[2] = turn
    return True


@compiled
def refine(
    kinds: Kinds,
    region: Region,
    lane: Lane,
    i: int,
    kind: int,
    pose: Floats,
    value: float,
    step: float,
    least: float,
) -> float:
    """Improve a pose by steps along random axes, halved where they fail; the value reached."""
    free = kinds.free_turn[kind] == 1
    swing = step / max(kinds.reach[kind, 1], 1e-9)
    while step > least and value > 0.0:
        axis = np.random.randint(0, 5 if free else 4)
        dx = dy = dt = 0.0
        if axis == 0:
            dx = step
        elif axis == 1:
            dy = step
        elif axis == 2:
            dx, dy = step * 0.7071, step * 0.7071
        elif axis == 3:
            dx, dy = step * 0.7071, -step * 0.7071
        else:
            dt = swing
        better = False
        for sign in (1.0, -1.0):
            x, y = pose[0] + sign * dx, pose[1] + sign * dy
            turn = pose[2] + sign * dt
            found = evaluate(kinds, region, lane, i, kind, x, y, turn, value)
            if found < value:
                value = found
                pose[0], pose[1], pose[2] = x, y, turn
                better = True
                break
        if better:
            step *= 1.1
            swing *= 1.1
        else:
            step *= 0.5
            swing *= 0.5
    return value


@compiled
def move(kinds: Kinds, region: Region, lane: Lane, i: int) -> bool:
    """Move piece i to the least weighted overlap found; whether it moved."""
    own = lane.kind[i]
    looks = region.rules[0] > 0.0
    now = evaluate(
        kinds,
        region,
        lane,
        i,
        own,
        lane.pose[i, 0],
        lane.pose[i, 1],
        lane.pose[i, 2],
        EMPTY_HANDED,
    )
    if now <= 0.0:
        refresh(kinds, region, lane, i)
        return False
    kept, kept_kind, value, pose = lane.kept, lane.kept_kind, lane.value, lane.spot
    for k in range(KEPT):
        value[k] = EMPTY_HANDED
    x0, y0 = region.box[0], region.box[1]
    wide, high = min(region.box[2], lane.line[0]) - x0, region.box[3] - y0
    near = 0.4 * kinds.reach[own, 1]
    for number in range(1 + UNIFORM + NEARBY + FLUSH):
        kind = own
        if number == 0:
            pose[0], pose[1], pose[2] = lane.pose[i, 0], lane.pose[i, 1], lane.pose[i, 2]
        elif number <= FLUSH:
            if kinds.mirrored[own] >= 0 and np.random.random() < 0.5:
                kind = kinds.mirrored[own]
            if not flush_pose(kinds, region, lane, i, kind, pose):
                continue
        elif number <= FLUSH + NEARBY:
            pose[0] = lane.pose[i, 0] + (np.random.random() - 0.5) * 2.0 * near
            pose[1] = lane.pose[i, 1] + (np.random.random() - 0.5) * 2.0 * near
            pose[2] = lane.pose[i, 2]
            if np.random.random() < 0.3:
                pose[2] = any_turn(kinds, kind)
            elif kinds.free_turn[kind] == 1:
                pose[2] += (np.random.random() - 0.5) * 0.3
        else:
            if kinds.mirrored[own] >= 0 and np.random.random() < 0.5:
                kind = kinds.mirrored[own]
            turn = any_turn(kinds, kind)
            # the first circle's centre is drawn from the room, not the drawing's own origin
            first = kinds.pole_at[kind]
            c, s = np.cos(turn), np.sin(turn)
            px, py = kinds.poles[0, first], kinds.poles[1, first]
            pose[0] = x0 + np.random.random() * wide - (px * c - py * s)
            pose[1] = y0 + np.random.random() * high - (px * s + py * c)
            pose[2] = turn
        worst = 0
        for k in range(1, KEPT):
            if value[k] > value[worst]:
                worst = k
        # what is drawn at random shares no line
        lane.tally[LOOKS] = 1 if looks and number <= FLUSH else 0
        found = (
            now
            if number == 0
            else evaluate(
                kinds,
                region,
                lane,
                i,
                kind,
                pose[0],
                pose[1],
                pose[2],
                min(value[worst], DEAR * now),
            )
        )
        if found < min(value[worst], DEAR * now):
            value[worst] = found
            kept[worst, 0], kept[worst, 1], kept[worst, 2] = pose[0], pose[1], pose[2]
            kept_kind[worst] = kind
            if found <= 0.0:
                break
    lane.tally[LOOKS] = 1 if looks else 0
    best = 0
    for k in range(KEPT):
        if value[k] > 0.0 and value[k] < EMPTY_HANDED:
            kind = kept_kind[k]
            value[k] = refine(
                kinds,
                region,
                lane,
                i,
                kind,
                kept[k],
                value[k],
                0.1 * kinds.reach[kind, 0],
                0.01 * kinds.reach[kind, 0],
            )
        if value[k] < value[best]:
            best = k
    kind = kept_kind[best]
    if 0.0 < value[best] < EMPTY_HANDED:
        value[best] = refine(
            kinds,
            region,
            lane,
            i,
            kind,
            kept[best],
            value[best],
            0.01 * kinds.reach[kind, 0],
            0.0002 * kinds.reach[kind, 0],
        )
    if value[best] < now:
        lane.pose[i, 0], lane.pose[i, 1] = kept[best, 0], kept[best, 1]
        lane.pose[i, 2] = kept[best, 2]
        lane.kind[i] = kind
        refresh(kinds, region, lane, i)
        return True
    return False


@compiled
def shuffle_pass(kinds: Kinds, region: Region, lane: Lane, stop: Ints) -> float:
    """Move every piece that is in conflict once, in random order; the loss that is left."""
    for a in range(shuffle_conflicts(lane)):
        if in_conflict(lane, lane.order[a]):
            move(kinds, region, lane, lane.order[a])
        if stop[0] != 0:
            break
    return total_loss(lane)


@compiled
def furthest(kinds: Kinds, lane: Lane) -> float:
    """The right end of the pieces' true outlines."""
    right = -np.inf
    for i in range(lane.pose.shape[0]):
        kind = lane.kind[i]
        c, s = np.cos(lane.pose[i, 2]), np.sin(lane.pose[i, 2])
        for k in range(kinds.body.at[kind], kinds.body.at[kind + 1]):
            x = kinds.body.points[k, 0] * c - kinds.body.points[k, 1] * s + lane.pose[i, 0]
            right = max(right, x)
    return right


@compiled
def aim(kinds: Kinds, region: Region, lane: Lane, jump: float, swap: bool) -> None:
    """Start anew from the best poses with the line drawn in; what lay beyond a cut moves along."""
    n = lane.pose.shape[0]
    copy_plan(lane.best_pose, lane.best_kind, lane.pose, lane.kind)
    line = lane.line[1] - lane.line[2]
    if jump > 0.0:
        line = jump
    shift = lane.line[1] - line
    lane.line[0] = line
    cut = region.box[0] + np.random.random() * (lane.line[1] - region.box[0])
    for i in range(n):
        put(kinds, region, lane, i)
    for i in range(n):
        if jump > 0.0:
            if lane.box[i, 2] > line:
                lane.pose[i, 0] -= lane.box[i, 2] - region.box[0]
                lane.pose[i, 0] += np.random.random() * (line - region.box[0])
        elif 0.5 * (lane.box[i, 0] + lane.box[i, 2]) > cut:
            lane.pose[i, 0] -= shift
    start_over(kinds, region, lane, swap)


@compiled
def start_over(kinds: Kinds, region: Region, lane: Lane, swap: bool) -> None:
    """Forget the weights; with `swap` two of the larger pieces change places before."""
    n = lane.pose.shape[0]
    if swap and n > 2:
        large = 0.0
        for i in range(n):
            large += kinds.size[lane.kind[i]]
        large = 0.8 * large / n
        for _ in range(12):
            a, b = np.random.randint(0, n), np.random.randint(0, n)
            one, other = lane.kind[a], lane.kind[b]
            if one != other and kinds.size[one] >= large and kinds.size[other] >= large:
                dx = 0.5 * (lane.box[b, 0] + lane.box[b, 2] - lane.box[a, 0] - lane.box[a, 2])
                dy = 0.5 * (lane.box[b, 1] + lane.box[b, 3] - lane.box[a, 1] - lane.box[a, 3])
                lane.pose[a, 0] += dx
                lane.pose[a, 1] += dy
                lane.pose[b, 0] -= dx
                lane.pose[b, 1] -= dy
                break
    forget_weights(lane)
    for i in range(n):
        put(kinds, region, lane, i)
    for i in range(n):
        refresh(kinds, region, lane, i)
    lane.line[3] = total_loss(lane)
    lane.tally[1] = 0
    lane.tally[2] = WORKING


@compiled
def explore(
    kinds: Kinds, region: Region, lane: Lane, stop: Ints, seed: int, budget: int, bold: int
) -> None:
    """Spend a budget of evaluations on drawing the line in; the best stays in the lane.

    A lane is bold or careful: the size of its steps, and whether it swaps pieces.
    """
    np.random.seed(seed)
    used = max(lane.line[1] - region.box[0], 1e-9)
    most = (0.012 if bold == 1 else 0.004) * used
    lane.line[2] = min(lane.line[2], most)
    end = lane.tally[0] + budget
    while lane.tally[0] < end and stop[0] == 0:
        if lane.tally[2] == NEW:
            jump = 0.0
            if bold == 1 and np.random.random() < 0.15:
                for k in range(region.ends.shape[0]):
                    if region.ends[k] < lane.line[1] - 1e-6:
                        jump = max(jump, region.ends[k] - region.box[0])
                if jump > 0.0:
                    jump += region.box[0]
            aim(kinds, region, lane, jump, lane.tally[3] > 0 and np.random.random() < 0.35)
        loss = shuffle_pass(kinds, region, lane, stop)
        if stop[0] != 0:
            return
        if loss <= 0.0:
            right = furthest(kinds, lane)
            copy_plan(lane.pose, lane.kind, lane.best_pose, lane.best_kind)
            lane.line[1] = min(lane.line[0], right)
            lane.line[2] = min(lane.line[2] * 1.4, most)
            lane.tally[2] = NEW
            lane.tally[3] = 0
            lane.tally[4] += 1
            continue
        raise_weights(lane)
        if loss < 0.98 * lane.line[3]:
            lane.line[3] = loss
            lane.tally[1] = 0
        else:
            lane.tally[1] += 1
            if lane.tally[1] > STALE:
                lane.tally[3] += 1
                if bold == 1 and lane.tally[3] % TRIES != 0:  # the same target, with a shove
                    start_over(kinds, region, lane, True)
                else:
                    lane.line[2] = max(lane.line[2] * 0.5, 0.0003 * used)
                    lane.tally[2] = NEW
