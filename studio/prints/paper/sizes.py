"""How much room does a sheet of paper leave for a drawing at true size?

Sizes by ISO 216 (A4) and ASME Y14.1 (Letter, size A). The margins are those of `print.css`, and
keep all art at least 12.7 mm (half an inch) from the paper's edge, where every printer prints.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass

from classroom.models import PrinterCheck
from classroom.papers.printers import refuse_far_off
from classroom.refusals import Refused

MARGIN_TOP_MM = 14.0
MARGIN_SIDE_MM = 13.0
MARGIN_BOTTOM_MM = 16.0
SLACK_MM = 1.0  # so that rounding never pushes a drawing to the next page

FIRST_HEAD_MM = 72.0  # height of .paper-head and .paper-key in print_sheets.css
NEXT_HEAD_MM = 13.0  # height of .paper-head-slim
GUTTER_MM = 9.0  # left of and below the drawing: the 100 mm bars


@dataclass(frozen=True, slots=True)
class Area:
    """Room for a drawing, in millimetres of the drawing (the printer's correction is off)."""

    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Printer:
    """How long this printer's 100 mm bars really come out; every true-size drawing is stretched
    by 100/measured, so that the paper is true. `name` and `measured` say whose bars they are."""

    across_mm: float = 100.0
    up_mm: float = 100.0
    name: str = ""
    measured: dt.datetime | None = None

    @property
    def x_scale(self) -> float:
        return 100.0 / self.across_mm

    @property
    def y_scale(self) -> float:
        return 100.0 / self.up_mm

    @property
    def is_true(self) -> bool:
        return self.across_mm == self.up_mm == 100.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper size, upright, with the printer's correction."""

    code: str
    name: str
    width_mm: float
    height_mm: float
    printer: Printer = Printer()

    @property
    def content_mm(self) -> tuple[float, float]:
        return (
            self.width_mm - 2 * MARGIN_SIDE_MM,
            self.height_mm - MARGIN_TOP_MM - MARGIN_BOTTOM_MM - SLACK_MM,
        )

    def canvas_mm(self, *, first: bool) -> tuple[float, float]:
        """Width and height of the picture on a page, on paper, bars and all."""
        width, height = self.content_mm
        return width, height - (FIRST_HEAD_MM if first else NEXT_HEAD_MM)

    def area(self, *, first: bool) -> Area:
        """Room for the drawing itself."""
        width, height = self.canvas_mm(first=first)
        return Area(
            width / self.printer.x_scale - GUTTER_MM, height / self.printer.y_scale - GUTTER_MM
        )


def paper_for(code: str, printer: Printer | None = None) -> Paper:
    """The school's paper, "a4" or "letter"."""
    own = printer or Printer()
    if code == "letter":
        return Paper("letter", "Letter", 215.9, 279.4, own)
    return Paper("a4", "A4", 210.0, 297.0, own)


def printer_of(check: PrinterCheck) -> Printer:
    """A measured printer of the school."""
    return Printer(float(check.across_mm), float(check.up_mm), check.name, check.measured_at)


def printer_from(query: Mapping[str, str]) -> tuple[Printer, str]:
    """The printer's correction from `across` and `up` (measured bars, mm), and a complaint.

    Anything unusable leaves the printer uncorrected and says why.
    """
    measured = []
    for name in ("across", "up"):
        text = query.get(name, "").strip().replace(",", ".")
        try:
            value = float(text) if text else 100.0
        except ValueError:
            return Printer(), "A bar's length is a number of millimetres, such as 99.4."
        if not math.isfinite(value):
            return Printer(), "A bar's length is a number of millimetres, such as 99.4."
        try:
            refuse_far_off(value)
        except Refused as refusal:
            return Printer(), str(refusal)
        measured.append(value)
    return Printer(across_mm=measured[0], up_mm=measured[1]), ""
