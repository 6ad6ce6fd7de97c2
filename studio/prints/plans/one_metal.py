"""Everything about one stock piece of a plan that a print may show. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.units import Units
from studio.core.areas import united, without
from studio.core.cutting import Blank, Job, Plan
from studio.core.drawing import Piece
from studio.core.picturing.cuts_for_two import shared_width_mm
from studio.core.picturing.edges import Edges, clean_lines, edges_of
from studio.core.picturing.papers import OnPaper, Paper, papers_on_metal
from studio.core.picturing.plan import MetalPicture
from studio.core.picturing.sawing_order import SawingOrder
from studio.prints.paper.drill_sizes import Hole, SizeWords, beside_holes, words_box
from studio.prints.paper.pilots import PilotSize, drill_words

from .mounts import HoleOnMetal, Mount, label_in, marks_on

SCRAP_LEAST_MM2 = 0.5
HOLE_CLEAR_MM = 0.9  # on paper, round a hole's rim: its cross
SIZE_MM = 2.0  # letters of a drill's diameter
SIZE_REACH_MM = 40.0
EDGE_LINE_MM = 1.6  # the heavy line of a clean edge, and air beside it


@dataclass(frozen=True, slots=True)
class OneMetal:
    """A stock piece with all that lies on it, in the metal's own millimetres."""

    code: str
    outline: Polygon | MultiPolygon
    edges: Edges
    clean: MultiLineString
    mounts: tuple[Mount, ...]
    offcuts: tuple[Polygon, ...]
    scrap: tuple[Polygon, ...]
    papers: tuple[Paper, ...]
    holes: tuple[HoleOnMetal, ...]
    drill_sizes: tuple[SizeWords, ...]
    order: SawingOrder
    picture: MetalPicture
    drawings: Mapping[str, Piece]
    units: Units
    blanks: tuple[Blank, ...] = ()  # that cuts through it make
    letter: str = ""  # whose blank it is, where it is one by itself

    @property
    def size_mm(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0

    @property
    def not_to_hide(self) -> BaseGeometry:
        """Windows, as far as no piece lies in them, and holes."""
        windows = [Polygon(ring) for mount in self.mounts for ring in mount.outline.interiors]
        pieces = united([mount.outline for mount in self.mounts])
        holes = [hole.at.buffer(hole.wide_mm / 2 + 0.3) for hole in self.holes]
        return united([without(united(windows), pieces), *holes])


def one_metal(
    job: Job,
    laid: Plan,
    shown: MetalPicture,
    order: SawingOrder,
    drawings: Mapping[str, Piece],
    *,
    pilot_sizes: Mapping[str, PilotSize],
    with_papers: bool,
    rim_mm: float,
    units: Units,
    letter: str = "",
) -> OneMetal:
    """Everything about one stock piece of a plan that a print may show. Papers and the words for
    drills take time, and only the placement sheet shows them. `pilot_sizes` are those of each
    group."""
    metal = job.stock_by_id[shown.code]
    labels = {(one.piece, one.copy): one.label for one in shown.pieces}
    mounts = [
        Mount(
            p,
            p.lay(job.wanted_by_id[p.piece].outline),
            labels[p.piece, p.copy],
            job.wanted_by_id[p.piece].group or "",
        )
        for p in laid.placements
        if p.metal == shown.code
    ]
    mounts.sort(key=lambda mount: -Polygon(mount.outline.exterior).area)
    offcuts = [one.outline for one in laid.offcuts if one.metal == shown.code]
    gone = united([*(mount.outline for mount in mounts), *offcuts])
    scrap = [
        part
        for part in shapely.get_parts(without(metal.outline, gone))
        if isinstance(part, Polygon) and part.area >= SCRAP_LEAST_MM2
    ]
    holes = [
        HoleOnMetal(
            hole.piece,
            hole.copy,
            hole.at,
            hole.diameter_mm
            if hole.diameter_mm is not None
            else _pilot(pilot_sizes, job, hole.piece, hole.room_mm),
        )
        for hole in order.holes
    ]
    return OneMetal(
        shown.code,
        metal.outline,
        edges_of(metal),
        clean_lines(metal),
        tuple(mounts),
        tuple(offcuts),
        tuple(scrap),
        papers_on_metal(
            [OnPaper(mount.outline, mount.group or mount.label) for mount in mounts],
            metal.outline,
            rim_mm=rim_mm,
            shared_mm=shared_width_mm(job),
        )
        if with_papers
        else (),
        tuple(holes),
        tuple(_drill_sizes(metal.outline, mounts, holes, units)) if with_papers else (),
        order,
        shown,
        drawings,
        units,
        tuple(blank for blank in laid.blanks if order.parting and blank.metal == shown.code),
        letter,
    )


def _pilot(sizes: Mapping[str, PilotSize], job: Job, piece: str, room_mm: float) -> float | None:
    size = sizes.get(job.wanted_by_id[piece].group or "")
    return size(room_mm) if size is not None else None


def _drill_sizes(
    metal: Polygon | MultiPolygon,
    mounts: Sequence[Mount],
    holes: Sequence[HoleOnMetal],
    units: Units,
) -> list[SizeWords]:
    """The diameter beside each hole, on no line and no label; the same at every scale."""
    named = [
        Hole(hole.at, drill_words(hole.diameter_mm, units), hole.wide_mm / 2 + HOLE_CLEAR_MM)
        for hole in holes
        if hole.diameter_mm is not None
    ]
    if not named:
        return []
    rings = [
        ring for mount in mounts for ring in (mount.outline.exterior, *mount.outline.interiors)
    ]
    labels = [
        words_box(at.x, at.y, mount.label, size)
        for mount in mounts
        for at, size in [label_in(mount, marks_on(mount, holes))]
    ]
    words = beside_holes(
        named,
        SIZE_MM,
        united([*rings, metal.boundary.buffer(EDGE_LINE_MM / 2)]),
        metal,
        reach_mm=SIZE_REACH_MM,
        taken=labels,
        windows=[Polygon(ring) for mount in mounts for ring in mount.outline.interiors],
    )
    return [one for one in words if one is not None]
