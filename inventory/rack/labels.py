"""Which label does a piece of metal get? Short codes such as "CU-0.81-003", unique in a school."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.db.models import F

from classroom.models import School
from inventory.models import LabelSeries, Metal

# Two letters that a teacher can read off the metal; PB is left out, because it stands for lead.
LETTERS: Final = {
    "C11000": "CU",
    "C26000": "YB",
    "C23000": "RB",
    "C22000": "JB",
    "C75200": "NS",
    "C51000": "BZ",
    "A91100": "AL",
    "A96061": "AH",
    "AG925": "AG",
    "AG999": "FS",
    "C36000": "LB",
}


def label_prefix(metal: Metal) -> str:
    """Letters of the alloy and the thickness in mm: "CU-0.81"."""
    thickness = Decimal(metal.thickness_mm).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    return f"{LETTERS.get(metal.alloy_code, 'ME')}-{thickness}"


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
