"""The placement sheet: each touched stock piece at true size, to lay metal and papers on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext
from shapely.geometry import Polygon, box

from classroom.models import School
from studio.core.picturing.cuts_for_two import shared_width_mm
from studio.core.picturing.papers import area_of
from studio.models import CutPlan
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.sizes import GUTTER_MM, Paper, Printer, paper_for
from studio.prints.paper.tile_art import Bars, TileArt, bars_for, tile_art
from studio.prints.paper.tiling import Tile, Tiling, tile

from .facts import PlanFacts, Whose
from .metal_art import MetalArt, metal_art
from .one_metal import OneMetal

TEMPLATE = "studio/prints/plans/placement_sheet.html"
EDGE_MM = 2.0  # room around the metal for its heavy edge
MOST_NAMES = 4  # on a page that also holds the drawing
COVER_MOST_MM = 110.0


@dataclass(frozen=True, slots=True)
class SheetPage:
    """One page: a drawing at true size, or (`art` with `overview`) a cover that explains tiles."""

    width: str
    height: str
    art: MetalArt
    bars: Bars | None
    tile: Tile | None
    tiling: TileArt | None
    first: bool


@dataclass(frozen=True, slots=True)
class MetalSheet:
    """All pages of one stock piece."""

    one: OneMetal
    stock: Any
    whose: list[Whose]
    cover: SheetPage | None
    grid: tuple[Any, ...]
    pages: list[SheetPage]
    left_out: tuple[str, ...]
    tile_count: int
    abrade_mm2: float

    @property
    def joins(self) -> bool:
        """Whether some printed tile is joined to another."""
        return any(page.tiling is not None and page.tiling.joins for page in self.pages)

    @property
    def shares_lines(self) -> bool:
        """Whether two students have a line together on this stock piece."""
        return any(len(groups) > 1 for groups, _, _ in self.one.picture.gains.for_two)

    @property
    def has_offcut_cuts(self) -> bool:
        return bool(self.one.order.offcut_cuts)

    @property
    def has_holes(self) -> bool:
        return bool(self.one.holes)


def placement_sheet_context(
    plan: CutPlan,
    *,
    school: School,
    own: frozenset[int] | None = None,
    printer: Printer | None = None,
    every_tile: bool = False,
) -> dict[str, Any]:
    """What the template needs. Tiles on which nothing is stuck or sawn are left out unless
    `every_tile` asks for them."""
    paper = paper_for(school.paper, printer)
    facts = PlanFacts(plan, own, with_papers=True, by_blank=True)
    sheets = [metal_sheet(facts, one, paper, every_tile=every_tile) for one in facts.metals]
    return {
        "plan": plan,
        "sheets": sheets,
        "paper_size": paper,
        "is_teacher": own is None,
        "kerf_mm": facts.job.kerf_mm,
        "shared_mm": shared_width_mm(facts.job),
        "shared": len(facts.whose) > 1,
        "warning": _warning(plan),
        "left_out": any(sheet.left_out for sheet in sheets),
    }


def metal_sheet(facts: PlanFacts, one: OneMetal, paper: Paper, *, every_tile: bool) -> MetalSheet:
    width, height = (side + 2 * EDGE_MM for side in one.size_mm)
    whose = facts.on_metal(one)
    first = paper.area(first=True)
    alone = width <= first.width_mm and height <= first.height_mm and len(whose) <= MOST_NAMES
    tiling = tile(width, height, first if alone else paper.area(first=False))
    busy = frozenset(t.name for t in tiling.tiles if every_tile or _is_busy(one, t))
    pages = [
        _page(facts, one, tiling, t, paper, first=alone, printed=busy)
        for t in tiling.tiles
        if t.name in busy
    ]
    return MetalSheet(
        one,
        facts.stock.get(one.code),
        whose,
        None if alone else _cover(facts, one, paper),
        () if alone else _grid(tiling, busy, cover_scale(one, paper)),
        pages,
        tuple(t.name for t in tiling.tiles if t.name not in busy),
        len(tiling.tiles),
        area_of(one.papers),
    )


def _is_busy(one: OneMetal, t: Tile) -> bool:
    """Whether a paper lies on this tile."""
    view = _view(one, t)
    return any(paper.outline.intersects(view) for paper in one.papers)


def _view(one: OneMetal, t: Tile) -> Polygon:
    """What the tile shows, in the metal's millimetres."""
    x0, _, _, y1 = one.outline.bounds
    left, top = x0 - EDGE_MM + t.x, y1 + EDGE_MM - t.y
    return box(left, top - t.height_mm, left + t.width_mm, top)


def _page(
    facts: PlanFacts,
    one: OneMetal,
    tiling: Tiling,
    t: Tile,
    paper: Paper,
    *,
    first: bool,
    printed: frozenset[str],
) -> SheetPage:
    x0, _, _, y1 = one.outline.bounds
    left = GUTTER_MM / paper.printer.x_scale
    frame = Frame(x0, y1, left + EDGE_MM - t.x, EDGE_MM - t.y)
    width, height = paper.canvas_mm(first=first)
    return SheetPage(
        num(width),
        num(height),
        metal_art(one, frame, mine=facts.mine, lying=facts.lying, seen=_view(one, t)),
        bars_for(paper, first=first),
        t,
        None if tiling.is_one else tile_art(tiling, t, paper, printed),
        first,
    )


def _cover(facts: PlanFacts, one: OneMetal, paper: Paper) -> SheetPage:
    """The whole stock piece scaled down, for a page that says how its tiles are joined."""
    scale = cover_scale(one, paper)
    x0, _, _, y1 = one.outline.bounds
    width, height = (side + 2 * EDGE_MM for side in one.size_mm)
    frame = Frame(x0, y1, EDGE_MM * scale + 1, EDGE_MM * scale + 1, scale)
    return SheetPage(
        num(width * scale + 2),
        num(height * scale + 2),
        metal_art(one, frame, mine=facts.mine, lying=facts.lying, with_offcuts=False),
        None,
        None,
        None,
        True,
    )


def cover_scale(one: OneMetal, paper: Paper) -> float:
    width, height = (side + 2 * EDGE_MM for side in one.size_mm)
    room, _ = paper.content_mm
    return min(1.0, (room - 60.0) / width, COVER_MOST_MM / height)


def _grid(tiling: Tiling, busy: frozenset[str], scale: float) -> tuple[Any, ...]:
    """The tiles on the cover's picture, from seam to seam."""
    xs = (0.0, *tiling.seams_x, tiling.width_mm)
    ys = (0.0, *tiling.seams_y, tiling.height_mm)
    cells = []
    for index, t in enumerate(tiling.tiles):
        row, column = divmod(index, tiling.columns)
        x, y = xs[column] * scale + 1, ys[row] * scale + 1
        cells.append(
            {
                "name": t.name,
                "x": num(x),
                "y": num(y),
                "width": num((xs[column + 1] - xs[column]) * scale),
                "height": num((ys[row + 1] - ys[row]) * scale),
                "text_x": num(x + 2.2),
                "text_y": num(y + 5.0),
                "printed": t.name in busy,
            }
        )
    return tuple(cells)


def _warning(plan: CutPlan) -> str:
    match plan.state:
        case CutPlan.State.PLACING | CutPlan.State.PROPOSED:
            return gettext(
                "Proposed only: not approved yet. Do not stick anything on metal by this sheet."
            )
        case CutPlan.State.DROPPED:
            return gettext("This plan was dropped. Do not use this sheet.")
        case CutPlan.State.PARTED:
            return gettext("This metal is parted. Use the sheet of each student's own plan.")
        case _:
            return ""
