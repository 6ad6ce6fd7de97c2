"""From middle lines of single dots to strokes between nodes.

A node is where a line ends or where lines meet. Strokes that are only bristles of thinning go;
nodes so near each other that the pen covers both become one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


_SHARP = 0.5  # the cosine of 60 degrees
_LOOK_DOTS = 20


@dataclass(slots=True, eq=False)
class Stroke:
    """A stretch of middle line, `points` (n, 2) as x, y in dots, from one node to another.

    A stroke without nodes (`start` is -1) is a loop of its own and does not repeat its start.
    """

    points: Points
    start: int
    end: int

    @property
    def length(self) -> float:
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())

    @property
    def loose(self) -> bool:
        return self.start == -1


@dataclass(slots=True)
class Web:
    """All strokes of one picture; `nodes` are positions in dots."""

    strokes: list[Stroke] = field(default_factory=list)
    nodes: dict[int, Points] = field(default_factory=dict)

    def degrees(self) -> dict[int, int]:
        found = dict.fromkeys(self.nodes, 0)
        for stroke in self.strokes:
            if not stroke.loose:
                found[stroke.start] += 1
                found[stroke.end] += 1
        return found


def web_of(skeleton: NDArray[np.uint8], pen: float) -> Web:
    """`pen` is the pen's width in dots."""
    web = _walked(skeleton)
    for _ in range(3):
        _join_near(web, 1.1 * pen)
        gone = _shed(web, 0.85 * pen, 3.2 * pen)
        _join_through(web)
        if not gone:
            break
    return web


def _walked(skeleton: NDArray[np.uint8]) -> Web:
    width = skeleton.shape[1]
    flat = skeleton.ravel()
    dots = np.flatnonzero(flat)
    # Straight neighbours first: a walk takes the corner dot before the one across it.
    steps = (1, -width, -1, width, 1 - width, -1 - width, width - 1, width + 1)
    ring = (1, 1 - width, -width, -1 - width, -1, width - 1, width, width + 1)
    around = np.stack([flat[dots + step] for step in ring], axis=1).astype(np.int8)
    turns = ((around == 0) & (np.roll(around, -1, axis=1) == 1)).sum(axis=1)
    total = around.sum(axis=1)
    # Too many nodes do no harm: where only two strokes meet they are joined again.
    is_node = (turns != 2) | (total != 2)
    node_of: dict[int, int] = {}
    web = Web()
    node_dots = set(dots[is_node].tolist())
    for dot in sorted(node_dots):
        if dot in node_of:
            continue
        number, group, todo = len(web.nodes), [], [dot]
        node_of[dot] = number
        while todo:
            here = todo.pop()
            group.append(here)
            for step in steps:
                other = here + step
                if other in node_dots and other not in node_of:
                    node_of[other] = number
                    todo.append(other)
        places = np.array(group)
        web.nodes[number] = np.array([(places % width).mean(), (places // width).mean()])
    free = set(dots[~is_node].tolist())
    for dot, number in node_of.items():
        for step in steps:
            if dot + step in free:
                _follow(web, dot + step, number, free, node_of, steps, width)
    while free:
        first = min(free)
        free.discard(first)
        path = [first]
        while (after := _next(path[-1], free, steps)) is not None:
            free.discard(after)
            path.append(after)
        if len(path) > 4:
            web.strokes.append(Stroke(_spots(path, width), -1, -1))
    return web


def _next(dot: int, free: set[int], steps: tuple[int, ...]) -> int | None:
    for step in steps:
        if dot + step in free:
            return dot + step
    return None


def _follow(
    web: Web,
    first: int,
    start: int,
    free: set[int],
    node_of: dict[int, int],
    steps: tuple[int, ...],
    width: int,
) -> None:
    path = [first]
    free.discard(first)
    while True:
        ends = {node_of[path[-1] + step] for step in steps if path[-1] + step in node_of}
        if len(path) > 2 and ends:
            end = start if start in ends and len(ends) == 1 else min(ends - {start} or ends)
            break
        if ends - {start}:
            end = min(ends - {start})
            break
        after = _next(path[-1], free, steps)
        if after is None:
            if not ends:
                number = len(web.nodes)
                web.nodes[number] = _spots(path[-1:], width)[0]
                end = number
            else:
                end = start
            break
        free.discard(after)
        path.append(after)
    if end == start and len(path) < 6:
        return
    points = np.vstack((web.nodes[start], _spots(path, width), web.nodes[end]))
    web.strokes.append(Stroke(points, start, end))


def _spots(path: list[int], width: int) -> Points:
    places = np.array(path)
    return np.stack((places % width, places // width), axis=1).astype(np.float64)


def _join_near(web: Web, near: float) -> None:
    """Nodes that a very short stroke joins become one node (a crossing thins to two)."""
    degrees = web.degrees()
    for stroke in list(web.strokes):
        if stroke.loose or stroke.start == stroke.end or stroke.length > near:
            continue
        if degrees[stroke.start] < 3 or degrees[stroke.end] < 3:
            continue
        kept, gone = stroke.start, stroke.end
        web.strokes.remove(stroke)
        middle = (web.nodes[kept] + web.nodes[gone]) / 2
        for other in web.strokes:
            if other.start in (kept, gone) and not other.loose:
                other.start = kept
                other.points = np.vstack((middle, other.points[1:]))
            if other.end in (kept, gone) and not other.loose:
                other.end = kept
                other.points = np.vstack((other.points[:-1], middle))
        web.nodes[kept] = middle
        del web.nodes[gone]
        degrees = web.degrees()


def _shed(web: Web, bristle: float, tip: float) -> bool:
    """Takes away short free ends that hang on a line.

    Where two lines run together in a sharp tip, their ink is one for a while; such an end may be
    as long as `tip`.
    """
    degrees = web.degrees()
    short = {
        id(stroke)
        for stroke in web.strokes
        if not stroke.loose
        and stroke.start != stroke.end
        and (stroke.length <= bristle or (stroke.length <= tip and _ends_a_tip(web, stroke)))
        and min(degrees[stroke.start], degrees[stroke.end]) == 1
        and max(degrees[stroke.start], degrees[stroke.end]) >= 3
    }
    kept = [
        stroke
        for stroke in web.strokes
        if id(stroke) not in short or _is_star(web, degrees, stroke)
    ]
    gone = len(kept) < len(web.strokes)
    web.strokes = kept
    return gone


def _ends_a_tip(web: Web, stroke: Stroke) -> bool:
    """Whether the stroke goes on where two others run together sharply, and nothing else is."""
    for node in (stroke.start, stroke.end):
        others = [one for one in web.strokes if one is not stroke and node in (one.start, one.end)]
        leaving = [way for one in others for way in _leaving(one, node)]
        if len(leaving) != 2:
            continue
        (own,) = _leaving(stroke, node)
        return bool(leaving[0] @ leaving[1] > _SHARP and (leaving[0] + leaving[1]) @ own < 0.0)
    return False


def _leaving(stroke: Stroke, node: int) -> list[Points]:
    """In which direction the stroke leaves the node, once for each of its ends there."""
    found = []
    for end, points in ((stroke.start, stroke.points), (stroke.end, stroke.points[::-1])):
        if end == node:
            way = points[min(len(points) - 1, _LOOK_DOTS)] - points[0]
            found.append(way / max(float(np.hypot(*way)), 1e-9))
    return found


def _is_star(web: Web, degrees: dict[int, int], stroke: Stroke) -> bool:
    """Where nothing but free ends of like length meet, they are a small cross, no bristles."""
    node = stroke.start if degrees[stroke.start] > 1 else stroke.end
    arms = [each for each in web.strokes if node in (each.start, each.end)]
    free = all(min(degrees[each.start], degrees[each.end]) == 1 for each in arms)
    lengths = [each.length for each in arms]
    return free and max(lengths) <= 2.5 * min(lengths)


def _join_through(web: Web) -> None:
    """Two strokes that meet alone at a node are one."""
    at: dict[int, list[Stroke]] = {}
    for stroke in web.strokes:
        if not stroke.loose:
            at.setdefault(stroke.start, []).append(stroke)
            at.setdefault(stroke.end, []).append(stroke)
    gone: set[int] = set()
    for node, found in at.items():
        if len(found) != 2:
            continue
        one, other = found
        if one is other:
            one.points = one.points[:-1]
            one.start = one.end = -1
            continue
        first = one.points if one.end == node else one.points[::-1]
        begin = one.start if one.end == node else one.end
        second = other.points if other.start == node else other.points[::-1]
        finish = other.end if other.start == node else other.start
        one.points = np.vstack((first, second[1:]))
        one.start, one.end = begin, finish
        gone.add(id(other))
        if finish != node:
            at[finish] = [one if each is other else each for each in at[finish]]
        if begin != node:
            at[begin] = [one if each is one else each for each in at[begin]]
    web.strokes = [stroke for stroke in web.strokes if id(stroke) not in gone]
    used = {n for stroke in web.strokes for n in (stroke.start, stroke.end)}
    web.nodes = {number: place for number, place in web.nodes.items() if number in used}
