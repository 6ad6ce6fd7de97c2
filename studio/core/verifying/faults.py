"""What is wrong with a set of placements, by exact geometry."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

import shapely
from shapely.geometry import Polygon

from studio.core.areas import without
from studio.core.cutting.job import (
    TURN_TOLERANCE_DEG,
    Cut,
    Job,
    Placement,
    Stock,
    Wanted,
    turns_apart,
)
from studio.core.verifying.by_hand import by_hand_faults
from studio.core.verifying.cuts import outlines_of
from studio.core.verifying.fault import (
    TOLERANCE_MM,
    Fault,
    between,
    nearer_than,
    thin,
    too_near,
)
from studio.core.verifying.kept import Kept
from studio.core.verifying.parted.faults import ground_faults
from studio.core.verifying.parted.grounds import grounds_of
from studio.core.verifying.parted.tree import parted_of, parting_of, unknown_metal

__all__ = ["TOLERANCE_MM", "Fault", "faults", "faults_of", "missing"]


def faults(
    job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> tuple[Fault, ...]:
    """Every fault of these placements and cuts; empty means that the plan is valid.

    Parameters
    ----------
    job
        What was asked for; outlines in mm, as they were drawn.
    placements
        Whoever made them, in any number: what is missing is no fault here. A placement mirrors
        first (x becomes −x), then turns about the origin, then shifts.
    cuts
        Those that part the metal, in the order of cutting; passed over where the job does not
        part it.

    Returns
    -------
    tuple of Fault
        All at once, in the order of the placements, distances judged to `TOLERANCE_MM`.

    Raises
    ------
    Nothing: a placement or cut that names what the job does not know, or numbers that are none,
    is a fault like any other.

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
    return faults_of(job, placements, Kept(), cuts)


def missing(job: Job, placements: Sequence[Placement]) -> tuple[Fault, ...]:
    """One fault of the code `missing` for each kind of piece of which copies have no place.

    Parameters
    ----------
    job, placements
        As for `faults`, which a plan with missing pieces may well pass.

    Returns
    -------
    tuple of Fault
        In the order of the job's pieces; `copy` is the first that is missing.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Job, Placement, Stock, Wanted
    >>> job = Job((Stock("S1", box(0, 0, 50, 20)),), (Wanted("a", box(0, 0, 10, 10), count=3),))
    >>> first = Placement("a", 0, "S1", mirror=False, turn_deg=0.0, x_mm=0.0, y_mm=0.0)
    >>> [(fault.code, fault.message, fault.copy) for fault in missing(job, [first])]
    [('missing', '2 of 3 have no place', 1)]
    """
    placed = {(p.piece, p.copy) for p in placements if p.metal in job.stock_by_id}
    found = []
    for wanted in job.pieces:
        left = [copy for copy in range(wanted.count) if (wanted.id, copy) not in placed]
        if left:
            message = f"{len(left)} of {wanted.count} have no place"
            found.append(Fault("missing", message, wanted.id, left[0]))
    return tuple(found)


def faults_of(
    job: Job, placements: Sequence[Placement], kept: Kept, cuts: Sequence[Cut] = ()
) -> tuple[Fault, ...]:
    """The same as `faults`, with what is `kept` from the answer before."""
    found: list[Fault] = []
    laid: dict[str, list[Placement]] = {}
    standing: set[Placement] = set()
    outside: set[Placement] = set()  # no edge is too near to what lies over it
    seen: set[tuple[str, int]] = set()
    fixed = {(p.piece, p.copy): p for p in job.fixed}
    for placement in placements:
        wanted = job.wanted_by_id.get(placement.piece)
        metal = job.stock_by_id.get(placement.metal)
        stands = _stands(placement, fixed)
        wrong = _bookkeeping(placement, wanted, metal, seen)
        seen.add((placement.piece, placement.copy))
        if stands:  # what was so before is not told again
            standing.add(placement)
            wrong = [fault for fault in wrong if fault.code == "placed-twice"]
        found.extend(wrong)
        if wanted is None or metal is None or any(f.code == "not-a-number" for f in wrong):
            continue
        if not stands:
            off = kept.get(("on metal", placement), _on_metal(job, placement, metal, kept))
            found.extend(off)
            if any(fault.code == "outside-metal" for fault in off):
                outside.add(placement)
        laid.setdefault(metal.id, []).append(placement)
    if parting_of(job) is not None:
        found.extend(_on_parts(job, laid, cuts, standing, outside, kept))
    else:
        for name, pieces in laid.items():
            if job.hands is None:
                found.extend(_against_each_other(job, pieces, kept))
            else:
                found.extend(
                    by_hand_faults(job, job.stock_by_id[name], pieces, standing, outside, kept)
                )
    found.extend(_moved(job, placements))
    return tuple(found)


def _on_parts(
    job: Job,
    laid: Mapping[str, Sequence[Placement]],
    cuts: Sequence[Cut],
    standing: Collection[Placement],
    outside: Collection[Placement],
    kept: Kept,
) -> Iterator[Fault]:
    """The faults of cuts, and of pieces part by part: pieces of two parts know nothing of each
    other."""
    yield from unknown_metal(job, cuts)
    for metal in job.metal:
        parted = parted_of(job, metal, cuts, kept)
        yield from parted.faults
        for ground in grounds_of(job, parted, laid.get(metal.id, ()), kept):
            if not ground.pieces:
                continue
            yield from ground_faults(job, parted, ground, standing, outside, kept)
            off = {*outside, *ground.through}
            yield from by_hand_faults(job, ground.metal, ground.pieces, standing, off, kept)


def _bookkeeping(
    p: Placement, wanted: Wanted | None, metal: Stock | None, seen: set[tuple[str, int]]
) -> list[Fault]:
    def fault(code: str, message: str) -> Fault:
        return Fault(code, message, p.piece, p.copy)

    found = []
    if not p.is_finite:
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


def _on_metal(job: Job, p: Placement, metal: Stock, kept: Kept) -> Callable[[], list[Fault]]:
    def judged() -> list[Fault]:
        (outline,) = outlines_of(job, [p], kept)
        # what is clean in part is judged with the rules for hands
        least = None if metal.clean_edges or job.hands is not None else job.edge_gap_mm
        return _against_metal(p, outline, metal, least)

    return judged


def _against_metal(
    p: Placement, outline: Polygon, metal: Stock, least: float | None
) -> list[Fault]:
    part = next((part for part in metal.parts if _lies_in(part, outline)), None)
    if part is None:
        over = without(outline, metal.outline).representative_point()
        at = None if over.is_empty else (over.x, over.y)
        message = f"it does not lie within {metal.id}"
        return [Fault("outside-metal", message, p.piece, p.copy, at=at)]
    if least is not None:
        gap = float(part.boundary.distance(outline))
        if gap < least - TOLERANCE_MM:
            message = f"{gap:.3f} mm from an edge that is not clean; {least:g} mm is the least"
            where = between(outline, part.boundary)
            return [
                Fault(
                    "too-near-edge",
                    message,
                    p.piece,
                    p.copy,
                    at=where,
                    value_mm=gap,
                    limit_mm=least,
                )
            ]
    return []


def _lies_in(part: Polygon, outline: Polygon) -> bool:
    if not shapely.intersects(shapely.envelope(part), outline):
        return False
    if part.covers(outline):
        return True
    return thin(without(outline, part))


def _against_each_other(job: Job, pieces: Sequence[Placement], kept: Kept) -> list[Fault]:
    kerf = job.kerf_mm
    found: list[Fault] = []
    outlines = outlines_of(job, pieces, kept)
    tree = shapely.STRtree(outlines)
    near = tree.query(outlines, predicate="dwithin", distance=max(kerf, TOLERANCE_MM))
    for i, j in near.T.tolist():
        if i < j:
            pair = ("pair", pieces[i], pieces[j])
            found.extend(kept.get(pair, _pair(pieces, outlines, i, j, kerf)))
    return found


def _pair(
    pieces: Sequence[Placement], outlines: Sequence[Polygon], i: int, j: int, kerf: float
) -> Callable[[], list[Fault]]:
    def judged() -> list[Fault]:
        if not nearer_than(outlines[i], outlines[j], kerf):
            return []
        return [too_near(pieces[i], pieces[j], outlines[i], outlines[j], kerf)]

    return judged


def _moved(job: Job, placements: Sequence[Placement]) -> list[Fault]:
    """Fixed pieces that lie elsewhere, or nowhere."""
    if not job.fixed:
        return []
    lie = {(p.piece, p.copy): p for p in placements}
    found = []
    for fixed in job.fixed:
        p = lie.get((fixed.piece, fixed.copy))
        if p is None or not _same_place(p, fixed):
            message = "it is fixed, and left out" if p is None else "it is fixed, and was moved"
            found.append(
                Fault("fixed-moved", message, fixed.piece, fixed.copy, at=(fixed.x_mm, fixed.y_mm))
            )
    return found


def _stands(p: Placement, fixed: Mapping[tuple[str, int], Placement]) -> bool:
    found = fixed.get((p.piece, p.copy))
    return found is not None and _same_place(p, found)


def _same_place(p: Placement, fixed: Placement) -> bool:
    """Whether a piece lies where a fixed one must, to the judge's tolerance."""
    return (
        (p.metal, p.mirror) == (fixed.metal, fixed.mirror)
        and math.hypot(p.x_mm - fixed.x_mm, p.y_mm - fixed.y_mm) <= TOLERANCE_MM
        and turns_apart(p.turn_deg, fixed.turn_deg) <= TURN_TOLERANCE_DEG
    )
