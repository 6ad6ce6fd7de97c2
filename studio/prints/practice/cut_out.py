"""A practice sheet on paper at true size: the metal, the pieces to cut out, and the three rules.

The known answer, small, is a paper of its own for the teacher.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import shapely
from shapely.geometry import Polygon

from classroom.models import School
from studio.core.picturing.edges import rough_lines
from studio.core.picturing.plan import labels_of_pieces
from studio.core.practice import Sheet, known, spread
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.sizes import GUTTER_MM, Paper, Printer, paper_for
from studio.prints.paper.tile_art import Bars, bars_for

TEMPLATE: Final = "studio/prints/practice/cut_out.html"
ANSWER_TEMPLATE: Final = "studio/prints/practice/answer.html"
APART_MM: Final = 7.0
"""Room for scissors between two pieces."""
ANSWER_WIDTH_MM: Final = 110.0
LETTER_MM: Final = 5.0


@dataclass(frozen=True, slots=True)
class Art:
    """What a page shows, as path texts: metal with its rough edge, pieces, their letters."""

    width: str
    height: str
    metal: str
    rough: str
    pieces: tuple[str, ...]
    letters: tuple[Text, ...]
    bars: Bars | None = None


def cut_out_context(
    sheet: Sheet, *, school: School, printer: Printer | None = None
) -> dict[str, Any]:
    """The metal on the first page, the pieces on those after it; lengths true for the printer."""
    paper = paper_for(school.paper, printer)
    assert sheet.job.hands is not None
    return {
        "sheet": sheet,
        "paper_size": paper,
        "metal": _metal_page(sheet, paper),
        "pages": _piece_pages(sheet, paper),
        "hands": sheet.job.hands,
    }


def answer_context(sheet: Sheet) -> dict[str, Any]:
    """The known answer in small, with its figures."""
    x0, _, x1, y1 = sheet.job.metal[0].outline.bounds
    scale = min(1.0, ANSWER_WIDTH_MM / (x1 - x0))
    width, height = (scale * side for side in sheet.size_mm)
    frame = Frame(x0, y1, 1.0, 1.0, scale)
    labels = labels_of_pieces(sheet.job)
    laid = [
        (labels[p.piece, p.copy], p.lay(sheet.job.wanted_by_id[p.piece].outline))
        for p in sheet.answer
    ]
    return {
        "sheet": sheet,
        "art": _art(sheet, frame, width + 2.0, height + 2.0, laid),
        "measures": known(sheet.code).measures,
    }


def _metal_page(sheet: Sheet, paper: Paper) -> Art:
    x0, _, _, y1 = sheet.job.metal[0].outline.bounds
    width, height = paper.canvas_mm(first=True)
    frame = Frame(x0, y1, GUTTER_MM / paper.printer.x_scale, 1.0)
    return _art(sheet, frame, width, height, (), bars_for(paper, first=True))


def _piece_pages(sheet: Sheet, paper: Paper) -> list[Art]:
    area = paper.area(first=False)
    width, height = paper.canvas_mm(first=False)
    frame = Frame(0.0, 0.0, GUTTER_MM / paper.printer.x_scale, 1.0)
    labels = labels_of_pieces(sheet.job)
    bars = bars_for(paper, first=False)
    return [
        _art(
            None,
            frame,
            width,
            height,
            [(labels[one.piece, one.copy], one.outline) for one in page],
            bars,
        )
        for page in spread(sheet.job, area.width_mm, area.height_mm - 1.0, apart_mm=APART_MM)
    ]


def _art(
    metal_of: Sheet | None,
    frame: Frame,
    width: float,
    height: float,
    laid: Iterable[tuple[str, Polygon]],
    bars: Bars | None = None,
) -> Art:
    shown = list(laid)
    metal = None if metal_of is None else metal_of.job.metal[0]
    return Art(
        num(width),
        num(height),
        "" if metal is None else frame.path(metal.outline),
        "" if metal is None else frame.lines(rough_lines(metal)),
        tuple(frame.path(outline) for _, outline in shown),
        tuple(_letter(label, outline, frame) for label, outline in shown),
        bars,
    )


def _letter(label: str, outline: Polygon, frame: Frame) -> Text:
    """In the widest place of the piece, as large as fits there."""
    circle = shapely.maximum_inscribed_circle(outline, tolerance=0.1)
    (x, y), radius = circle.coords[0], circle.length
    size = min(LETTER_MM, 1.3 * radius / max(1.0, LETTER_EM * len(label) * 1.2)) * frame.scale
    shown_x, shown_y = frame.xy(x, y)
    return Text(label, num(shown_x), num(shown_y + 0.36 * size), num(size))
