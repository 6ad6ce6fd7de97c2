"""What is wrong between cuts and pieces, where every group gets metal of its own."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from functools import partial

import shapely
from shapely.geometry import MultiLineString, Polygon

from studio.core.cutting.job import Job, Placement
from studio.core.verifying.cuts import outlines_of
from studio.core.verifying.fault import TOLERANCE_MM, Fault, between
from studio.core.verifying.kept import Kept
from studio.core.verifying.part_metal import PartMetal
from studio.core.verifying.parted.dividing import polygons_in
from studio.core.verifying.parted.grounds import Ground, groups_on
from studio.core.verifying.parted.tree import Parted, parting_of


def ground_faults(
    job: Job,
    parted: Parted,
    ground: Ground,
    standing: Collection[Placement],
    off: Collection[Placement],
    kept: Kept,
) -> Iterator[Fault]:
    """The faults of the pieces on one part against its cut edges, and of the part as a blank.

    Those `off` the metal are told of that alone. What is `standing` where the job has fixed it
    is told where a cut comes too near, since no cut was there before, but not for lying on
    one blank with another group's that stands too.
    """
    parting = parting_of(job)
    if parting is None:
        return
    if isinstance(ground.metal, PartMetal):
        outlines = outlines_of(job, ground.pieces, kept)
        for p, outline in zip(ground.pieces, outlines, strict=True):
            if p in off:
                continue
            if p in ground.through:
                yield _through(parted, p, outline)
                continue
            edges = ground.metal.cut_edges
            key = ("from cuts", p, ground.metal.id)
            gap = kept.get(key, partial(_gap, outline, ground.metal))
            if gap < parting.margin_mm - TOLERANCE_MM:
                yield Fault(
                    "too-near-cut",
                    f"{gap:.3f} mm from the edge of a cut; {parting.margin_mm:g} mm is the least",
                    p.piece,
                    p.copy,
                    at=between(outline, edges),
                    value_mm=gap,
                    limit_mm=parting.margin_mm,
                    metal=ground.code,
                    cut=_nearest_cut(parted, outline),
                    part=ground.part,
                )
    yield from _as_blank(job, ground, standing)


def _gap(outline: Polygon, metal: PartMetal) -> float:
    edges = metal.cut_edges
    return float("inf") if edges.is_empty else float(outline.distance(edges))


def _through(parted: Parted, p: Placement, outline: Polygon) -> Fault:
    number = _nearest_cut(parted, outline)
    line = _lines_of(parted)[number]
    crossing = line.intersection(outline)
    spot = None  # where it is only the kerf that goes into the piece
    if crossing.length > 0.0:
        longest = max(shapely.get_parts(crossing), key=_length)
        spot = longest.interpolate(0.5, normalized=True)
    return Fault(
        "cut-through-piece",
        f"cut {number + 1} of {p.metal} goes through it",
        p.piece,
        p.copy,
        at=between(outline, line) if spot is None else (spot.x, spot.y),
        metal=p.metal,
        cut=number,
    )


def _length(geometry: shapely.Geometry) -> float:
    return float(shapely.length(geometry))


def _nearest_cut(parted: Parted, outline: Polygon) -> int:
    """The number of the cut that is nearest to a piece, the first of several."""
    away = {number: float(line.distance(outline)) for number, line in _lines_of(parted).items()}
    return min(away, key=lambda number: (away[number], number))


def _lines_of(parted: Parted) -> dict[int, MultiLineString]:
    """Where each cut runs through metal, by its number."""
    return {
        made.number: MultiLineString([line for _, own in made.divided.stretches for line in own])
        for made in parted.made
    }


def _as_blank(job: Job, ground: Ground, standing: Collection[Placement]) -> Iterator[Fault]:
    """A part that carries pieces is metal of one piece, for one group."""
    code, number = ground.code, ground.part
    many = len(polygons_in(ground.metal.outline))
    if many > 1:
        yield Fault(
            "cut-not-through",
            f"part {number} of {code} is in {many} pieces; a blank is one",
            ground.pieces[0].piece,
            ground.pieces[0].copy,
            metal=code,
            cut=(number - 1) // 2 if number else None,
            part=number,
        )
    first, *others = groups_on(job, ground.pieces).values()
    for pieces in others:
        pair = next(
            ((p, q) for p in pieces for q in first if not (p in standing and q in standing)), None
        )
        if pair is not None:
            p, q = pair
            yield Fault(
                "two-groups-in-part",
                f"part {number} of {code} has pieces of {q.piece}'s group too",
                p.piece,
                p.copy,
                q.piece,
                q.copy,
                metal=code,
                part=number,
            )
