"""One stock piece in the browser, and offcuts that are typed in."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.refusals import Refused
from inventory.models import ScrapEntry, StockPiece
from inventory.rack import stock
from tests.inventory.pages import ELL, metal_of, offcut_for, sheets_for, tick
from tests.people import Cast, signed_in


def offcut(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "metal": metal_of(cast.school).pk,
        "width": "",
        "height": "",
        "points": "0, 0\n118, 0\n118, 42\n51, 42\n51, 96\n0, 96",
        "cost": "4.90",
        "measured": "",
        "place": "top drawer",
        "reason": "left over from last year",
    } | changes


def test_an_offcut_is_typed_in_by_its_corners(cast: Cast, client: Client) -> None:
    answer = client.post(reverse("offcut_new"), offcut(cast))
    piece = StockPiece.objects.get()
    assert answer.url == reverse("stock_piece", args=[piece.pk])
    assert piece.polygon.equals(ELL)
    # 118 x 42 + 51 x 54 = 7710 mm2
    assert piece.area_mm2 == Decimal("7710.00")


@pytest.mark.parametrize(
    "points",
    [
        "0,0\n4 5/8 in, 0\n4 5/8 in; 2 in\n0 2in",
        "0 0\n117.475 0\n117.475 50.8\n0 50.8\n0 0",
        "0 mm, 0\n11.7475 cm, 0\r\n117.475, 50.8\n\n0, 50.8\n",
    ],
)
def test_corners_are_read_in_the_ways_people_write_them(
    cast: Cast, client: Client, points: str
) -> None:
    client.post(reverse("offcut_new"), offcut(cast, points=points))
    piece = StockPiece.objects.get()
    # 4 5/8 in = 117.475 mm, 2 in = 50.8 mm
    assert piece.area_mm2 == Decimal("5967.73")


def test_width_and_height_make_a_rectangle(cast: Cast, client: Client) -> None:
    client.post(reverse("offcut_new"), offcut(cast, points="", width="3 in", height="5 cm"))
    piece = StockPiece.objects.get()
    assert (piece.width_mm, piece.height_mm) == (Decimal("76.20"), Decimal("50.00"))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"points": "0,0\n40,40\n40,0\n0,40"}, "touches itself at x 20.00 mm, y 20.00 mm"),
        ({"points": "0,0\n40,0"}, "at least three corners"),
        ({"points": "0,0\n40,0\nhello"}, "Line 3"),
        ({"points": "0,0\n40,0\nNaN,4"}, "Line 3"),
        ({"points": "0,0\n40,0\n1e400,4"}, "Line 3"),
        ({"points": "0,0\n40,0\n-4,4"}, "negative"),
        ({"points": "0,0\n40,0\n80,0"}, "too small"),
        ({"points": "0,0\n3900,0\n3900,10"}, "too large"),
        ({"points": "1,1\n" * 6000}, "at most 2000"),
        ({"width": "4", "height": "4"}, "not both"),
        ({"points": "", "width": "40"}, "Give width and height"),
        ({"points": ""}, "Give width and height"),
        ({"cost": "-1"}, "greater than or equal to 0"),
        ({"cost": "NaN"}, "Enter a number"),
        ({"reason": " "}, "required"),
        ({"measured": "1e400"}, "exponent"),
    ],
)
def test_an_offcut_that_cannot_be_is_refused_and_keeps_what_was_typed(
    cast: Cast, client: Client, change: dict[str, str], says: str
) -> None:
    page = client.post(reverse("offcut_new"), offcut(cast, **change))
    assert page.status_code == 200
    text = page.content.decode()
    assert says in text
    assert 'value="top drawer"' in text
    assert StockPiece.objects.count() == 0


def test_another_schools_metal_cannot_be_chosen_for_an_offcut(cast: Cast, client: Client) -> None:
    theirs = metal_of(cast.outsider.school)
    page = client.post(reverse("offcut_new"), offcut(cast, metal=theirs.pk))
    assert "Select a valid choice" in page.content.decode()
    assert StockPiece.objects.count() == 0


def test_an_offcut_sent_twice_is_entered_once(cast: Cast, client: Client) -> None:
    data = offcut(cast, once=str(uuid.uuid4()))
    client.post(reverse("offcut_new"), data)
    client.post(reverse("offcut_new"), data)
    assert StockPiece.objects.count() == 1


def test_the_page_shows_picture_facts_history_and_a_code_with_its_address(
    cast: Cast, client: Client
) -> None:
    piece = offcut_for(cast, ELL)
    page = client.get(reverse("stock_piece", args=[piece.pk]))
    text = page.content.decode()
    assert "<title>Outline of CU-0.81-001, copper 20 ga (B&amp;S)</title>" in text
    assert "118.0 mm" in text
    assert "Marit Quay" in text
    assert "found" in text
    assert page.context["address"] == f"http://testserver/rack/{piece.pk}/"
    assert 'class="qr"' in text
    assert "style=" not in text


def test_a_piece_shows_the_offcuts_cut_from_it(cast: Cast, client: Client) -> None:
    (sheet,) = sheets_for(cast)
    how: dict[str, Any] = {"acting": cast.teacher, "reason": "plan", "cause": "cutplan:1"}
    stock.reserve([sheet], **how)
    stock.issue([sheet], **how)
    (kept,) = stock.cut_up(sheet, [(ELL, Decimal("3.00"))], **how)
    text = client.get(reverse("stock_piece", args=[sheet.pk])).content.decode()
    assert kept.code in text
    text = client.get(reverse("stock_piece", args=[kept.pk])).content.decode()
    assert "Cut from" in text
    assert sheet.code in text


def test_moving_a_piece_writes_a_movement(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    address = reverse("stock_move", args=[piece.pk])
    client.post(address, {"place": "  by the   window "})
    client.post(address, {"place": "by the window"})
    piece.refresh_from_db()
    assert piece.place == "by the window"
    moves = piece.movements.filter(kind="correct")
    assert [(move.actor, move.reason) for move in moves] == [
        (cast.teacher, "lies in by the window, before no stated place")
    ]


def test_a_caliper_reading_is_a_recorded_correction(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    address = reverse("stock_correct", args=[piece.pk])
    data = {"reason": "measured on receipt", "measured": "0.87", "cost": "1.50"}
    assert client.post(address, data).status_code == 302
    piece.refresh_from_db()
    assert piece.measured_mm == Decimal("0.870")
    move = piece.movements.get(kind="correct")
    assert move.reason == "measured on receipt (caliper reading 0.87 mm, before none)"
    page = client.get(reverse("stock_piece", args=[piece.pk])).content.decode()
    assert "Is this the metal it is listed as?" in page


def test_a_correction_that_changes_nothing_writes_nothing(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    client.post(reverse("stock_correct", args=[piece.pk]), {"reason": "looked", "cost": "1.50"})
    assert piece.movements.filter(kind="correct").count() == 0


def test_size_and_cost_change_only_while_the_piece_is_free(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    address = reverse("stock_correct", args=[piece.pk])
    data = {"reason": "measured again", "cost": "2.00", "width": "70", "height": "40"}
    client.post(address, data)
    piece.refresh_from_db()
    assert (piece.area_mm2, piece.cost) == (Decimal("2800.00"), Decimal("2.00"))
    stock.reserve([piece], acting=cast.teacher, reason="plan", cause="cutplan:1")
    client.post(address, data | {"cost": "9.00", "width": "99"})
    piece.refresh_from_db()
    assert (piece.area_mm2, piece.cost) == (Decimal("2800.00"), Decimal("2.00"))


def test_a_piece_that_is_used_up_is_not_corrected(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    stock.scrap(piece, acting=cast.teacher, reason="bent")
    assert client.get(reverse("stock_correct", args=[piece.pk])).status_code == 409


def test_a_piece_is_scrapped_by_weight_once(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    address = reverse("stock_scrap", args=[piece.pk])
    client.post(address, {"reason": "bent", "weight": "0.62 oz"})
    client.post(address, {"reason": "bent", "weight": "0.62 oz"})
    piece.refresh_from_db()
    assert piece.state == "gone"
    assert ScrapEntry.objects.get().mass_g == Decimal("17.58")  # 1 oz = 28.349523125 g, exactly


def test_a_weight_that_cannot_be_of_the_piece_wants_a_reason_in_words(
    cast: Cast, client: Client
) -> None:
    piece = offcut_for(cast)  # 60 × 40 × 0.812 mm of copper
    page = client.get(reverse("stock_piece", args=[piece.pk])).content.decode()
    assert "Left empty: 17.3 g by its size." in page
    address, data = reverse("stock_scrap", args=[piece.pk]), {"reason": "bent", "weight": "75 g"}
    text = client.post(address, data).content.decode()
    assert "The scale says 75.0 g; by size and thickness about 17.3 g is expected" in text
    assert "How that came about" in text
    data |= {"sure": tick(text)}
    client.post(address, data)
    assert not ScrapEntry.objects.exists()
    client.post(address, data | {"sure_why": "with two others"})
    assert ScrapEntry.objects.get().reason == f"{piece.code}: bent (with two others)"


def test_a_caliper_reading_far_from_the_metal_is_asked_about(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    address = reverse("stock_correct", args=[piece.pk])
    text = client.get(address).content.decode()
    assert "The metal is listed as 0.812 mm" in text
    data = {"reason": "measured on receipt", "measured": "1.02", "cost": "1.50"}
    text = client.post(address, data).content.decode()
    assert "The caliper reads 1.02 mm; the metal is listed as 0.812 mm thick" in text
    assert client.post(address, data | {"sure": tick(text)}).status_code == 302
    new = data | {"metal": piece.metal_id, "width": "60", "height": "40"}
    text = client.post(reverse("offcut_new"), new).content.decode()
    assert "The caliper reads 1.02 mm" in text
    assert client.post(reverse("offcut_new"), new | {"sure": tick(text)}).status_code == 302


@pytest.mark.parametrize("weight", ["NaN", "-1", "1e400", "heavy", "9999999 lb", "0"])
def test_a_weight_that_no_scale_shows_is_refused_on_the_page(
    cast: Cast, client: Client, weight: str
) -> None:
    piece = offcut_for(cast)
    page = client.post(
        reverse("stock_scrap", args=[piece.pk]), {"reason": "bent", "weight": weight}
    )
    assert page.status_code == 200
    assert "Give a weight" in page.content.decode()
    piece.refresh_from_db()
    assert piece.state == "rack"


def test_a_piece_that_is_lost_is_struck_off_and_weighs_into_no_box(
    cast: Cast, client: Client
) -> None:
    piece = offcut_for(cast)
    address = reverse("stock_strike_off", args=[piece.pk])
    assert client.post(address, {"why_off": " "}).status_code == 200
    client.post(address, {"why_off": "given to the boat club"})
    piece.refresh_from_db()
    assert piece.state == "gone"
    assert piece.movements.last().reason == "given to the boat club"
    assert ScrapEntry.objects.count() == 0
    assert 'id="refused"' in client.post(address, {"why_off": "again"}).content.decode()
    assert piece.movements.last().reason == "given to the boat club"


def test_a_piece_that_a_plan_has_reserved_is_neither_scrapped_nor_struck_off(
    cast: Cast, client: Client
) -> None:
    piece = offcut_for(cast)
    stock.reserve([piece], acting=cast.teacher, reason="plan", cause="cutplan:1")
    for name, data in (("stock_scrap", {"reason": "x1"}), ("stock_strike_off", {"why_off": "x1"})):
        answer = client.post(reverse(name, args=[piece.pk]), data)
        assert 'id="refused"' in answer.content.decode()
        assert "reserved for a cut plan" in answer.content.decode()
    piece.refresh_from_db()
    assert piece.state == "reserved"


def test_what_a_rule_refuses_is_said_on_the_page_and_what_was_typed_stays(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    (piece,) = sheets_for(cast)

    def no(*_: Any, **__: Any) -> None:
        raise Refused("The metal is on a plan by now.")

    monkeypatch.setattr(stock, "scrap", no)
    client = signed_in(cast.teacher)
    address = reverse("stock_scrap", args=[piece.pk])
    weight = f"{piece.mass_g:.1f}"
    page = client.post(address, {"reason": "bent twice", "weight": weight}).content.decode()
    summary = page.split('id="refused"')[1].split("</section>")[0]
    assert "The metal is on a plan by now." in summary
    assert 'value="bent twice"' in page
