"""Where saw lines begin in a picture, and where their numbers stand."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without
from studio.core.cutting import Job

from .clear_places import clear_places
from .in_picture import PieceInPicture, Start
from .parted.cuts import PartCut
from .paths import Flip, numbers
from .sawing_order import LineKind, SawingOrder, SawLine


def marked(
    starts: Sequence[Start],
    radius_mm: float,
    not_to_hide: BaseGeometry,
    pieces: Sequence[PieceInPicture],
) -> tuple[Start, ...]:
    """Starts with their numbers placed: none on another, on a label or on what is not to hide."""
    taken = [(Point(piece.at), piece.label_reach_mm) for piece in pieces]
    places = clear_places(
        [Point(start.at) for start in starts], radius_mm, not_to_hide, taken=taken
    )
    found = []
    for start, place in zip(starts, places, strict=True):
        beside = place.distance(Point(start.at)) > 1e-6
        lead = f"M{numbers(*start.at)}L{numbers(place.x, place.y)}" if beside else ""
        found.append(replace(start, mark=(round(place.x, 2), round(place.y, 2)), lead=lead))
    return tuple(found)


def start_of(line: SawLine, job: Job, labels: Mapping[tuple[str, int], str], flip: Flip) -> Start:
    return Start(
        line.number,
        "window" if line.kind is LineKind.WINDOW else "outline",
        labels[line.piece, line.copy],
        flip.point(line.start),
        line.length_mm,
        job.wanted_by_id[line.piece].group or "",
        line.out_of_reach,
    )


def start_of_cut(cut: PartCut, flip: Flip) -> Start:
    """Where a cut that parts the metal enters it."""
    at = flip.point(Point(cut.lines[0].coords[0]))
    return Start(cut.number, "cut", "", at, cut.length_mm)


def not_to_hide_in(outlines: Sequence[Polygon], order: SawingOrder, flip: Flip) -> BaseGeometry:
    """Windows, as far as no piece lies in them, and holes, as the picture has them."""
    windows = [Polygon(ring) for outline in outlines for ring in outline.interiors]
    holes = [hole.at.buffer((hole.diameter_mm or 0.0) / 2 + 0.3) for hole in order.holes]
    free = without(united(windows), united(list(outlines)))
    return flip.shape(united([free.simplify(0.1), *holes]))


def mark_radius(text: float, outlines: Sequence[Polygon]) -> float:
    """Small enough not to cover the smallest piece, large enough to be read."""
    smallest = math.sqrt(min(shapely.Polygon(outline.exterior).area for outline in outlines))
    return max(0.22 * text, min(0.45 * text, 0.12 * smallest))
