"""Whose turn is it, where metal of several students is passed on from hand to hand?

From the open edge inwards: first the one whose pieces lie nearest to the outside edge, so that
what is left stays one whole piece of metal, stiff under the saw. Whoever lies in another's
window is before that one, as the window falls out with it. Common practice, no source.

One order for the whole plan: where two share several stock pieces and each held one of them,
each would wait for the other for good.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.cutting import Job, Placement

from .paths import polygons_of

CRUMB_MM2 = 1.0
"""What is smaller holds nothing."""

BRIDGE_MM = 2.0
"""A bridge of metal narrower than this beside what was sawn out holds nothing together."""

Shells = dict[str, dict[str, list[Polygon]]]
"""The pieces' outer outlines, by stock piece and group."""


def shared_stock(job: Job, placements: Sequence[Placement]) -> dict[str, frozenset[str]]:
    """The groups on each stock piece that carries pieces of more than one, in the job's order."""
    on: dict[str, set[str]] = {}
    for one in placements:
        on.setdefault(one.metal, set()).add(job.wanted_by_id[one.piece].group or "")
    return {
        metal.id: frozenset(on[metal.id]) for metal in job.metal if len(on.get(metal.id, ())) > 1
    }


def turns_of(job: Job, placements: Sequence[Placement]) -> tuple[str, ...]:
    """The groups that share a stock piece with another, in the order in which they saw."""
    shared = shared_stock(job, placements)
    shells: Shells = {code: {} for code in shared}
    windows: dict[str, list[Polygon]] = {}
    for one in placements:
        if one.metal not in shared:
            continue
        group = job.wanted_by_id[one.piece].group or ""
        laid = one.lay(job.wanted_by_id[one.piece].outline)
        shells[one.metal].setdefault(group, []).append(Polygon(laid.exterior))
        windows.setdefault(f"{one.metal}\n{group}", []).extend(
            Polygon(ring) for ring in laid.interiors
        )
    metal: dict[str, BaseGeometry] = {one.id: one.outline for one in job.metal if one.id in shared}
    waiting = [
        group
        for group in dict.fromkeys(piece.group or "" for piece in job.pieces)
        if any(group in groups for groups in shared.values())
    ]
    turns: list[str] = []
    while waiting:
        ranks = {
            group: (
                _holds_others(group, waiting, shells, windows),
                *_cost(group, waiting, shells, metal, job.kerf_mm),
            )
            for group in waiting
        }
        first = min(waiting, key=lambda group: (*ranks[group], waiting.index(group)))
        waiting.remove(first)
        turns.append(first)
        for code, own in shells.items():
            if first in own:
                metal[code] = _left(metal[code], own[first], job.kerf_mm)
    return tuple(turns)


def _holds_others(
    group: str, waiting: Sequence[str], shells: Shells, windows: dict[str, list[Polygon]]
) -> int:
    """How many of those who wait have a piece in a window of the group's."""
    found = set()
    for code, own in shells.items():
        for window in windows.get(f"{code}\n{group}", ()):
            found |= {
                other
                for other in waiting
                if other != group and any(window.covers(shell) for shell in own.get(other, ()))
            }
    return len(found)


def _cost(
    group: str,
    waiting: Sequence[str],
    shells: Shells,
    metal: Mapping[str, BaseGeometry],
    kerf_mm: float,
) -> tuple[int, float]:
    """Into how many pieces more the others' metal falls when the group's are out, and how far
    from the open edge these lie (mm, the middle of each by its area)."""
    splits, depth, area = 0, 0.0, 0.0
    for code, own in shells.items():
        if group not in own:
            continue
        edge = united([part.exterior for part in polygons_of(metal[code])])
        for shell in own[group]:
            depth += float(shell.centroid.distance(edge)) * shell.area
            area += shell.area
        others = [shell for one in waiting if one != group for shell in own.get(one, ())]
        rest = _left(metal[code], own[group], kerf_mm + BRIDGE_MM)
        splits += max(_holding(rest, others) - _holding(metal[code], others), 0)
    return splits, round(depth / area, 3) if area else 0.0


def _left(metal: BaseGeometry, shells: Sequence[Polygon], around_mm: float) -> BaseGeometry:
    return without(metal, united([shell.buffer(around_mm) for shell in shells]))


def _holding(metal: BaseGeometry, shells: Sequence[Polygon]) -> int:
    """How many parts of the metal hold any of these pieces."""
    parts = [part for part in polygons_of(metal) if part.area > CRUMB_MM2]
    return sum(any(part.intersects(shell.centroid) for shell in shells) for part in parts)
