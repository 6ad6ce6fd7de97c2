"""A review as a workbook: numbers as numbers, texts that no spreadsheet will run."""

from __future__ import annotations

import io
from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from inventory.spreadsheets import defused

from .filters import ReviewRow
from .own_layouts import OwnLayout
from .tables import HEADINGS, TEXT_COLUMNS, lines_of

LONGEST_TEXT = 1000
WIDE, NARROW = 24, 14


def as_xlsx(rows: Sequence[ReviewRow], own_layouts: Sequence[OwnLayout], currency: str) -> bytes:
    """One line for each project on each plan, and the totals; the same figures as the CSV."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Waste and cost"
    sheet.append([_text(heading.format(currency=currency)) for heading in HEADINGS])
    for words, figures in lines_of(rows, own_layouts):
        sheet.append([*map(_text, words), *_numbers(figures)])
    for number in range(1, len(HEADINGS) + 1):
        sheet.cell(1, number).font = Font(bold=True)
        sheet.cell(sheet.max_row, number).font = Font(bold=True)
        width = WIDE if number <= TEXT_COLUMNS else NARROW
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.freeze_panes = "B2"
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _text(value: str) -> str:
    """Text without what a workbook cannot hold; never taken for a formula."""
    return defused(ILLEGAL_CHARACTERS_RE.sub("", value)[:LONGEST_TEXT])


def _numbers(figures: Sequence[str]) -> list[float | str]:
    """Figures are shown, not booked from here: a float holds cents of any school exactly enough."""
    return [float(figure) if figure else "" for figure in figures]
