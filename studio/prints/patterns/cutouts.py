"""What is cut out of a pattern sheet: its papers, each with one piece or several.

With a cut plan the papers are those that lie on the metal, so that their edges keep clear of
each other; without one every piece has a paper to itself, with the plain rim. Pure; millimetres.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united
from studio.core.cutting import Job, Placement
from studio.core.drawing import Piece
from studio.core.picturing.cuts_for_two import shared_width_mm
from studio.core.picturing.papers import OnPaper, Paper, papers_on_metal, plain_paper
from studio.core.picturing.paths import lay_line, lay_point
from studio.core.picturing.sawing_order import Hole, pilot_spot

PilotSize = Callable[[float], float | None]
"""From the width of a window's room to the diameter of its pilot hole, None where unknown."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A hole to drill as printed; `pilot` where the app has put it into a window."""

    at: Point
    diameter_mm: float | None
    pilot: bool = False


@dataclass(frozen=True, slots=True)
class PieceOnPaper:
    """One copy of a piece, where it lies on its paper."""

    piece: str
    copy: int  # from 1
    copies: int
    outline: Polygon
    marks: tuple[Mark, ...] = ()
    surface: tuple[LineString, ...] = ()
    label: str = ""  # on the cut plan, such as "B2"
    mirrored: bool = False
    guests: tuple[str, ...] = ()  # labels of pieces on other papers that lie in its windows


@dataclass(frozen=True, slots=True)
class Cutout:
    """One paper: its pieces, its edge, and the lines at which it ends.

    It lies as its first piece was drawn (mirrored where that is stuck on mirrored); pieces on
    one paper lie to each other as they will on the metal.
    """

    pieces: tuple[PieceOnPaper, ...]
    rim: Polygon
    trims: MultiLineString = field(default_factory=MultiLineString)
    shared: MultiLineString = field(default_factory=MultiLineString)  # one cut, two pieces
    metal: str = ""  # label code of the stock piece

    @property
    def first(self) -> PieceOnPaper:
        return self.pieces[0]

    @property
    def is_joined(self) -> bool:
        return len(self.pieces) > 1

    @property
    def outlines(self) -> BaseGeometry:
        """All pieces, with their windows."""
        return united([one.outline for one in self.pieces])

    @property
    def lines(self) -> BaseGeometry:
        """Everything that is drawn as a line to saw or to mark."""
        rings = [
            ring
            for one in self.pieces
            for ring in (one.outline.exterior, *one.outline.interiors, *one.surface)
        ]
        return united([*rings, self.rim.boundary])

    @property
    def marks(self) -> tuple[Mark, ...]:
        return tuple(mark for one in self.pieces for mark in one.marks)

    @property
    def size_mm(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.outlines.bounds
        return x1 - x0, y1 - y0


def turned(cutout: Cutout, degrees: float) -> Cutout:
    """The same paper lying otherwise on the page."""

    def turn(thing: shapely.Geometry) -> Any:
        return affinity.rotate(thing, degrees, origin=(0.0, 0.0))

    return _moved(cutout, turn)


def _moved(cutout: Cutout, move: Callable[[shapely.Geometry], Any]) -> Cutout:
    return replace(
        cutout,
        pieces=tuple(
            replace(
                one,
                outline=move(one.outline),
                marks=tuple(replace(mark, at=move(mark.at)) for mark in one.marks),
                surface=tuple(move(line) for line in one.surface),
            )
            for one in cutout.pieces
        ),
        rim=move(cutout.rim),
        trims=move(cutout.trims),
        shared=move(cutout.shared),
    )


def plain_cutouts(
    pieces: Sequence[Piece],
    copies: int,
    *,
    rim_mm: float,
    pilot_size: PilotSize = lambda room_mm: None,
) -> list[Cutout]:
    """The papers of a pattern that no plan has placed yet."""
    return [
        Cutout(
            (
                PieceOnPaper(
                    piece.id,
                    copy,
                    copies,
                    piece.outline,
                    marks=(
                        *(Mark(mark.centre, mark.diameter_mm) for mark in piece.drill_marks),
                        *_pilots(piece, pilot_size),
                    ),
                    surface=piece.surface_lines,
                ),
            ),
            plain_paper(piece.outline, rim_mm=rim_mm),
        )
        for piece in pieces
        for copy in range(1, copies + 1)
    ]


def _pilots(piece: Piece, pilot_size: PilotSize) -> list[Mark]:
    """A pilot hole for each window in which none is drawn."""
    found = []
    for ring in piece.outline.interiors:
        window = Polygon(ring)
        if not any(window.contains(mark.centre) for mark in piece.drill_marks):
            at, room = pilot_spot(window)
            found.append(Mark(at, pilot_size(room), pilot=True))
    return found


@dataclass(frozen=True, slots=True)
class OnMetal:
    """What the cut plan knows of one stock piece: its papers, in the order of its placements,
    the lines that two pieces share, and the holes that the app has put."""

    code: str
    placements: Sequence[Placement]
    papers: Sequence[Paper]
    shared: Sequence[LineString]
    holes: Sequence[Hole]


def on_metal(
    job: Job,
    code: str,
    placements: Sequence[Placement],
    shared: Sequence[LineString],
    holes: Sequence[Hole],
    *,
    rim_mm: float,
) -> OnMetal:
    """The papers of one stock piece; `placements` are those on it."""
    laid = [
        OnPaper(
            p.lay(job.wanted_by_id[p.piece].outline), job.wanted_by_id[p.piece].group or p.piece
        )
        for p in placements
    ]
    papers = papers_on_metal(
        laid,
        job.stock_by_id[code].outline,
        rim_mm=rim_mm,
        shared_mm=shared_width_mm(job),
    )
    return OnMetal(code, placements, papers, shared, holes)


def placed_cutouts(
    pieces: Sequence[Piece],
    copies: int,
    job: Job,
    metals: Sequence[OnMetal],
    ids: Mapping[str, str],
    labels: Mapping[tuple[str, int], str],
    *,
    rim_mm: float,
    pilot_size: PilotSize = lambda room_mm: None,
) -> list[Cutout]:
    """The papers of a placed pattern. `ids` gives the job's id of each piece, `labels` the label
    of each placed copy. A copy that found no place has a paper to itself, with the plain rim."""
    drawings = {ids[piece.id]: piece for piece in pieces}
    papers: list[Cutout] = []
    for metal in metals:
        for paper in metal.papers:
            if all(metal.placements[k].piece in drawings for k in paper.holds):
                papers.append(_as_drawn(paper, metal, job, drawings, copies, labels, pilot_size))
    printed = {(one.piece, one.copy) for paper in papers for one in paper.pieces}
    rest = [
        paper
        for paper in plain_cutouts(pieces, copies, pilot_size=pilot_size, rim_mm=rim_mm)
        if (paper.first.piece, paper.first.copy) not in printed
    ]
    order = {piece.id: number for number, piece in enumerate(pieces)}
    return sorted([*papers, *rest], key=lambda paper: (order[paper.first.piece], paper.first.copy))


def _as_drawn(
    paper: Paper,
    metal: OnMetal,
    job: Job,
    drawings: Mapping[str, Piece],
    copies: int,
    labels: Mapping[tuple[str, int], str],
    pilot_size: PilotSize,
) -> Cutout:
    """A paper taken back from the metal to how its first piece was drawn."""
    solid = united([paper.outline])
    laid = [p.lay(job.wanted_by_id[p.piece].outline) for p in metal.placements]
    printed = []
    for k in paper.holds:
        p, drawing = metal.placements[k], drawings[metal.placements[k].piece]
        windows = [Polygon(ring) for ring in laid[k].interiors]
        guests = tuple(
            labels.get((other.piece, other.copy), "?")
            for n, other in enumerate(metal.placements)
            if n not in paper.holds and any(window.covers(laid[n]) for window in windows)
        )
        marks = [Mark(lay_point(p, mark.centre), mark.diameter_mm) for mark in drawing.drill_marks]
        marks += [
            Mark(hole.at, pilot_size(hole.room_mm), pilot=True)
            for hole in metal.holes
            if (hole.piece, hole.copy) == (p.piece, p.copy) and hole.diameter_mm is None
        ]
        printed.append(
            PieceOnPaper(
                drawing.id,
                p.copy + 1,
                copies,
                laid[k],
                tuple(marks),
                tuple(lay_line(p, line) for line in drawing.surface_lines),
                labels.get((p.piece, p.copy), ""),
                p.mirror,
                guests,
            )
        )
    own = [line for line in metal.shared if solid.covers(line.interpolate(0.5, normalized=True))]
    cutout = Cutout(tuple(printed), paper.outline, paper.flush, MultiLineString(own), metal.code)
    first = metal.placements[paper.holds[0]]

    def back(thing: shapely.Geometry) -> Any:
        moved = affinity.translate(thing, -first.x_mm, -first.y_mm)
        return affinity.rotate(moved, -first.turn_deg, origin=(0.0, 0.0))

    return _moved(cutout, back)
