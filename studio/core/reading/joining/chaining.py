"""Joins lines that meet end to end, first those that touch, then those with small gaps.

Drawing programs write an outline as dozens of loose lines. Two ends that touch are joined
when no third end is there; where three or more meet nobody can know which way the outline
goes, so they stay apart and the assembly says so. Remaining gaps up to `HEAL_GAP_MM` are
closed nearest first, both ends moving to the middle.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Weight
from studio.core.reading.bounds import HEAL_GAP_MM, MAX_LOOSE_LINES, SAME_POINT_MM
from studio.core.reading.errors import PatternError
from studio.core.reading.rough import RoughLine

# An end is 2 * line number for the first point and 2 * line number + 1 for the last.
_Ordered = tuple[int, RoughLine]
_MOST_REMARKS = 10


def chain_by_layer(lines: list[_Ordered], findings: list[Finding]) -> list[_Ordered]:
    """As `chain`, first inside each layer, so that a layer left out later leaves the rest whole.

    A helping line on a layer of its own may end on an outline's corner without keeping the
    outline from closing. What still is open afterwards is joined across the layers.
    """
    layers: dict[tuple[str, str], list[_Ordered]] = defaultdict(list)
    for each in lines:
        layers[each[1].layer, each[1].hint].append(each)
    if len(layers) < 2:
        return chain(lines, findings)
    named: list[_Ordered] = []
    nameless: list[_Ordered] = []
    for (_, hint), layer in layers.items():
        (named if hint else nameless).extend(chain(layer, findings))
    return named + chain(nameless, findings)


def chain(lines: list[_Ordered], findings: list[Finding]) -> list[_Ordered]:
    """The same lines with open ones joined; a joined line takes the earliest place."""
    closed = [each for each in lines if each[1].closed]
    loose = [each for each in lines if not each[1].closed]
    if not loose:
        return lines
    pairs, crowded = _touching(loose)
    loose, _ = _joined(loose, pairs)
    open_lines = [each for each in loose if not each[1].closed]
    if len(open_lines) > MAX_LOOSE_LINES:
        raise PatternError(
            "too-many-loose-lines",
            f"This drawing has {len(open_lines):,} lines that do not close.",
            "Join the lines into closed outlines in your drawing program.",
        )
    healed, gaps = _joined(open_lines, _nearby(open_lines, crowded))
    for x, y, width in gaps[:_MOST_REMARKS]:
        findings.append(
            Finding(
                "gap-healed",
                Weight.CAUTION,
                f"A gap of {told_mm(width, HEAL_GAP_MM)} mm in a line was closed here.",
                "Nothing to do; look whether the line goes on as you meant it.",
                at=(x, y),
                value_mm=width,
                limit_mm=HEAL_GAP_MM,
            )
        )
    return closed + [each for each in loose if each[1].closed] + healed


def _end(loose: list[_Ordered], end: int) -> NDArray[np.float64]:
    point: NDArray[np.float64] = loose[end // 2][1].points[-(end % 2)]
    return point


def _key(point: NDArray[np.float64]) -> tuple[int, int]:
    return round(float(point[0]) / SAME_POINT_MM), round(float(point[1]) / SAME_POINT_MM)


def _touching(loose: list[_Ordered]) -> tuple[dict[int, int], set[tuple[int, int]]]:
    """Pairs of ends that touch alone, and the spots where more than two meet."""
    spots: dict[tuple[int, int], list[int]] = defaultdict(list)
    for end in range(2 * len(loose)):
        spots[_key(_end(loose, end))].append(end)
    pairs: dict[int, int] = {}
    crowded: set[tuple[int, int]] = set()
    for spot, ends in spots.items():
        # A line that comes back to its own start is closed, whatever else begins there.
        own = {end for end in ends if end ^ 1 in ends}
        pairs.update((end, end ^ 1) for end in own)
        rest = [end for end in ends if end not in own]
        if len(rest) == 2:
            pairs[rest[0]], pairs[rest[1]] = rest[1], rest[0]
        elif len(rest) > 2:
            crowded.add(spot)
    return pairs, crowded


def _nearby(loose: list[_Ordered], crowded: set[tuple[int, int]]) -> dict[int, int]:
    """Pairs of free ends within the gap that is healed, nearest first."""
    ends = [end for end in range(2 * len(loose)) if _key(_end(loose, end)) not in crowded]
    if len(ends) < 2:
        return {}
    points: Any = shapely.points(np.asarray([_end(loose, end) for end in ends]))
    tree = shapely.STRtree(points)
    first, second = tree.query(points, "dwithin", HEAL_GAP_MM)
    keep = first < second
    first, second = first[keep], second[keep]
    order = np.argsort(shapely.distance(points[first], points[second]), kind="stable")
    pairs: dict[int, int] = {}
    for index in order:
        a, b = ends[first[index]], ends[second[index]]
        if a in pairs or b in pairs:
            continue
        if a // 2 == b // 2 and _is_short(loose[a // 2][1]):
            continue
        pairs[a], pairs[b] = b, a
    return pairs


def _is_short(line: RoughLine) -> bool:
    """A dash shorter than the gap would close on itself and vanish."""
    return float(np.ptp(line.points, axis=0).max()) <= 2 * HEAL_GAP_MM


def _joined(
    loose: list[_Ordered], pairs: dict[int, int]
) -> tuple[list[_Ordered], list[tuple[float, float, float]]]:
    """Follows the pairs; returns the joined lines and each closed gap as x, y, width."""
    result: list[_Ordered] = []
    gaps: list[tuple[float, float, float]] = []
    used: set[int] = set()
    starts = [end for end in range(2 * len(loose)) if end not in pairs]
    rest = list(range(0, 2 * len(loose), 2))  # rings of lines have no free end
    for start in starts + rest:
        if start // 2 in used:
            continue
        members: list[int] = []
        end = start
        while True:
            used.add(end // 2)
            members.append(end)
            following = pairs.get(end ^ 1)
            if following is None or following // 2 in used:
                break
            end = following
        closes = pairs.get(members[-1] ^ 1) == members[0]
        result.append(_sewn(loose, members, closes, gaps))
    return result, gaps


def _sewn(
    loose: list[_Ordered],
    members: list[int],
    closes: bool,
    gaps: list[tuple[float, float, float]],
) -> _Ordered:
    """One line of the members, each entered at the given end."""
    if len(members) == 1 and not closes:
        return loose[members[0] // 2]
    stretches = []
    for end in members:
        points = loose[end // 2][1].points
        stretches.append(points[::-1].copy() if end % 2 else points.copy())
    joints = list(pairwise(stretches))
    if closes:
        joints.append((stretches[-1], stretches[0]))
    for before, after in joints:
        width = float(np.hypot(*(after[0] - before[-1])))
        middle = (after[0] + before[-1]) / 2
        if width > 10 * SAME_POINT_MM:
            gaps.append((float(middle[0]), float(middle[1]), width))
        before[-1] = after[0] = middle
    points = np.concatenate([stretches[0], *(each[1:] for each in stretches[1:])])
    if closes:
        points = points[:-1]
    earliest = min((loose[end // 2] for end in members), key=lambda each: each[0])
    closed = closes and len(points) >= 3
    one = earliest[1]
    return earliest[0], replace(one, points=points, closed=closed, round=None)
