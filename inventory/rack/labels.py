"""Which label does a piece of metal get? Short codes such as "CU-0.81-003", unique in a school."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.db.models import F

from classroom.models import School
from inventory.models import LabelSeries, Metal

SYMBOLS: Final = {
    "C11000": "CU",
    "C26000": "CUZN30",
    "C23000": "CUZN15",
    "C22000": "CUZN10",
    "C75200": "CUNI18",
    "C51000": "CUSN5",
    "A91100": "AL99",
    "A96061": "ALMG1",
    "AG925": "AG925",
    "AG999": "AG999",
    "C36000": "CUZN36PB",
}
"""What the metal is made of, in chemical symbols with the share of the first addition in per cent,
shortened from the designations of ISO 1190-1 and ISO 209 (from memory). They read alike in every
language, and none says silver of a metal that holds none. A label that a piece once got it
keeps, also an older one by initials such as "YB-0.81-003".
"""


def label_prefix(metal: Metal) -> str:
    """Symbols of the alloy and the thickness in mm: "CU-0.81"."""
    thickness = Decimal(metal.thickness_mm).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    return f"{SYMBOLS.get(metal.alloy_code, 'ME')}-{thickness}"


def take_labels(school: School, metal: Metal, count: int) -> list[str]:
    """`count` labels that nobody else has or will get; call it inside a transaction.

    The UPDATE holds the series until the transaction ends, so two receipts at once cannot draw
    the same number.
    """
    prefix = label_prefix(metal)
    series, _ = LabelSeries.objects.get_or_create(school=school, prefix=prefix)
    LabelSeries.objects.filter(pk=series.pk).update(last=F("last") + count)
    series.refresh_from_db(fields=["last"])
    return [f"{prefix}-{number:03d}" for number in range(series.last - count + 1, series.last + 1)]
