"""One thing wrong with a plan, and how nearness is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common
from studio.core.cutting.job import Placement

TOLERANCE_MM = 0.001
"""Distances are judged to this; touching is not overlapping."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a plan: a short code that never changes, and a sentence.

    Codes: unknown-piece, unknown-metal, unknown-copy, placed-twice, not-a-number,
    turn-not-allowed, against-the-grain, mirror-not-allowed, outside-metal, too-near-edge,
    too-near-piece, too-near-line, fixed-moved; where metal is parted cut-not-through,
    cut-through-piece, too-near-cut, two-groups-in-part, strip-too-narrow, out-of-reach; and
    missing, which only `missing` finds.

    Where a cut or a part is at fault and no piece, `piece` is empty. `metal` names the stock piece
    that is parted, `cut` the cut by its number among that one's cuts, from 0, and `part` the part.

    `other` and `other_copy` name the second piece of two that are too near, `at` is where it
    shows (x, y in mm on the stock piece), `value_mm` what was measured and `limit_mm` what is the
    least; each None where it means nothing.
    """

    code: str
    message: str
    piece: str
    copy: int
    other: str | None = None
    other_copy: int | None = None
    at: tuple[float, float] | None = None
    value_mm: float | None = None
    limit_mm: float | None = None
    metal: str | None = None
    cut: int | None = None
    part: int | None = None


def nearer_than(one: Polygon, other: Polygon, least: float) -> bool:
    """Whether two outlines are nearer than `least`, or overlap where nothing is asked for."""
    if least > TOLERANCE_MM:
        return bool(shapely.dwithin(one, other, least - TOLERANCE_MM))
    # no kerf: pieces may touch, so what counts is how deeply they overlap
    return not thin(common(one, other))


def too_near(
    p: Placement,
    q: Placement,
    outline: BaseGeometry,
    other: BaseGeometry,
    limit: float,
    code: str = "too-near-piece",
) -> Fault:
    """The fault of a piece that lies too near another; the two geometries show where."""
    gap = float(outline.distance(other))
    message = f"{gap:.3f} mm from {q.piece}, copy {q.copy}; {limit:g} is the least"
    where = between(outline, other)
    return Fault(code, message, p.piece, p.copy, q.piece, q.copy, where, gap, limit)


def between(one: BaseGeometry, other: BaseGeometry) -> tuple[float, float] | None:
    """The point half way where two geometries are nearest."""
    line = shapely.shortest_line(one, other)
    if line is None or line.is_empty:
        return None
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0


def thin(region: shapely.Geometry) -> bool:
    """Whether no part of a region is thicker than the tolerance (area over half its rim)."""
    for part in shapely.get_parts(region):
        if part.area > 0.0 and part.area > TOLERANCE_MM * part.length / 2.0:
            return False
    return True


def fault_to_json(fault: Fault) -> dict[str, Any]:
    """A fault as `judge_plan` prints it; lengths to a nanometre.

    >>> fault_to_json(Fault("missing", "1 of 2 have no place", "a", 1))["piece"]
    'a'
    """
    return {
        "code": fault.code,
        "message": fault.message,
        "piece": fault.piece or None,
        "copy": fault.copy if fault.piece else None,
        "other": fault.other,
        "other_copy": fault.other_copy,
        "at": None if fault.at is None else [round(value, 6) for value in fault.at],
        "value_mm": None if fault.value_mm is None else round(fault.value_mm, 6),
        "limit_mm": fault.limit_mm,
    } | (
        {} if fault.metal is None else {"metal": fault.metal, "cut": fault.cut, "part": fault.part}
    )
