"""Saving saw line at a fixed line: pieces moved to where their edges lie flush on others.

Every piece stays clear of all others and of the line, so that no metal is lost by it; whether
the plan has become cheaper is decided afterwards, by the judge's figure in money.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven

from .by_hand import note_lines
from .conflicts import copy_plan, forget_weights
from .evaluating import evaluate, refresh
from .kernels import Ints, Kinds, Lane, Region
from .separation import flush_pose

FLUSH_MM = 0.02
LEAST_MM = 3.0
ONE_CUT_BELOW_MM = 1.5  # hands saw one line where outlines run nearer than this
NEIGHBOURLY = 0.02  # mm of saw line that a mm nearer to the left end is worth


@woven
def common(
    ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float
) -> float:
    """Length over which the edge c-d lies on the edge a-b, in whichever sense."""
    length = np.hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / length, (by - ay) / length
    c_off = (cx - ax) * uy - (cy - ay) * ux
    d_off = (dx - ax) * uy - (dy - ay) * ux
    if abs(c_off) > FLUSH_MM or abs(d_off) > FLUSH_MM:
        return 0.0
    c_at = (cx - ax) * ux + (cy - ay) * uy
    d_at = (dx - ax) * ux + (dy - ay) * uy
    run = min(length, max(c_at, d_at)) - max(0.0, min(c_at, d_at))
    return run if run >= LEAST_MM else 0.0


@compiled
def flush_length(
    kinds: Kinds, region: Region, lane: Lane, i: int, kind: int, x: float, y: float, turn: float
) -> float:
    """Length of piece i's edges that would lie on others' edges and on clean metal edges."""
    c, s = np.cos(turn), np.sin(turn)
    total = 0.0
    if region.rules[0] > 0.0:
        for k in range(note_lines(kinds, region, lane, i, kind, x, y, c, s, -1, 0)):
            line = lane.lines[k]
            total += np.hypot(line[2] - line[0], line[3] - line[1])
        if region.rules[2] >= ONE_CUT_BELOW_MM:
            return total
    reach = kinds.reach[kind, 1]
    first = kinds.pole_at[kind]
    px, py = kinds.poles[0, first], kinds.poles[1, first]
    mx, my = px * c - py * s + x, px * s + py * c + y
    for e in range(kinds.true_at[kind], kinds.true_at[kind + 1]):
        edge = kinds.true_flush[e]
        ax, ay = edge[0] * c - edge[1] * s + x, edge[0] * s + edge[1] * c + y
        bx, by = edge[2] * c - edge[3] * s + x, edge[2] * s + edge[3] * c + y
        for k in range(0 if region.rules[0] > 0.0 else region.clean.shape[0]):
            rim = region.clean[k]
            total += common(rim[0], rim[1], rim[2], rim[3], ax, ay, bx, by)
    for j in range(lane.pose.shape[0]):
        if j == i or lane.box[j, 0] > mx + reach + 1.0 or lane.box[j, 2] < mx - reach - 1.0:
            continue
        if lane.box[j, 1] > my + reach + 1.0 or lane.box[j, 3] < my - reach - 1.0:
            continue
        other = lane.kind[j]
        jx, jy = lane.pose[j, 0], lane.pose[j, 1]
        jc, js = np.cos(lane.pose[j, 2]), np.sin(lane.pose[j, 2])
        for e in range(kinds.flush_at[kind], kinds.flush_at[kind + 1]):
            edge = kinds.flush[e]
            ax, ay = edge[0] * c - edge[1] * s + x, edge[0] * s + edge[1] * c + y
            bx, by = edge[2] * c - edge[3] * s + x, edge[2] * s + edge[3] * c + y
            for f in range(kinds.flush_at[other], kinds.flush_at[other + 1]):
                theirs = kinds.flush[f]
                cx = theirs[0] * jc - theirs[1] * js + jx
                cy = theirs[0] * js + theirs[1] * jc + jy
                dx = theirs[2] * jc - theirs[3] * js + jx
                dy = theirs[2] * js + theirs[3] * jc + jy
                total += common(ax, ay, bx, by, cx, cy, dx, dy)
    return total


@compiled
def polish(
    kinds: Kinds, region: Region, lane: Lane, stop: Ints, seed: int, budget: int, heat: float
) -> float:
    """Spend a budget of evaluations on flush places for single pieces; the length gained.

    Starts from the lane's best poses and leaves the best found in its present poses. A loss of
    length up to `heat` mm is taken in the first half, to find a way round.
    """
    np.random.seed(seed)
    n = lane.pose.shape[0]
    copy_plan(lane.best_pose, lane.best_kind, lane.pose, lane.kind)
    lane.line[0] = lane.line[1] + 1e-6
    forget_weights(lane)
    for i in range(n):
        refresh(kinds, region, lane, i)
    pose = lane.spot
    copy_plan(lane.pose, lane.kind, lane.aside_pose, lane.aside_kind)
    gained = 0.0
    most = 0.0
    begin = lane.tally[0]
    while lane.tally[0] < begin + budget and stop[0] == 0:
        lane.tally[0] += 1  # so that jobs with no straight edge end too
        i = np.random.randint(0, n)
        own = lane.kind[i]
        now = -1.0
        for _ in range(12):
            kind = own
            if kinds.mirrored[own] >= 0 and np.random.random() < 0.3:
                kind = kinds.mirrored[own]
            if not flush_pose(kinds, region, lane, i, kind, pose):
                continue
            if evaluate(kinds, region, lane, i, kind, pose[0], pose[1], pose[2], 1e-12) > 0.0:
                continue
            if now < 0.0:
                now = flush_length(
                    kinds, region, lane, i, own, lane.pose[i, 0], lane.pose[i, 1], lane.pose[i, 2]
                )
            found = flush_length(kinds, region, lane, i, kind, pose[0], pose[1], pose[2])
            cooling = max(0.0, 1.0 - 2.0 * (lane.tally[0] - begin) / budget)
            gain = found - now + NEIGHBOURLY * (lane.pose[i, 0] - pose[0])
            if gain > 0.01 - heat * cooling * np.random.random():
                lane.pose[i, 0], lane.pose[i, 1], lane.pose[i, 2] = pose[0], pose[1], pose[2]
                lane.kind[i] = kind
                refresh(kinds, region, lane, i)
                gained += found - now
                break
        if gained > most + 0.01:
            most = gained
            copy_plan(lane.pose, lane.kind, lane.aside_pose, lane.aside_kind)
    copy_plan(lane.aside_pose, lane.aside_kind, lane.pose, lane.kind)
    return most
