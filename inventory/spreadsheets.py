"""Tables for spreadsheets: CSV whose cells are never taken for formulas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.http import HttpResponse
from django.utils.text import slugify

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def cell(value: object) -> str:
    """One cell: numbers as they are; text that a spreadsheet would run gets a leading quote."""
    if isinstance(value, int | float | Decimal):
        return str(value)
    text = str(value)
    return f"'{text}" if text.lstrip(" ").startswith(_STARTS_A_FORMULA) else text


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
