"""A review as a file for a spreadsheet: numbers plain, texts that no spreadsheet will run."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from decimal import Decimal

from classroom.figures.rounding import GRAM_KEPT, GRAM_PLACES, MM2_PLACES, percent_of, plain
from inventory.spreadsheets import defused

from .entries import Entry, Totals, totals
from .filters import ReviewRow
from .own_layouts import OwnLayout, own_together

HEADINGS = (
    "Student",
    "Project",
    "Brief",
    "Metal",
    "Cut plan",
    "Handed out on",
    "As used or as planned",
    "Metal handed out (g)",
    "In pieces (g)",
    "Offcuts (g)",
    "Scrap (g)",
    "Kerf (g)",
    "Waste share of the metal used up (%)",
    "Metal ({currency})",
    "Supplies ({currency})",
    "Together ({currency})",
    "Allowance ({currency})",
    "Left ({currency})",
    "Own layout, metal used up (mm²)",
    "The server's, metal used up (mm²)",
    "Own layout saved (mm²)",
    "Own layout, metal ({currency})",
    "The server's, metal ({currency})",
    "Own layout saved ({currency})",
)
"""The last six tell of projects whose own layout a plan has taken; they are empty for others."""
TEXT_COLUMNS = 7
OWN_COLUMNS = 6


def as_csv(rows: Sequence[ReviewRow], own_layouts: Sequence[OwnLayout], currency: str) -> str:
    """One line for each project on each plan, and the totals."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([defused(heading.format(currency=currency)) for heading in HEADINGS])
    for words, figures in lines_of(rows, own_layouts):
        writer.writerow([*map(defused, words), *figures])
    return out.getvalue()


def lines_of(
    rows: Sequence[ReviewRow], own_layouts: Sequence[OwnLayout]
) -> Iterator[tuple[tuple[str, ...], list[str]]]:
    """Texts and figures of each line, as HEADINGS has them; the last line adds all up."""
    laid = {own.key: own for own in own_layouts}
    entries = [entry for row in rows for entry in row.entries]
    for entry in entries:
        own = laid.get((entry.plan_pk, entry.project.pk))
        yield cells_of(entry), [*figures_of(totals([entry])), *own_figures_of(own)]
    own = own_together(own_layouts) if own_layouts else None
    yield (
        ("Together", *[""] * (TEXT_COLUMNS - 1)),
        [*figures_of(totals(entries)), *own_figures_of(own)],
    )


def cells_of(entry: Entry) -> tuple[str, ...]:
    project = entry.project
    return (
        str(project.seat.student),
        project.title or project.brief.title,
        project.brief.title,
        str(entry.metal),
        str(entry.plan_pk),
        entry.issued_on.isoformat(),
        "as used" if entry.settled else "as planned",
    )


def figures_of(sums: Totals) -> list[str]:
    share = "" if sums.waste_share is None else percent_of(sums.waste_share)
    masses = (sums.issued_g, sums.pieces_g, sums.offcuts_g, sums.scrap_g, sums.kerf_g)
    money: tuple[Decimal, ...] = (
        sums.metal_money,
        sums.consumables,
        sums.total,
        sums.allowance,
        sums.left,
    )
    return [
        *(plain(mass, GRAM_PLACES, kept=GRAM_KEPT) for mass in masses),
        share,
        *(plain(amount, 2) for amount in money),
    ]


def own_figures_of(own: OwnLayout | None) -> list[str]:
    if own is None:
        return [""] * OWN_COLUMNS
    areas = (own.own_mm2, own.server_mm2, own.saved_mm2)
    money = (own.own_price, own.server_price, own.saved_price)
    return [
        *(plain(area, MM2_PLACES) for area in areas),
        *(plain(amount, 2) for amount in money),
    ]
