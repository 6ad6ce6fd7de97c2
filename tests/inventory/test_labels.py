"""Labels of one system: chemical symbols, checked against the alloys' own make-up."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from inventory import metals
from inventory.auditing import audit_labels
from inventory.models import LabelSeries, StockPiece
from inventory.rack.labels import SYMBOLS
from inventory.rack.stock import receive_offcut
from tests.inventory.pages import metal_of
from tests.people import Cast

# Element names of the periodic table (IUPAC), as far as metals for the bench hold them
ELEMENTS = {
    "CU": "copper",
    "ZN": "zinc",
    "NI": "nickel",
    "SN": "tin",
    "PB": "lead",
    "AL": "alumin",
    "MG": "magnesium",
    "AG": "silver",
}


@pytest.mark.parametrize("code", sorted(SYMBOLS))
def test_a_label_names_what_the_metal_is_made_of(code: str) -> None:
    symbols = re.findall(r"[A-Z]{2}", re.sub(r"\d", "", SYMBOLS[code]))
    makeup = metals.alloy(code).makeup.split(";")[0]
    assert symbols
    for symbol in symbols:
        assert ELEMENTS[symbol] in makeup


def test_every_alloy_has_a_label_of_its_own_that_fits_with_any_thickness() -> None:
    assert set(SYMBOLS) == {one.code for one in metals.ALLOYS}
    assert len(set(SYMBOLS.values())) == len(SYMBOLS)
    series = LabelSeries._meta.get_field("prefix").max_length
    assert max(len(f"{letters}-12.70") for letters in SYMBOLS.values()) <= (series or 0)


@pytest.mark.django_db
def test_a_label_of_before_stays_valid_and_is_audited_by_its_own_series(cast: Cast) -> None:
    from shapely.geometry import box

    brass = metal_of(cast.school, "C26000")
    piece = receive_offcut(
        cast.school, brass, box(0, 0, 80, 40), acting=cast.teacher, cost=Decimal(2), reason="found"
    )
    assert piece.code == "CUZN30-0.81-001"
    StockPiece.objects.filter(pk=piece.pk).update(code="YB-0.81-003")
    series = LabelSeries.objects.create(school=cast.school, prefix="YB-0.81", last=3)
    assert list(audit_labels(cast.school)) == []
    LabelSeries.objects.filter(pk=series.pk).update(last=2)
    assert list(audit_labels(cast.school)) == [
        "label YB-0.81-003: the series has only given 2 numbers"
    ]
