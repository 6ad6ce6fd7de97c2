"""What is cut out of a pattern sheet: one paper for each copy of each piece.

With a cut plan every paper knows its neighbours on the metal, so that its rim keeps clear of
theirs and edges to trim flush are marked; without one it has the plain rim. Pure; millimetres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Point, Polygon

from studio.core.cutting import Job, Placement
from studio.core.drawing import Piece
from studio.prints.paper.rims import flush_lines, plain_rim, rims_on_metal


@dataclass(frozen=True, slots=True)
class Mark:
    """A drill mark as printed."""

    at: Point
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class Cutout:
    """One paper, in the pattern's own position (mirrored where it is glued on mirrored)."""

    piece: str
    copy: int  # from 1
    copies: int
    outline: Polygon
    rim: Polygon
    trims: MultiLineString = field(default_factory=MultiLineString)
    marks: tuple[Mark, ...] = ()
    surface: tuple[LineString, ...] = ()
    label: str = ""  # on the cut plan, such as "B2"
    metal: str = ""  # label code of the stock piece
    mirrored: bool = False
    guests: tuple[str, ...] = ()  # labels of the pieces that lie in its windows

    @property
    def size_mm(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0


def turned(cutout: Cutout, degrees: float) -> Cutout:
    """The same paper lying otherwise on the page."""

    def turn(thing: shapely.Geometry) -> Any:
        return affinity.rotate(thing, degrees, origin=(0.0, 0.0))

    return replace(
        cutout,
        outline=turn(cutout.outline),
        rim=turn(cutout.rim),
        trims=turn(cutout.trims),
        marks=tuple(Mark(turn(mark.at), mark.diameter_mm) for mark in cutout.marks),
        surface=tuple(turn(line) for line in cutout.surface),
    )


def plain_cutouts(pieces: Sequence[Piece], copies: int) -> list[Cutout]:
    """The papers of a pattern that no plan has placed yet."""
    return [
        Cutout(
            piece.id,
            copy,
            copies,
            piece.outline,
            plain_rim(piece.outline),
            marks=tuple(Mark(mark.centre, mark.diameter_mm) for mark in piece.drill_marks),
            surface=piece.surface_lines,
        )
        for piece in pieces
        for copy in range(1, copies + 1)
    ]


def placed_cutouts(
    pieces: Sequence[Piece],
    copies: int,
    job: Job,
    placements: Sequence[Placement],
    ids: Mapping[str, str],
    labels: Mapping[tuple[str, int], str],
) -> list[Cutout]:
    """The papers of a placed pattern. `ids` gives the job's id of each piece, `labels` the label
    of each placed copy. A copy that found no place has the plain rim."""
    wanted = set(ids.values())
    by_metal: dict[str, list[Placement]] = {}
    for placement in placements:
        by_metal.setdefault(placement.metal, []).append(placement)
    papers: dict[tuple[str, int], Cutout] = {}
    drawings = {ids[piece.id]: piece for piece in pieces}
    for code, laid in by_metal.items():
        if not any(p.piece in wanted for p in laid):
            continue
        outlines = [p.lay(job.wanted_by_id[p.piece].outline) for p in laid]
        rims = rims_on_metal(outlines, job.stock_by_id[code].outline)
        for p, outline, rim in zip(laid, outlines, rims, strict=True):
            if p.piece not in wanted:
                continue
            windows = [Polygon(ring) for ring in outline.interiors]
            guests = tuple(
                labels.get((other.piece, other.copy), "?")
                for other, shape in zip(laid, outlines, strict=True)
                if any(window.covers(shape) for window in windows)
            )
            papers[p.piece, p.copy] = _as_drawn(
                drawings[p.piece], p, outline, rim, code, copies, labels, guests
            )
    plain = {(one.piece, one.copy): one for one in plain_cutouts(pieces, copies)}
    return [papers.get((ids[piece], copy - 1), paper) for (piece, copy), paper in plain.items()]


def _as_drawn(
    piece: Piece,
    placement: Placement,
    outline: Polygon,
    rim: Polygon,
    code: str,
    copies: int,
    labels: Mapping[tuple[str, int], str],
    guests: tuple[str, ...],
) -> Cutout:
    trims = _taken_back(placement, flush_lines(outline, rim))
    assert isinstance(trims, MultiLineString)
    paper = _taken_back(placement, rim)
    assert isinstance(paper, Polygon)
    own = _mirrored(placement, piece.outline)
    assert isinstance(own, Polygon)
    marks = []
    for mark in piece.drill_marks:
        at = _mirrored(placement, mark.centre)
        assert isinstance(at, Point)
        marks.append(Mark(at, mark.diameter_mm))
    surface = [_mirrored(placement, line) for line in piece.surface_lines]
    return Cutout(
        piece.id,
        placement.copy + 1,
        copies,
        own,
        paper,
        trims,
        tuple(marks),
        tuple(line for line in surface if isinstance(line, LineString)),
        labels.get((placement.piece, placement.copy), ""),
        code,
        placement.mirror,
        guests,
    )


def _mirrored(placement: Placement, thing: shapely.Geometry) -> shapely.Geometry:
    if not placement.mirror:
        return thing
    return affinity.scale(thing, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))


def _taken_back(placement: Placement, thing: shapely.Geometry) -> shapely.Geometry:
    """From the metal to the pattern's own position; what is mirrored stays mirrored."""
    moved = affinity.translate(thing, -placement.x_mm, -placement.y_mm)
    return affinity.rotate(moved, -placement.turn_deg, origin=(0.0, 0.0))
