"""Tables for spreadsheets: CSV whose cells are never taken for formulas."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.http import HttpResponse
from django.utils.text import slugify

_RUNS = re.compile(
    # A tab or a new line at the start, or a formula's sign behind anything that is not seen:
    # spreadsheets leave such characters out before they look. The last four are the wide forms.
    r"[\t\r\n]|[\s\x00-\x1f\xa0\u200b-\u200f\u2060\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20]"
)


def defused(text: str) -> str:
    """Text that a spreadsheet shows instead of running it (it begins with an apostrophe)."""
    return f"'{text}" if _RUNS.match(text) else text


def cell(value: object) -> str:
    """One cell: numbers as they are; text that a spreadsheet would run gets a leading quote."""
    if isinstance(value, int | float | Decimal):
        return str(value)
    return defused(str(value))


def csv_response(name: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """A CSV file to download; UTF-8 with a mark at its start, so that spreadsheets see it."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(head)
    writer.writerows([cell(value) for value in row] for row in rows)
    response = HttpResponse("\ufeff" + buffer.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{slugify(name) or "table"}.csv"'
    response["Cache-Control"] = "private, no-store"
    return response
