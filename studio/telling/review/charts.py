"""Plain stacked bars and sentences: what the figures say, for people who do not like tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.formats import date_format

from classroom.figures import units
from classroom.models import School

from .entries import Entry, Totals, totals
from .filters import ReviewRow

MOST_TERMS = 12
MOST_MONTHS = 12
KINDS = ("piece", "offcut", "scrap", "kerf")


def whole_bar(sums: Totals, label: str, school: School) -> dict[str, Any]:
    """All metal handed out as one bar, offcuts and all."""
    masses = (sums.pieces_g, sums.offcuts_g, sums.scrap_g, sums.kerf_g)
    return _bar(label, "", masses, sum(masses), school)


def used_bars(rows: Sequence[ReviewRow], school: School) -> list[dict[str, Any]]:
    """What each row used up (pieces, scrap, kerf), all to one scale: offcuts go back unused."""
    most = max((row.sums.used_g for row in rows), default=0.0)
    return [
        _bar(
            row.label,
            row.url,
            (row.sums.pieces_g, 0.0, row.sums.scrap_g, row.sums.kerf_g),
            most,
            school,
        )
        for row in rows
    ]


def term_bars(rows: Sequence[ReviewRow], school: School) -> list[dict[str, Any]]:
    """For each term, oldest first, where the used-up metal went, each bar in parts of its whole.

    `rows` are courses in the order of their terms, newest first, each with its term as note.
    """
    terms: dict[str, list[float]] = {}
    for row in reversed(rows):
        sums = terms.setdefault(row.note, [0.0, 0.0, 0.0])
        for place, mass in enumerate((row.sums.pieces_g, row.sums.scrap_g, row.sums.kerf_g)):
            sums[place] += mass
    return _over_time(terms, MOST_TERMS, school)


def month_bars(entries: Sequence[Entry], school: School) -> list[dict[str, Any]]:
    """The same for each month in which metal was handed out, oldest first."""
    months: dict[str, list[Entry]] = {}
    for entry in sorted(entries, key=lambda one: one.issued_on):
        months.setdefault(date_format(entry.issued_on, "M Y"), []).append(entry)
    sums = {month: totals(rows) for month, rows in months.items()}
    masses = {month: [one.pieces_g, one.scrap_g, one.kerf_g] for month, one in sums.items()}
    return _over_time(masses, MOST_MONTHS, school)


def _over_time(times: dict[str, list[float]], most: int, school: School) -> list[dict[str, Any]]:
    """`times` has pieces, scrap and kerf in g for each, oldest first; the last `most` of them."""
    found = []
    for label, (pieces, scrap, kerf) in list(times.items())[-most:]:
        whole = pieces + scrap + kerf
        if whole:
            bar = _bar(label, "", (pieces, 0.0, scrap, kerf), whole, school)
            found.append(bar | {"value": f"{units.format_share(pieces, whole)} in pieces"})
    return found


def _bar(
    label: str, url: str, masses: Sequence[float], whole: float, school: School
) -> dict[str, Any]:
    parts, start, words = [], 0.0, []
    for kind, mass in zip(KINDS, masses, strict=True):
        if mass <= 0:
            continue
        width = 100.0 * mass / whole if whole else 0.0
        parts.append({"kind": kind, "start": round(start, 2), "width": round(width, 2)})
        words.append(f"{kind} {units.format_mass(mass, school.units)}")
        start += width
    value = units.format_mass(sum(masses), school.units)
    return {"label": label, "url": url, "value": value, "text": ", ".join(words), "parts": parts}


def sentences(
    sums: Totals, by_brief: Sequence[ReviewRow], by_student: Sequence[ReviewRow], school: School
) -> list[str]:
    """What a teacher would say about it, as far as the figures say anything."""
    if not sums.count or not sums.issued_g:
        return []

    def mass(value: float) -> str:
        return units.format_mass(value, school.units)

    said = [
        f"Of {mass(sums.issued_g)} handed out, {mass(sums.offcuts_g)} goes back to the rack as "
        f"offcuts. Of the {mass(sums.used_g)} used up, {mass(sums.pieces_g)} became pieces "
        f"({units.format_share(sums.pieces_g, sums.used_g)})."
    ]
    if sums.waste_g > 0:
        cause, part = max(
            (("scrap too small to use again", sums.scrap_g), ("kerf", sums.kerf_g)),
            key=lambda pair: pair[1],
        )
        said.append(
            f"{mass(sums.waste_g)} was lost. The largest cause of waste is {cause}: "
            f"{mass(part)}, {units.format_share(part, sums.waste_g)} of it."
        )
        if len(by_brief) > 1:
            worst = max(by_brief, key=lambda row: row.sums.waste_g)
            said.append(
                f"Most of it comes from “{worst.label}” "
                f"({mass(worst.sums.waste_g)}, "
                f"{units.format_share(worst.sums.waste_g, sums.waste_g)} of the waste)."
            )
        if sums.scrap_g > 2 * sums.kerf_g:
            said.append(
                "Placing more projects on one stock piece, or using small offcuts first, leaves "
                "less scrap between the pieces."
            )
    over = [row for row in by_student if row.sums.over]
    if over:
        names = ", ".join(row.label for row in over[:4])
        more = f" and {len(over) - 4} more" if len(over) > 4 else ""
        said.append(f"Above the allowance: {names}{more}.")
    return said
