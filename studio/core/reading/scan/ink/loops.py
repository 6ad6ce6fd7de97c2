"""Closed lines around a set of faces, walked stroke by stroke."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import cv2
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
) -> list[Loop] | None:
    """The rims between the faces `inside` and all others; None when strokes do not close."""
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
                return None
            latest = min(free, key=lambda each: _unlike(sides[id(each)], sides[id(latest)]))
            used.add(id(latest))
            forward = latest.start == here
            path.append((latest.points if forward else latest.points[::-1])[1:])
            here = latest.end if forward else latest.start
        loops.append(Loop(np.vstack(path)[:-1], nodes))
    return loops


def loops_by_area(
    labels: NDArray[np.int32], inside: Collection[int], strokes: Sequence[Stroke]
) -> list[Loop]:
    """The same rims around the areas themselves, for webs that lost a stroke."""
    points = np.vstack([stroke.points for stroke in strokes])
    left, top = np.maximum(points.min(axis=0).astype(int) - 3, 0)
    right, bottom = points.max(axis=0).astype(int) + 4
    area = np.isin(labels[top:bottom, left:right], list(inside)).astype(np.uint8)
    area = cv2.morphologyEx(
        cv2.copyMakeBorder(area, 3, 3, 3, 3, cv2.BORDER_CONSTANT, value=0),
        cv2.MORPH_CLOSE,
        np.ones((3, 3), np.uint8),
    )
    area = cv2.dilate(area, np.ones((3, 3), np.uint8))
    rings, _ = cv2.findContours(
        area, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE, offset=(int(left) - 3, int(top) - 3)
    )
    nodes = {node for stroke in strokes for node in (stroke.start, stroke.end) if node >= 0}
    return [
        Loop(ring[:, 0, :].astype(np.float64), sorted(nodes))
        for ring in rings
        if len(ring) > 12 and cv2.contourArea(ring) > 30
    ]


def _unlike(one: tuple[int, int], other: tuple[int, int]) -> int:
    """At a spot where two rims touch, the walk keeps to the same two faces."""
    return 2 - len(set(one) & set(other))
