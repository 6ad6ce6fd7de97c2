"""A review as a file for a spreadsheet: numbers plain, texts that no spreadsheet will run."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from decimal import Decimal

from classroom.figures.rounding import GRAM_KEPT, GRAM_PLACES, percent_of, plain
from inventory.spreadsheets import defused

from .entries import Entry, Totals, totals
from .filters import ReviewRow

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
)


def as_csv(rows: Sequence[ReviewRow], currency: str) -> str:
    """One line for each project on each plan, and the totals."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([defused(heading.format(currency=currency)) for heading in HEADINGS])
    entries = [entry for row in rows for entry in row.entries]
    for entry in entries:
        writer.writerow([*map(defused, cells_of(entry)), *figures_of(totals([entry]))])
    writer.writerow(["Together", "", "", "", "", "", "", *figures_of(totals(entries))])
    return out.getvalue()


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
