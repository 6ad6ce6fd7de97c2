"""The rack's list: what it shows, how it is narrowed, and how much it asks the database."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from shapely.geometry import box

from inventory.rack import stock
from tests.inventory.pages import ELL, metal_of, offcut_for, sheets_for
from tests.people import Cast, signed_in


def codes(cast: Cast, **asked: str) -> list[str]:
    page = signed_in(cast.teacher).get(reverse("rack"), asked)
    return [shown.piece.code for shown in page.context["shown"]]


def test_each_piece_is_drawn_with_its_label_size_weight_cost_and_place(cast: Cast) -> None:
    sheets_for(cast)
    page = signed_in(cast.teacher).get(reverse("rack")).content.decode()
    for text in (
        "CU-0.81-001",
        "152.4 mm × 304.8 mm",
        "464.52 cm²",
        "335.3 g",
        "30.00 USD",
        "no place stated",
        "since today",
        "<title>Outline of CU-0.81-001</title>",
    ):
        assert text in page


def test_a_school_that_counts_in_inches_reads_inches_and_ounces(cast: Cast) -> None:
    sheets_for(cast)
    cast.school.units = "in"
    cast.school.save()
    page = signed_in(cast.teacher).get(reverse("rack")).content.decode()
    assert "6 in × 12 in" in page
    assert "72.00 sq in" in page
    assert "11.83 oz" in page  # 335.3 g / 28.349523125


def test_pictures_share_one_scale_and_keep_windows(cast: Cast) -> None:
    sheets_for(cast)
    offcut_for(cast, box(0, 0, 96, 88).difference(box(30, 28, 66, 58)))
    page = signed_in(cast.teacher).get(reverse("rack"))
    sheet, offcut = sorted(page.context["shown"], key=lambda shown: -shown.piece.area_mm2)
    scale, edge = 170 / 304.8, 3  # 1.5 px of room for the stroke on each side
    for shown, width_mm in ((sheet, 152.4), (offcut, 96.0)):
        drawn = re.search(r' width="([0-9.]+)"', shown.picture)
        assert drawn is not None
        assert float(drawn.group(1)) == pytest.approx(width_mm * scale + edge, abs=0.001)
    assert offcut.picture.count("M") == 2


def test_the_list_is_narrowed_by_metal_kind_state_and_width(cast: Cast) -> None:
    sheets_for(cast, count=2)
    offcut_for(cast, ELL)
    brass = metal_of(cast.school, "C26000")
    stock.receive_offcut(
        cast.school,
        brass,
        box(0, 0, 150, 20),
        acting=cast.teacher,
        cost=Decimal(1),
        reason="found",
        place="second drawer",
    )
    first = sheets_for(cast)[0]
    stock.reserve([first], acting=cast.teacher, reason="plan", cause="cutplan:1")
    assert codes(cast, kind="offcut") == ["CU-0.81-003", "CUZN30-0.81-001"]
    assert codes(cast, metal=str(brass.pk)) == ["CUZN30-0.81-001"]
    assert codes(cast, state="reserved") == ["CU-0.81-004"]
    # The strip of brass is 150 mm long and 20 mm wide: too narrow both ways round.
    assert "CUZN30-0.81-001" not in codes(cast, width="90")
    assert "CUZN30-0.81-001" in codes(cast, width="2 cm")
    assert codes(cast, search="second") == ["CUZN30-0.81-001"]
    assert codes(cast, sort="small")[0] == "CUZN30-0.81-001"


def test_pieces_that_are_used_up_are_shown_only_when_asked_for(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    stock.scrap(sheet, acting=cast.teacher, reason="bent")
    assert codes(cast) == []
    assert codes(cast, state="gone") == ["CU-0.81-001"]


@pytest.mark.parametrize(
    "asked",
    [
        {"width": "1e400"},
        {"width": "NaN"},
        {"width": "-3"},
        {"metal": "999999"},
        {"metal": "x"},
        {"kind": "x", "state": "y", "sort": "'; drop"},
        {"page": "x"},
        {"page": "99999999999999999999"},
        {"search": "\x00%_'"},
    ],
)
def test_a_nonsensical_filter_still_answers(cast: Cast, asked: dict[str, str]) -> None:
    sheets_for(cast)
    assert signed_in(cast.teacher).get(reverse("rack"), asked).status_code == 200


def test_another_schools_metal_narrows_nothing_down_to_it(cast: Cast) -> None:
    sheets_for(cast)
    theirs = metal_of(cast.outsider.school)
    page = signed_in(cast.teacher).get(reverse("rack"), {"metal": theirs.pk})
    assert page.context["form"].errors["metal"]


def test_the_rack_asks_the_database_as_often_for_many_pieces_as_for_few(
    cast: Cast, django_assert_num_queries: Any
) -> None:
    client = signed_in(cast.teacher)
    sheets_for(cast, count=2)
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(reverse("rack"))
    asked = len(few)
    sheets_for(cast, count=40)
    for _ in range(5):
        offcut_for(cast)
    with django_assert_num_queries(asked):
        client.get(reverse("rack"))
