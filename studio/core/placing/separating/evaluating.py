"""What a pose costs: the loss of one piece against the metal and all others."""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

import numpy as np

from studio.core.placing.compiled import compiled, woven

from .by_hand import note_lines, pair_excused, rim_excused
from .kernels import LOOKS, Kinds, Lane, Region, depth, lay, lay_poles, pair_loss, rim_loss


@compiled
def put(kinds: Kinds, region: Region, lane: Lane, i: int) -> None:
    """Lay piece i at its pose: its points, circles and box."""
    kind = lane.kind[i]
    x, y, turn = lane.pose[i, 0], lane.pose[i, 1], lane.pose[i, 2]
    c, s = np.cos(turn), np.sin(turn)
    home = lane.home[i]
    n = lay(kinds.solid, kind, x, y, c, s, lane.world, home)
    x0 = y0 = np.inf
    x1 = y1 = -np.inf
    for k in range(home, home + n):
        x0, x1 = min(x0, lane.world[k, 0]), max(x1, lane.world[k, 0])
        y0, y1 = min(y0, lane.world[k, 1]), max(y1, lane.world[k, 1])
    lane.box[i, 0], lane.box[i, 1], lane.box[i, 2], lane.box[i, 3] = x0, y0, x1, y1
    lay_poles(kinds, kind, x, y, c, s, lane.poles, lane.pole_home[i])


@woven
def evaluate(
    kinds: Kinds,
    region: Region,
    lane: Lane,
    i: int,
    kind: int,
    x: float,
    y: float,
    turn: float,
    limit: float,
) -> float:
    """The weighted loss of piece i at a pose; given up as soon as it exceeds `limit`."""
    lane.tally[0] += 1
    looks = lane.tally[LOOKS] == 1
    own = -1  # how many lines it would share or lie free on; not known yet
    c, s = np.cos(turn), np.sin(turn)
    spare = lane.spare
    half = spare.shape[0] // 2
    circles = lane.circles
    count = lay_poles(kinds, kind, x, y, c, s, circles, 0)
    total = 0.0
    far = kinds.reach[kind, 1] + 1.5 * region.origin[2]
    if circles[0, 0] + far > lane.line[0] or depth(region, circles[0, 0], circles[1, 0]) < far:
        n = lay(kinds.body, kind, x, y, c, s, spare[half:], 0)
        total = lane.rim_weight[i] * rim_loss(
            kinds, region, kind, lane.line[0], spare[half:], n, circles, 0, count
        )
        if total > 0.0 and looks:
            own = note_lines(kinds, region, lane, i, kind, x, y, c, s, -1, 0)
            if rim_excused(kinds, region, lane, kind, x, y, c, s, own):
                total = 0.0
        if total >= limit:
            return total
    n = lay(kinds.moving, kind, x, y, c, s, spare, 0)
    x0 = y0 = np.inf
    x1 = y1 = -np.inf
    for k in range(n):
        x0, x1 = min(x0, spare[k, 0]), max(x1, spare[k, 0])
        y0, y1 = min(y0, spare[k, 1]), max(y1, spare[k, 1])
    box, world, poles = lane.box, lane.world, lane.poles
    after, begin = kinds.moving.after, kinds.moving.at[kind]
    solid_at, solid_after, pole_at = kinds.solid.at, kinds.solid.after, kinds.pole_at
    homes, pole_homes, others = lane.home, lane.pole_home, lane.kind
    sizes, weight = kinds.size, lane.weight
    for j in range(box.shape[0]):
        if j == i or box[j, 0] >= x1 or box[j, 2] <= x0 or box[j, 1] >= y1 or box[j, 3] <= y0:
            continue
        o = others[j]
        loss = pair_loss(
            spare,
            n,
            after,
            begin,
            world,
            homes[j],
            solid_at[o + 1] - solid_at[o],
            solid_after,
            solid_at[o],
            max(x0, box[j, 0]),
            max(y0, box[j, 1]),
            min(x1, box[j, 2]),
            min(y1, box[j, 3]),
            circles,
            0,
            count,
            poles,
            pole_homes[j],
            pole_at[o + 1] - pole_at[o],
            sizes[kind],
            sizes[o],
        )
        if loss > 0.0 and looks:
            if own < 0:
                own = note_lines(kinds, region, lane, i, kind, x, y, c, s, -1, 0)
            if pair_excused(kinds, region, lane, i, kind, x, y, c, s, j, own):
                loss = 0.0
        if loss > 0.0:
            total += weight[i, j] * loss
            if total >= limit:
                return total
    return total


@compiled
def refresh(kinds: Kinds, region: Region, lane: Lane, i: int) -> None:
    """Lay piece i and find its losses against the metal and all others, both ways."""
    put(kinds, region, lane, i)
    kind = lane.kind[i]
    x, y, turn = lane.pose[i, 0], lane.pose[i, 1], lane.pose[i, 2]
    c, s = np.cos(turn), np.sin(turn)
    spare = lane.spare
    half = spare.shape[0] // 2
    home = lane.pole_home[i]
    count = kinds.pole_at[kind + 1] - kinds.pole_at[kind]
    n = lay(kinds.body, kind, x, y, c, s, spare[half:], 0)
    lane.rim_loss[i] = rim_loss(
        kinds, region, kind, lane.line[0], spare[half:], n, lane.poles, home, count
    )
    by_hand = region.rules[0] > 0.0
    own = note_lines(kinds, region, lane, i, kind, x, y, c, s, -1, 0) if by_hand else 0
    if (
        lane.rim_loss[i] > 0.0
        and own > 0
        and rim_excused(kinds, region, lane, kind, x, y, c, s, own)
    ):
        lane.rim_loss[i] = 0.0
    n = lay(kinds.moving, kind, x, y, c, s, spare, 0)
    x0, y0, x1, y1 = lane.box[i, 0], lane.box[i, 1], lane.box[i, 2], lane.box[i, 3]
    box = lane.box
    begin = kinds.moving.at[kind]
    for j in range(box.shape[0]):
        if j == i:
            continue
        bx0, by0 = max(x0, box[j, 0]), max(y0, box[j, 1])
        bx1, by1 = min(x1, box[j, 2]), min(y1, box[j, 3])
        loss = 0.0
        if bx0 < bx1 and by0 < by1:
            o = lane.kind[j]
            loss = pair_loss(
                spare,
                n,
                kinds.moving.after,
                begin,
                lane.world,
                lane.home[j],
                kinds.solid.at[o + 1] - kinds.solid.at[o],
                kinds.solid.after,
                kinds.solid.at[o],
                bx0,
                by0,
                bx1,
                by1,
                lane.poles,
                home,
                count,
                lane.poles,
                lane.pole_home[j],
                kinds.pole_at[o + 1] - kinds.pole_at[o],
                kinds.size[kind],
                kinds.size[o],
            )
        if (
            loss > 0.0
            and by_hand
            and pair_excused(kinds, region, lane, i, kind, x, y, c, s, j, own)
        ):
            loss = 0.0
        lane.loss[i, j] = lane.loss[j, i] = loss
