"""What is wrong with a set of placements, by exact geometry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from studio.core.areas import common, without
from studio.core.cutting.job import TURN_TOLERANCE_DEG, Job, Placement, Stock, Wanted, turns_apart

TOLERANCE_MM = 0.001
"""Distances are judged to this; touching is not overlapping."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a plan: a short code that never changes, and a sentence.

    Codes: unknown-piece, unknown-metal, unknown-copy, placed-twice, not-a-number,
    turn-not-allowed, against-the-grain, mirror-not-allowed, outside-metal, too-near-edge,
    too-near-piece.
    """

    code: str
    message: str
    piece: str
    copy: int


def faults(job: Job, placements: Sequence[Placement]) -> tuple[Fault, ...]:
    """Every fault of these placements; empty means that the plan is valid.

    Parameters
    ----------
    job
        What was asked for; outlines in mm, as they were drawn.
    placements
        Whoever made them, in any number: what is missing is no fault here. A placement mirrors
        first (x becomes −x), then turns about the origin, then shifts.

    Returns
    -------
    tuple of Fault
        All at once, in the order of the placements, distances judged to `TOLERANCE_MM`.

    Raises
    ------
    Nothing: a placement that names what the job does not know, or numbers that are none, is a
    fault like any other.

    Examples
    --------
    Two squares 0.1 mm apart where the saw needs 0.3 mm:

    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Job, Placement, Stock, Wanted
    >>> job = Job((Stock("S1", box(0, 0, 50, 20)),), (Wanted("a", box(0, 0, 10, 10), count=2),))
    >>> first = Placement("a", 0, "S1", mirror=False, turn_deg=0.0, x_mm=0.0, y_mm=0.0)
    >>> near = Placement("a", 1, "S1", mirror=False, turn_deg=0.0, x_mm=10.1, y_mm=0.0)
    >>> [(fault.code, fault.piece, fault.copy) for fault in faults(job, [first, near])]
    [('too-near-piece', 'a', 0)]
    >>> faults(job, [first])
    ()
    """
    found: list[Fault] = []
    laid: dict[str, list[tuple[Placement, Polygon]]] = {}
    seen: set[tuple[str, int]] = set()
    for placement in placements:
        wanted = job.wanted_by_id.get(placement.piece)
        metal = job.stock_by_id.get(placement.metal)
        wrong = _bookkeeping(placement, wanted, metal, seen)
        seen.add((placement.piece, placement.copy))
        found.extend(wrong)
        if wanted is None or metal is None or any(f.code == "not-a-number" for f in wrong):
            continue
        outline = placement.lay(wanted.outline)
        found.extend(_against_metal(placement, outline, metal, job.edge_gap_mm))
        laid.setdefault(metal.id, []).append((placement, outline))
    for pieces in laid.values():
        found.extend(_against_each_other(pieces, job.kerf_mm))
    return tuple(found)


def _bookkeeping(
    p: Placement, wanted: Wanted | None, metal: Stock | None, seen: set[tuple[str, int]]
) -> list[Fault]:
    def fault(code: str, message: str) -> Fault:
        return Fault(code, message, p.piece, p.copy)

    found = []
    if not all(math.isfinite(v) for v in (p.turn_deg, p.x_mm, p.y_mm)):
        found.append(fault("not-a-number", "its turn or shift is not a number"))
    if metal is None:
        found.append(fault("unknown-metal", f'the job has no metal "{p.metal}"'))
    if wanted is None:
        found.append(fault("unknown-piece", f'the job has no piece "{p.piece}"'))
        return found
    if not 0 <= p.copy < wanted.count:
        found.append(fault("unknown-copy", f"copy {p.copy} of {wanted.count} wanted"))
    if (p.piece, p.copy) in seen:
        found.append(fault("placed-twice", "it is placed more than once"))
    if p.mirror and not wanted.may_mirror:
        found.append(fault("mirror-not-allowed", "its pattern must not be mirrored"))
    if not math.isfinite(p.turn_deg):
        return found
    if wanted.turns_deg is not None and all(
        turns_apart(p.turn_deg, turn) > TURN_TOLERANCE_DEG for turn in wanted.turns_deg
    ):
        found.append(fault("turn-not-allowed", f"{p.turn_deg:g}° is not among its turns"))
    away = 0.0 if metal is None else _from_the_grain(p, wanted, metal)
    if away > TURN_TOLERANCE_DEG:
        found.append(fault("against-the-grain", f"{away:g}° from the metal's grain"))
    return found


def _from_the_grain(p: Placement, wanted: Wanted, metal: Stock) -> float:
    """The angle between a piece's grain as it lies and the metal's, 0 to 90 degrees."""
    if wanted.grain_deg is None or metal.grain_deg is None:
        return 0.0
    direction = math.radians(wanted.grain_deg)
    x, y = math.cos(direction), math.sin(direction)
    lies = math.degrees(math.atan2(y, -x if p.mirror else x)) + p.turn_deg
    away = turns_apart(lies, metal.grain_deg)
    return min(away, 180.0 - away)


def _against_metal(p: Placement, outline: Polygon, metal: Stock, least: float) -> list[Fault]:
    part = next((part for part in metal.parts if _lies_in(part, outline)), None)
    if part is None:
        return [Fault("outside-metal", f"it does not lie within {metal.id}", p.piece, p.copy)]
    if not metal.clean_edges:
        gap = float(part.boundary.distance(outline))
        if gap < least - TOLERANCE_MM:
            message = f"{gap:.3f} mm from an edge that is not clean; {least:g} mm is the least"
            return [Fault("too-near-edge", message, p.piece, p.copy)]
    return []


def _lies_in(part: Polygon, outline: Polygon) -> bool:
    if not shapely.intersects(shapely.envelope(part), outline):
        return False
    if part.covers(outline):
        return True
    return _thin(without(outline, part))


def _against_each_other(pieces: Sequence[tuple[Placement, Polygon]], kerf: float) -> list[Fault]:
    found = []
    outlines = [outline for _, outline in pieces]
    tree = shapely.STRtree(outlines)
    near = tree.query(outlines, predicate="dwithin", distance=max(kerf, TOLERANCE_MM))
    shapely.prepare(outlines)
    for i, j in near.T.tolist():
        if i >= j:
            continue
        if kerf > TOLERANCE_MM:
            close = bool(shapely.dwithin(outlines[i], outlines[j], kerf - TOLERANCE_MM))
        else:  # no kerf: pieces may touch, so what counts is how deeply they overlap
            close = not _thin(common(outlines[i], outlines[j]))
        if close:
            gap = float(outlines[i].distance(outlines[j]))
            one, other = pieces[i][0], pieces[j][0]
            message = f"{gap:.3f} mm from {other.piece}, copy {other.copy}; {kerf:g} is the least"
            found.append(Fault("too-near-piece", message, one.piece, one.copy))
    return found


def _thin(region: shapely.Geometry) -> bool:
    """Whether no part of a region is thicker than the tolerance (area over half its rim)."""
    for part in shapely.get_parts(region):
        if part.area > 0.0 and part.area > TOLERANCE_MM * part.length / 2.0:
            return False
    return True
