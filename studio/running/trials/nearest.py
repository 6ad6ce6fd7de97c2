"""The smallest moves found that end a layout's faults: piece by piece, in rings around it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import replace

from studio.core.cutting import Cut, Job, Placement
from studio.core.verifying import Fault, Watch

RINGS_MM = (0.1, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.0)
DIRECTIONS = 12
MOST_LOOKS = 600
"""So often the judge is asked in all; what is not in order by then the engine lays anew."""

Key = tuple[str, int]


def nearest(
    job: Job,
    laid: tuple[Placement, ...],
    pinned: Collection[Key] = (),
    cuts: tuple[Cut, ...] = (),
) -> tuple[Placement, ...]:
    """The layout with its faulty pieces moved a little, in mm, where that helps.

    Pinned pieces stay, and so do the `cuts` that part the metal. What lies on metal that the job
    does not have is left out; what cannot be put right nearby stays as it is, for the engine to lay
    anew.
    """
    now = [p for p in laid if p.metal in job.stock_by_id and p.piece in job.wanted_by_id]
    watch = Watch(job)
    looks = 0
    hopeless: set[Key] = set()
    wrong = watch.judge(now, cuts).faults
    while wrong and looks < MOST_LOOKS:
        key = _worst(wrong, {*pinned, *hopeless})
        if key is None:
            break
        place = next(i for i, p in enumerate(now) if (p.piece, p.copy) == key)
        before = _count(wrong, key)
        best: tuple[int, tuple[Fault, ...], Placement] | None = None
        for moved in _around(now[place]):
            looks += 1
            found = watch.judge([*now[:place], moved, *now[place + 1 :]], cuts).faults
            left = _count(found, key)
            if left < before and len(found) < len(wrong) and (best is None or left < best[0]):
                best = left, found, moved
            if looks >= MOST_LOOKS or (best is not None and best[0] == 0):
                break
        if best is None:
            hopeless.add(key)
        else:
            _, wrong, now[place] = best
    return tuple(now)


def _worst(wrong: tuple[Fault, ...], stay: Collection[Key]) -> Key | None:
    """The piece that is in most faults, of those that may be moved."""
    counts: Counter[Key] = Counter()
    for fault in wrong:
        for key in _named(fault):
            if key not in stay:
                counts[key] += 1
    return max(counts, key=lambda key: counts[key]) if counts else None


def _count(wrong: tuple[Fault, ...], key: Key) -> int:
    return sum(key in _named(fault) for fault in wrong)


def _named(fault: Fault) -> tuple[Key, ...]:
    own = (fault.piece, fault.copy)
    if fault.other is None or fault.other_copy is None:
        return (own,)
    return own, (fault.other, fault.other_copy)


def _around(p: Placement) -> Iterator[Placement]:
    for ring in RINGS_MM:
        for step in range(DIRECTIONS):
            turn = 2.0 * math.pi * step / DIRECTIONS
            x = p.x_mm + ring * math.cos(turn)
            y = p.y_mm + ring * math.sin(turn)
            yield replace(p, x_mm=round(x, 6), y_mm=round(y, 6))
