"""How much metal does the saw take around the pieces on one stock piece? Pure; mm, mm²."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, united, without
from studio.core.cutting import Hands, Job, Placement, Stock
from studio.core.verifying import cuts


def saw_cuts_mm2(job: Job, metal: Stock, placements: Sequence[Placement]) -> float:
    """Area of the saw cuts that free these pieces; `placements` are those on `metal` that were
    made.

    A cut is one kerf wide and runs around each piece, in its windows too, within the metal. By
    the rules for hands one cut down the middle frees two pieces that run near each other: what
    stays of the gap on either side of it is scrap.
    """
    pieces = [p.lay(job.wanted_by_id[p.piece].outline) for p in placements]
    if job.hands is None or not pieces or job.kerf_mm <= 0:
        return band_mm2(metal.outline, pieces, job.kerf_mm)
    own = united(pieces)
    band = without(united(piece.buffer(job.kerf_mm) for piece in pieces), own)
    ways = list(_one_for_two(job, job.hands, metal, placements))
    if ways:
        spared, sawn = united(both for both, _ in ways), united(blade for _, blade in ways)
        band = united([without(band, spared), without(sawn, own)])
    return float(common(metal.outline, band).area)


def band_mm2(metal: Polygon | MultiPolygon, pieces: Sequence[Polygon], kerf_mm: float) -> float:
    """Area of the band one kerf wide around the pieces, in their windows too, within the metal."""
    if not pieces or kerf_mm <= 0:
        return 0.0
    grown = united(piece.buffer(kerf_mm) for piece in pieces)
    band = without(common(metal, grown), united(pieces))
    return float(band.area)


def _one_for_two(
    job: Job, hands: Hands, metal: Stock, placements: Sequence[Placement]
) -> Iterator[tuple[BaseGeometry, BaseGeometry]]:
    """For each cut that frees two pieces: where neither is sawn round, and where the blade goes."""
    found = cuts(job, metal, placements)
    kerf, wide = job.kerf_mm, hands.shared_mm
    for one in found.shared:
        yield (
            _beside(one.line, 0.0, wide),
            _beside(one.line, (wide - kerf) / 2.0, (wide + kerf) / 2.0),
        )
    for cut in found.middle:
        rims = united(line.buffer(kerf, cap_style="flat") for line in (cut.own, cut.others))
        yield rims, cut.line.buffer(kerf / 2.0, cap_style="flat")


def _beside(line: LineString, least: float, most: float) -> Polygon:
    """The strip between two distances to the right of a straight stretch."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    length = math.dist((x0, y0), (x1, y1))
    dx, dy = (y1 - y0) / length, -(x1 - x0) / length
    return Polygon(
        [
            (x0 + dx * least, y0 + dy * least),
            (x1 + dx * least, y1 + dy * least),
            (x1 + dx * most, y1 + dy * most),
            (x0 + dx * most, y0 + dy * most),
        ]
    )
