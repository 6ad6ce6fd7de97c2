"""The school's printers and how true they print: measured, remembered, measured again."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from classroom.models import PrinterCheck, School, User, record
from classroom.models.printers import LEAST_MM, MOST_MM, PrinterCheckQuerySet
from classroom.refusals import Refused

DOUBTFUL_MM = Decimal("1.5")
"""A printer is seldom so far off; "fit to page" is (common practice, no source)."""
MOST_PRINTERS = 60
MOMENTS = dt.timedelta(seconds=30)

ACTUAL_SIZE = (
    "In the print window choose “Actual size” or a scale of 100 %, never “Fit” or “Shrink”, and "
    "the paper that lies in the printer. Then print the check page again and measure it."
)


class Doubtful(Refused):
    """Likely printed to fit the page: a person must say that it was printed at 100 %."""


def printers_of(school: School) -> PrinterCheckQuerySet:
    """The newest measurement of each printer, by name."""
    return PrinterCheck.objects.filter(school=school).newest()


def measure_printer(
    school: School,
    name: str,
    across_mm: Decimal,
    up_mm: Decimal,
    *,
    acting: User,
    sure: bool = False,
) -> PrinterCheck:
    """Keep what a steel rule said about the check page's bars of 100 mm.

    Raises Doubtful until somebody is `sure`, and Refused for what no printer does.
    """
    plain = " ".join(name.split())[:40]
    if not plain:
        raise Refused("Give the printer a name, such as the room it stands in.")
    refuse_far_off(across_mm, up_mm)
    off = max(abs(across_mm - 100), abs(up_mm - 100))
    if off > DOUBTFUL_MM and not sure:
        raise Doubtful(
            f"{off.normalize():f} mm in 100 is more than a printer is usually off; a page shrunk "
            f"to fit is. {ACTUAL_SIZE} If it was printed so, say that you are sure."
        )
    key = plain.casefold()
    with transaction.atomic():
        newest = _newest(school, key)
        if newest is not None and _sent_twice(newest, across_mm, up_mm, acting):
            return newest
        if newest is None and printers_of(school).count() >= MOST_PRINTERS:
            raise Refused(
                f"There are {MOST_PRINTERS} printers already. Take one off the list first."
            )
        check = PrinterCheck.objects.create(
            school=school,
            name=plain,
            key=key,
            across_mm=across_mm,
            up_mm=up_mm,
            measured_by=acting,
        )
        record(
            acting,
            "printer-measured",
            check,
            f"measured the printer {plain}: 100 mm are {across_mm:f} across and {up_mm:f} up",
        )
    return check


def _newest(school: School, key: str) -> PrinterCheck | None:
    """What was said last of this printer; nobody else says anything until the transaction ends."""
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    return PrinterCheck.objects.filter(school=school, key=key).first()


def _sent_twice(newest: PrinterCheck, across_mm: Decimal, up_mm: Decimal, acting: User) -> bool:
    """Whether this is the same form once more, moments ago."""
    return (
        not newest.gone
        and newest.measured_by_id == acting.pk
        and (newest.across_mm, newest.up_mm) == (across_mm, up_mm)
        and timezone.now() - newest.measured_at < MOMENTS
    )


def refuse_far_off(*bars_mm: Decimal | float) -> None:
    """Raises Refused, with what to do, when a bar of 100 mm was shrunk or blown up."""
    for bar in bars_mm:
        if not LEAST_MM <= Decimal(str(bar)) <= MOST_MM:
            raise Refused(
                f"A bar of 100 mm that measures {float(bar):g} mm was not printed at actual size, "
                f"and no correction should hide that. {ACTUAL_SIZE}"
            )


def take_off(check: PrinterCheck, *, acting: User) -> None:
    """The printer is gone: it is not offered any more; its measurements stay as rows.

    Taken off twice is taken off once.
    """
    with transaction.atomic():
        newest = _newest(check.school, check.key)
        if newest is not None and newest.gone:
            return
        row = PrinterCheck.objects.create(
            school=check.school,
            name=check.name,
            key=check.key,
            across_mm=check.across_mm,
            up_mm=check.up_mm,
            gone=True,
            measured_by=acting,
        )
        record(acting, "printer-gone", row, f"took the printer {check.name} off the list")
