"""Whose turn is it, where metal of several students is passed on from hand to hand?

From the open edge inwards: first the one whose pieces lie nearest to the outside edge, so that
what is left stays one whole piece of metal, stiff under the saw. Whoever lies in another's
window is before that one, as the window falls out with it. Common practice, no source.

One order for the whole plan: where two share several stock pieces and each held one of them,
each would wait for the other for good.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from shapely.geometry import MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.cutting import Job, Placement

from .paths import polygons_of

CRUMB_MM2 = 1.0
"""What is smaller holds nothing."""

BRIDGE_MM = 2.0
"""A bridge of metal narrower than this beside what was sawn out holds nothing together."""

PLAIN_MM = 0.3
"""Outlines are made plainer by so much: an order needs no finer."""

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
        plain = Polygon(laid.exterior).simplify(PLAIN_MM)
        shells[one.metal].setdefault(group, []).extend(polygons_of(plain))
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
        first = _first(waiting, shells, windows, metal, job.kerf_mm)
        waiting.remove(first)
        turns.append(first)
        for code, own in shells.items():
            if first in own:
                metal[code] = _left(metal[code], own[first], job.kerf_mm)
    return tuple(turns)


def _first(
    waiting: Sequence[str],
    shells: Shells,
    windows: dict[str, list[Polygon]],
    metal: Mapping[str, BaseGeometry],
    kerf_mm: float,
) -> str:
    """Who comes next: whoever holds fewest others in a window, then whoever leaves the others'
    metal in fewest pieces, then whoever lies nearest to the open edge."""
    holding = {group: _holds_others(group, waiting, shells, windows) for group in waiting}
    least = min(holding.values())
    depths = {group: _depth(group, shells, metal) for group in waiting if holding[group] == least}
    fewest, found = math.inf, waiting[0]
    for group in sorted(depths, key=lambda one: (depths[one], waiting.index(one))):
        splits = _splits(group, waiting, shells, metal, kerf_mm)
        if splits < fewest:
            fewest, found = splits, group
        if not splits:
            break  # nobody further in can be better
    return found


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


def _depth(group: str, shells: Shells, metal: Mapping[str, BaseGeometry]) -> float:
    """How far from the open edge the group's pieces lie (mm): their middles, by area."""
    depth = area = 0.0
    for code, own in shells.items():
        if group in own:
            edge = MultiLineString([part.exterior for part in polygons_of(metal[code])])
            for shell in own[group]:
                depth += float(shell.centroid.distance(edge)) * shell.area
                area += shell.area
    return round(depth / area, 3) if area else 0.0


def _splits(
    group: str,
    waiting: Sequence[str],
    shells: Shells,
    metal: Mapping[str, BaseGeometry],
    kerf_mm: float,
) -> int:
    """Into how many pieces more the others' metal falls when the group's pieces are out."""
    splits = 0
    for code, own in shells.items():
        if group in own:
            others = [shell for one in waiting if one != group for shell in own.get(one, ())]
            rest = _left(metal[code], own[group], kerf_mm + BRIDGE_MM)
            splits += max(_holding(rest, others) - _holding(metal[code], others), 0)
    return splits


def _left(metal: BaseGeometry, shells: Sequence[Polygon], around_mm: float) -> BaseGeometry:
    return without(metal, united([shell.buffer(around_mm, quad_segs=2) for shell in shells]))


def _holding(metal: BaseGeometry, shells: Sequence[Polygon]) -> int:
    """How many parts of the metal hold any of these pieces."""
    parts = [part for part in polygons_of(metal) if part.area > CRUMB_MM2]
    return sum(any(part.intersects(shell.centroid) for shell in shells) for part in parts)
