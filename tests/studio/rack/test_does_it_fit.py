"""Does this pattern fit? The rack answers with the best offcut first."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from shapely.geometry import box

from classroom.papers.turns import Turns
from inventory.models import StockPiece
from studio.steps.rack import fitting
from studio.steps.rack.fitting import where_it_fits
from tests.people import PASSPHRASE, Cast, signed_in
from tests.studio.bench.making import WITH_WINDOW, World
from tests.studio.plans.making import queries, stock


@pytest.fixture
def rack(world: World) -> World:
    for piece in world.sheets:
        piece.place = "top"
    stock(world.metal, "OFF-LARGE", box(0, 0, 90, 60), kind="offcut")
    stock(world.metal, "OFF-SNUG", box(0, 0, 32, 22), kind="offcut")
    stock(world.metal, "OFF-SLIM", box(0, 0, 200, 15), kind="offcut")
    ring = box(0, 0, 60, 40).difference(box(5, 5, 55, 35))
    stock(world.metal, "OFF-RING", ring, kind="offcut")
    return world


def test_offcuts_come_before_sheets_and_small_before_large(rack: World, cast: Cast) -> None:
    answer = where_it_fits([(WITH_WINDOW, 1)], rack.metal, acting=cast.teacher, brief=rack.brief)
    codes = [fit.stock.code for fit in answer.fits]
    assert codes == ["OFF-SNUG", "OFF-LARGE", "CU-0.81-001", "CU-0.81-002"]
    assert [one.code for one in answer.no_room] == ["OFF-RING"]
    assert answer.too_small == 1


def test_what_is_said_to_fit_lies_within_the_metal(rack: World, cast: Cast) -> None:
    answer = where_it_fits([(WITH_WINDOW, 2)], rack.metal, acting=cast.teacher, brief=rack.brief)
    assert answer.fits
    for fit in answer.fits:
        assert len(fit.laid) == 2
        assert all(fit.stock.polygon.buffer(1e-6).contains(piece) for piece in fit.laid)
        assert fit.laid[0].distance(fit.laid[1]) >= 0.3 - 1e-6


def test_reserved_metal_is_not_offered(rack: World, cast: Cast) -> None:
    StockPiece.objects.filter(code="OFF-SNUG").update(state="reserved")
    answer = where_it_fits([(WITH_WINDOW, 1)], rack.metal, acting=cast.teacher, brief=rack.brief)
    assert "OFF-SNUG" not in [fit.stock.code for fit in answer.fits]


def test_the_page_takes_a_pattern_with_its_own_metal(rack: World, cast: Cast) -> None:
    pattern = rack.project(cast.seat).patterns.get()
    page = signed_in(cast.teacher).get(reverse("rack_fits"), {"pattern": pattern.pk})
    text = page.content.decode()
    assert text.index("OFF-SNUG") < text.index("OFF-LARGE")
    assert "use this first" in text


def test_the_page_takes_a_rectangle_at_any_turn(rack: World, cast: Cast) -> None:
    asked = {"width": "14", "height": "190", "metal": rack.metal.pk}
    text = signed_in(cast.teacher).get(reverse("rack_fits"), asked).content.decode()
    assert "1 stock piece holds it" in text
    assert "OFF-SLIM" in text


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"width": "10"}, "Choose a pattern, or give width and height."),
        ({"width": "10", "height": "10"}, "Choose the metal."),
        ({"width": "x", "height": "10"}, "is not a length"),
        ({"pattern": "999999", "metal": ""}, "Select a valid choice"),
    ],
)
def test_a_question_that_makes_no_sense_is_answered_with_how_to_ask(
    rack: World, cast: Cast, asked: dict[str, str], words: str
) -> None:
    answer = signed_in(cast.teacher).get(reverse("rack_fits"), asked)
    assert answer.status_code == 200
    assert words in answer.content.decode()


def test_a_pattern_and_a_rectangle_at_once_are_asked_apart(rack: World, cast: Cast) -> None:
    pattern = rack.project(cast.seat).patterns.get()
    asked = {"pattern": pattern.pk, "width": "10", "height": "10"}
    text = signed_in(cast.teacher).get(reverse("rack_fits"), asked).content.decode()
    assert "not both" in text


def test_where_others_ask_already_the_question_stays_on_the_form(
    rack: World, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fitting, "IN_THE_WEB", Turns(waiting=0, each=1, seconds=0.0))
    asked = {"width": "14", "height": "190", "metal": rack.metal.pk}
    with fitting.IN_THE_WEB.turn(0):
        answer = signed_in(cast.teacher).get(reverse("rack_fits"), asked)
    assert answer.status_code == 503
    text = answer.content.decode()
    assert "Try in a moment" in text
    assert 'value="190"' in text


def test_four_people_ask(rack: World, cast: Cast) -> None:
    pattern = rack.project(cast.seat).patterns.get()
    url, asked = reverse("rack_fits"), {"pattern": pattern.pk}
    assert "OFF-SNUG" in signed_in(cast.teacher).get(url, asked).content.decode()
    assert signed_in(cast.owner).get(url, asked).status_code == 403
    assert signed_in(cast.classmate).get(url, asked).status_code == 403
    for stranger in (cast.outsider, cast.other_teacher):
        text = signed_in(stranger).get(url, asked).content.decode()
        assert "OFF-SNUG" not in text
        assert "Select a valid choice" in text


def test_a_larger_rack_is_searched_in_as_many_queries(rack: World, cast: Cast) -> None:
    url = f"{reverse('rack_fits')}?width=20&height=20&metal={rack.metal.pk}"
    few = queries(signed_in(cast.teacher), url)
    for number in range(5):
        stock(rack.metal, f"MORE-{number}", box(0, 0, 40, 30), kind="offcut")
    assert queries(signed_in(cast.teacher), url) == few


def test_a_scanned_label_leads_through_sign_in_to_the_piece(rack: World) -> None:
    piece = rack.sheets[0]
    phone = Client()
    page = reverse("stock_piece", args=[piece.pk])
    door = phone.get(page)
    assert door.status_code == 302
    back = phone.post(
        door["Location"], {"username": "marit.quay", "password": PASSPHRASE}, follow=True
    )
    assert back.redirect_chain[-1][0] == page
    assert piece.code in back.content.decode()
