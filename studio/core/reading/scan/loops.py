"""Closed lines around a set of faces, walked stroke by stroke."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .strokes import Stroke

Points = NDArray[np.float64]


@dataclass(slots=True)
class Loop:
    """`points` (n, 2) in dots, the first not repeated; `nodes` lie on it."""

    points: Points
    nodes: list[int]


def loops_around(
    strokes: Sequence[Stroke], inside: Collection[int], sides: Mapping[int, tuple[int, int]]
) -> list[Loop]:
    """The rims between the faces `inside` and all others; strokes that do not close are left."""
    rim = [
        stroke
        for stroke in strokes
        if (sides[id(stroke)][0] in inside) != (sides[id(stroke)][1] in inside)
    ]
    loops = [Loop(stroke.points, []) for stroke in rim if stroke.loose]
    at: dict[int, list[Stroke]] = {}
    for stroke in rim:
        if not stroke.loose:
            at.setdefault(stroke.start, []).append(stroke)
            if stroke.end != stroke.start:
                at.setdefault(stroke.end, []).append(stroke)
    used: set[int] = set()
    for stroke in rim:
        if stroke.loose or id(stroke) in used:
            continue
        used.add(id(stroke))
        path, nodes, here = [stroke.points], [stroke.start], stroke.end
        latest = stroke
        while here != stroke.start:
            nodes.append(here)
            free = [each for each in at[here] if id(each) not in used]
            if not free:
                break
            latest = min(free, key=lambda each: _unlike(sides[id(each)], sides[id(latest)]))
            used.add(id(latest))
            forward = latest.start == here
            path.append((latest.points if forward else latest.points[::-1])[1:])
            here = latest.end if forward else latest.start
        if here == stroke.start:
            points = np.vstack(path)
            loops.append(Loop(points[:-1], nodes))
    return loops


def _unlike(one: tuple[int, int], other: tuple[int, int]) -> int:
    """At a spot where two rims touch, the walk keeps to the same two faces."""
    return 2 - len(set(one) & set(other))
