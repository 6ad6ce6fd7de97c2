"""Do two pieces overlap, does one leave the metal, and how badly: compiled inner loops.

Every kind of piece is held three times as flat rings: `solid` is the outline grown by half the
kerf (what lies still), `moving` the same shrunk by a hair (what is tried), `body` the true
outline shrunk by a hair (against the metal). The hair makes contact no overlap: edges laid
exactly on each other never cross, while a real overlap always shows as a crossing or as one
lying within the other.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studio.core.placing.compiled import compiled, compiled_sum, woven

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

SURE_POLES = 4  # circles compared before any edge is
LOOKS = 5  # in a lane's tally: whether poses are looked at for lines shared or free


class Rings(NamedTuple):
    """Rings of all kinds, one after another: kind k owns points at[k] to at[k + 1]."""

    at: Ints
    points: Floats  # (points, 2)
    after: Ints  # index of the next point of the same ring, counted within the kind


class Kinds(NamedTuple):
    """All kinds of pieces. Mirrored kinds are kinds of their own."""

    solid: Rings
    moving: Rings
    body: Rings
    pole_at: Ints
    poles: Floats  # (3, circles): x, y, radius; the largest first
    size: Floats  # square root of the hull's area
    reach: Floats  # (kinds, 2): mean width, and greatest distance from the pole of the first circle
    mirrored: Ints  # the kind that is this one's mirror image, or −1
    turn_at: Ints
    turns: Floats  # radians: the only turns allowed, or those worth trying first
    free_turn: Ints  # 1 where any turn is allowed
    flush_at: Ints
    flush: Floats  # long edges of `solid` (x0, y0, x1, y1), metal of the piece on the left
    true_at: Ints
    true_flush: Floats  # the same edges of the true outline
    run_at: Ints
    run: Floats  # under the rules for hands, the true outline's straight runs; else none


class Region(NamedTuple):
    """Where pieces may lie: all stock pieces in one plane, one behind another along x."""

    edges: Floats  # (edges, 4), free metal on the left
    starts: Floats  # (rings, 2): one point of every ring
    long: Floats  # edges long enough to lie flush on
    clean: Floats  # those of them that need no sawing where a piece lies on them
    box: Floats  # x0, y0, x1, y1
    field: Floats  # signed distance to the rim, positive inside, on a grid
    origin: Floats  # x, y of field[0, 0]; and the cell's size
    ends: Floats  # right ends of the stock pieces, from left to right
    kerf: float  # what two outlines keep between them
    rules: Floats  # for hands: 1, kerf, gap, width of a shared line, least straight run; else 0 …
    hard: Floats  # edges of the room that no outline may leave, under the rules for hands
    hard_starts: Floats
    near: Floats  # clean edges of the metal, from which a gap is kept
    lines: Floats  # those of them that are straight for long enough to be a free edge


class Lane(NamedTuple):
    """One search: poses and what follows from them. Everything is changed in place."""

    pose: Floats  # (pieces, 3): x, y, turn
    kind: Ints
    home: Ints  # where each piece's points begin in `world`; poles in `poles`
    pole_home: Ints
    world: Floats  # solid points as they lie
    poles: Floats  # (3, circles) as they lie
    box: Floats  # (pieces, 4)
    loss: Floats  # (pieces, pieces)
    rim_loss: Floats
    weight: Floats
    rim_weight: Floats
    best_pose: Floats
    best_kind: Ints
    line: Floats  # sweep line now, best line so far, next step, least loss so far
    tally: Ints  # evaluations, stale passes, phase, moves without success, successes, LOOKS
    spare: Floats  # room for the moving points, then the body's points
    circles: Floats  # (3, …): room for the moving circles
    order: Ints
    spot: Floats  # room for a pose that is tried
    kept: Floats  # room for the best poses of a move, their kinds and values
    kept_kind: Ints
    value: Floats
    aside_pose: Floats  # room for a whole plan put aside
    aside_kind: Ints
    bare: Floats  # room for two outlines as they lie
    lines: Floats  # room for lines shared or free: x0, y0, x1, y1, and 1 where free


@woven
def lay(
    rings: Rings, kind: int, x: float, y: float, c: float, s: float, out: Floats, first: int
) -> int:
    """Write a kind's points at a pose (c, s: the turn's cosine and sine) to `out` from row
    `first`; the number of points."""
    begin = rings.at[kind]
    n = rings.at[kind + 1] - begin
    for k in range(n):
        px, py = rings.points[begin + k, 0], rings.points[begin + k, 1]
        out[first + k, 0] = px * c - py * s + x
        out[first + k, 1] = px * s + py * c + y
    return n


@compiled
def crossing(
    ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float
) -> bool:
    """Whether the open segments a-b and c-d cross properly."""
    o1 = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    o2 = (bx - ax) * (dy - ay) - (by - ay) * (dx - ax)
    if (o1 > 0.0) == (o2 > 0.0) or o1 == 0.0 or o2 == 0.0:
        return False
    o3 = (dx - cx) * (ay - cy) - (dy - cy) * (ax - cx)
    o4 = (dx - cx) * (by - cy) - (dy - cy) * (bx - cx)
    return (o3 > 0.0) != (o4 > 0.0) and o3 != 0.0 and o4 != 0.0


@compiled
def within(
    points: Floats, first: int, n: int, after: Ints, after_at: int, x: float, y: float
) -> bool:
    """Whether a point lies in the rings, by parity."""
    inside = False
    for k in range(n):
        m = first + after[after_at + k]
        y0, y1 = points[first + k, 1], points[m, 1]
        if (y0 > y) != (y1 > y):
            x0 = points[first + k, 0]
            if x < x0 + (y - y0) / (y1 - y0) * (points[m, 0] - x0):
                inside = not inside
    return inside


@woven
def depth(region: Region, x: float, y: float) -> float:
    """Signed distance to the metal's rim, roughly; positive inside."""
    rows, columns = region.field.shape
    cell = region.origin[2]
    u = (x - region.origin[0]) / cell
    v = (y - region.origin[1]) / cell
    over = 0.0
    if u < 0.0:
        over += -u
        u = 0.0
    elif u > columns - 1.001:
        over += u - (columns - 1.001)
        u = columns - 1.001
    if v < 0.0:
        over += -v
        v = 0.0
    elif v > rows - 1.001:
        over += v - (rows - 1.001)
        v = rows - 1.001
    i, j = int(v), int(u)
    fu, fv = u - j, v - i
    f = region.field
    low = f[i, j] * (1.0 - fu) + f[i, j + 1] * fu
    high = f[i + 1, j] * (1.0 - fu) + f[i + 1, j + 1] * fu
    return low * (1.0 - fv) + high * fv - over * cell


@woven
def smooth(inside: float, small: float) -> float:
    """Penetration, continued below zero so that it never vanishes."""
    if inside >= small:
        return inside
    return small * small / (2.0 * small - inside)


@woven
def leaves(
    edges: Floats,
    starts: Floats,
    after: Ints,
    begin: int,
    points: Floats,
    n: int,
    x0: float,
    y0: float,
    x1: float,
    y1: float,
) -> bool:
    """Whether an outline (in `points`, within the box) crosses a room's edges or lies outside."""
    hit = False
    for e in range(edges.shape[0]):
        ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
        if max(ax, bx) < x0 or min(ax, bx) > x1 or max(ay, by) < y0 or min(ay, by) > y1:
            continue
        for k in range(n):
            m = after[begin + k]
            if crossing(ax, ay, bx, by, points[k, 0], points[k, 1], points[m, 0], points[m, 1]):
                hit = True
                break
        if hit:
            break
    if not hit:
        inside = False
        px, py = points[0, 0], points[0, 1]
        for e in range(edges.shape[0]):
            ay, by = edges[e, 1], edges[e, 3]
            if (ay > py) != (by > py):
                ax = edges[e, 0]
                if px < ax + (py - ay) / (by - ay) * (edges[e, 2] - ax):
                    inside = not inside
        hit = not inside
    if not hit:
        for r in range(starts.shape[0]):
            sx, sy = starts[r, 0], starts[r, 1]
            if x0 < sx < x1 and y0 < sy < y1 and within(points, 0, n, after, begin, sx, sy):
                hit = True
                break
    return hit


@woven
def rim_loss(
    kinds: Kinds,
    region: Region,
    kind: int,
    line: float,
    points: Floats,
    n: int,
    poles: Floats,
    first_pole: int,
    count: int,
) -> float:
    """How badly a body (points laid out in `points`) leaves the metal or passes the line."""
    x0 = y0 = np.inf
    x1 = y1 = -np.inf
    for k in range(n):
        x0, x1 = min(x0, points[k, 0]), max(x1, points[k, 0])
        y0, y1 = min(y0, points[k, 1]), max(y1, points[k, 1])
    begin = kinds.body.at[kind]
    hit = x1 > line + 1e-6 or (
        x0 < region.box[0] - 1e-3
        or y0 < region.box[1] - 1e-3
        or x1 > region.box[2] + 1e-3
        or y1 > region.box[3] + 1e-3
    )
    hit = hit or leaves(
        region.edges, region.starts, kinds.body.after, begin, points, n, x0, y0, x1, y1
    )
    if not hit:
        return 0.0
    small = 0.01 * kinds.size[kind]
    total = 0.0
    for k in range(count):
        cx, cy = poles[0, first_pole + k], poles[1, first_pole + k]
        r = max(0.0, poles[2, first_pole + k] - region.kerf / 2.0)
        near = min(depth(region, cx, cy), line - cx)
        total += smooth(r - near, small) * max(r, small)
    beyond = max(0.0, x1 - line)
    total += beyond * kinds.size[kind]
    return 2.0 * np.sqrt(total) * np.sqrt(kinds.size[kind])


@compiled
def pair_loss(
    points: Floats,
    n: int,
    after: Ints,
    begin: int,
    world: Floats,
    base: int,
    size: int,
    world_after: Ints,
    base_kind: int,
    bx0: float,
    by0: float,
    bx1: float,
    by1: float,
    poles: Floats,
    first_pole: int,
    count: int,
    world_poles: Floats,
    home: int,
    others: int,
    own_size: float,
    other_size: float,
) -> float:
    """How badly a moving piece (laid out in `points`) overlaps another as it lies in `world`.

    The two boxes have (bx0, by0, bx1, by1) in common. Everything is passed array by array: a
    tuple of arrays costs more to hand over than most pairs cost to compare.
    """
    hit = False
    for k in range(min(count, SURE_POLES)):
        px, py = poles[0, first_pole + k], poles[1, first_pole + k]
        pr = poles[2, first_pole + k]
        for m in range(min(others, SURE_POLES)):
            dx, dy = px - world_poles[0, home + m], py - world_poles[1, home + m]
            r = pr + world_poles[2, home + m]
            if dx * dx + dy * dy < r * r:
                hit = True
                break
        if hit:
            break
    if not hit:
        for k in range(n):
            m = after[begin + k]
            ax, ay, bx, by = points[k, 0], points[k, 1], points[m, 0], points[m, 1]
            ex0, ex1 = min(ax, bx), max(ax, bx)
            ey0, ey1 = min(ay, by), max(ay, by)
            if ex1 < bx0 or ex0 > bx1 or ey1 < by0 or ey0 > by1:
                continue
            for q in range(size):
                w = base + world_after[base_kind + q]
                cx, cy = world[base + q, 0], world[base + q, 1]
                dx, dy = world[w, 0], world[w, 1]
                if max(cx, dx) < ex0 or min(cx, dx) > ex1:
                    continue
                if max(cy, dy) < ey0 or min(cy, dy) > ey1:
                    continue
                if crossing(ax, ay, bx, by, cx, cy, dx, dy):
                    hit = True
                    break
            if hit:
                break
    if not hit:
        hit = within(
            world, base, size, world_after, base_kind, points[0, 0], points[0, 1]
        ) or within(points, 0, n, after, begin, world[base, 0], world[base, 1])
    if not hit:
        return 0.0
    small = 0.01 * max(own_size, other_size)
    total = circles_loss(poles, first_pole, count, world_poles, home, others, small)
    return np.sqrt(total) * np.sqrt(np.sqrt(own_size * other_size))


@compiled_sum
def circles_loss(
    own: Floats, first: int, count: int, others: Floats, home: int, size: int, small: float
) -> float:
    """How deeply two sets of circles overlap, smoothly continued where they do not."""
    total = 0.0
    for k in range(first, first + count):
        px, py, pr = own[0, k], own[1, k], own[2, k]
        for m in range(home, home + size):
            dx, dy, qr = px - others[0, m], py - others[1, m], others[2, m]
            inside = pr + qr - np.sqrt(dx * dx + dy * dy)
            deep = inside if inside >= small else small * small / (2.0 * small - inside)
            total += deep * min(pr, qr)
    return total


@woven
def lay_poles(
    kinds: Kinds, kind: int, x: float, y: float, c: float, s: float, out: Floats, first: int
) -> int:
    """Write a kind's circles at a pose to `out` from column `first`; the number of circles."""
    begin = kinds.pole_at[kind]
    n = kinds.pole_at[kind + 1] - begin
    for k in range(n):
        px, py = kinds.poles[0, begin + k], kinds.poles[1, begin + k]
        out[0, first + k] = px * c - py * s + x
        out[1, first + k] = px * s + py * c + y
        out[2, first + k] = kinds.poles[2, begin + k]
    return n
