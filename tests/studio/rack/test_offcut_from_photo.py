"""An old offcut gets in by a photo: read, looked at, put on the rack once; refused in words."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from shapely.geometry import Point, Polygon, box

from inventory.models import Metal, MetalPrice, StockPiece
from studio.core.drawing import Finding, Weight
from studio.core.reading import PatternError
from studio.core.reading.metal import MetalPhoto, Opening
from studio.steps.rack import photographed_metal
from tests.inventory.pages import metal_of
from tests.people import Cast, signed_in

WINDOW, SHINE = Point(30, 40).buffer(5), box(50, 60, 60, 64)


@pytest.fixture
def metal(cast: Cast) -> Metal:
    return metal_of(cast.school)


@pytest.fixture
def seen(monkeypatch: pytest.MonkeyPatch) -> MetalPhoto:
    """What the reader (tested on rendered photos elsewhere) finds: 80 × 60 mm, laid askew."""
    outer = Polygon([(10, 10), (74, 58), (38, 106), (-26, 58)])
    photo = MetalPhoto(
        outer,
        (Opening(WINDOW, True), Opening(SHINE, False)),
        (Finding("hard-shadow", Weight.CAUTION, "The metal throws a hard shadow.", "Look."),),
        b"\xff\xd8\xff",
        -30.0,
        5.0,
        110.0,
        105.0,
    )
    monkeypatch.setattr(photographed_metal, "read_metal", lambda *_, **__: photo)
    return photo


def upload(desk: Client, metal: Metal, **changes: Any) -> Any:
    file = SimpleUploadedFile("photo.jpg", b"\xff\xd8\xff photo", "image/jpeg")
    form = {"file": file, "way": "laid", "metal": metal.pk} | changes
    return desk.post(reverse("offcut_from_photo"), form)


def keep(desk: Client, answer: Any, **changes: Any) -> Any:
    form = {
        "read": answer.context["read"],
        "once": str(uuid.uuid4()),
        "windows": ["1"],
        "cost": "2.50",
        "place": "top drawer",
        "reason": "found and photographed",
    }
    return desk.post(reverse("offcut_from_photo"), form | changes)


@pytest.mark.usefixtures("seen")
def test_a_photographed_piece_goes_on_the_rack_upright_with_its_window(
    cast: Cast, desk: Client, metal: Metal
) -> None:
    answer = upload(desk, metal, measured="0.79 mm")
    assert "80.0 mm × 60.0 mm" in answer.content.decode()
    assert "hard shadow" in answer.content.decode()
    assert StockPiece.objects.count() == 0

    kept = keep(desk, answer)

    piece = StockPiece.objects.get()
    assert kept.url == reverse("stock_piece", args=[piece.pk])
    assert (piece.width_mm, piece.height_mm) == (Decimal("80.00"), Decimal("60.00"))
    assert float(piece.area_mm2) == pytest.approx(4800 - WINDOW.area, abs=0.1)
    assert isinstance(piece.polygon, Polygon)
    assert len(piece.polygon.interiors) == 1
    assert (piece.measured_mm, piece.cost) == (Decimal("0.790"), Decimal("2.50"))
    assert (piece.kind, piece.place) == ("offcut", "top drawer")
    assert piece.movements.get().kind == "receive"


@pytest.mark.usefixtures("seen")
def test_a_bright_place_is_a_window_only_when_ticked(desk: Client, metal: Metal) -> None:
    keep(desk, upload(desk, metal), windows=["1", "2"])
    keep(desk, upload(desk, metal), windows=[])
    both, none = StockPiece.objects.order_by("pk")
    assert float(both.area_mm2) == pytest.approx(4800 - WINDOW.area - SHINE.area, abs=0.1)
    assert float(none.area_mm2) == pytest.approx(4800, abs=0.1)


@pytest.mark.usefixtures("seen")
def test_a_weight_that_disagrees_is_told_before_anything_is_kept(
    desk: Client, metal: Metal
) -> None:
    answer = upload(desk, metal)
    told = keep(desk, answer, weight="12 g")
    assert "Scale and size disagree" in told.content.decode()
    assert StockPiece.objects.count() == 0

    keep(desk, told, weight="12 g", heavy_ok="on")

    assert "weighed 12.00 g" in StockPiece.objects.get().movements.get().reason


@pytest.mark.usefixtures("seen")
def test_a_weight_that_agrees_asks_nothing(desk: Client, metal: Metal) -> None:
    grams = metal.mass_g(4800 - WINDOW.area)
    keep(desk, upload(desk, metal), weight=f"{grams:.1f}")
    assert StockPiece.objects.count() == 1


@pytest.mark.usefixtures("seen")
def test_the_form_sent_twice_is_entered_once(desk: Client, metal: Metal) -> None:
    answer, key = upload(desk, metal), str(uuid.uuid4())
    for _ in range(2):
        keep(desk, answer, once=key)
    assert StockPiece.objects.count() == 1


@pytest.mark.usefixtures("seen")
def test_what_was_read_cannot_be_changed_on_its_way_or_used_by_another(
    cast: Cast, desk: Client, metal: Metal
) -> None:
    answer = upload(desk, metal)
    changed = answer.context["read"].replace("a", "b", 1)
    assert keep(desk, answer, read=changed).url == reverse("offcut_from_photo")
    assert keep(signed_in(cast.other_teacher), answer).status_code in (302, 404)
    assert StockPiece.objects.count() == 0


@pytest.mark.usefixtures("seen")
def test_the_metals_last_price_is_offered_as_its_worth(
    cast: Cast, desk: Client, metal: Metal
) -> None:
    MetalPrice.objects.create(
        metal=metal,
        amount=Decimal("10.00"),
        width_mm=Decimal(100),
        height_mm=Decimal(96),
        dated="2026-11-02",
        recorded_by=cast.teacher,
    )
    answer = upload(desk, metal)
    assert answer.context["form"].initial["cost"] == Decimal("5.00")  # half of that sheet


def test_a_photo_that_cannot_be_read_is_refused_with_how_to_mend_it(
    desk: Client, metal: Metal, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> MetalPhoto:
        raise PatternError("metal-at-rim", "It runs over the edge.", "Lay it inside.")

    monkeypatch.setattr(photographed_metal, "read_metal", refuse)
    answer = upload(desk, metal)
    assert "It runs over the edge. Lay it inside." in answer.content.decode()


def test_a_file_that_is_no_picture_is_refused_in_words(desk: Client, metal: Metal) -> None:
    file = SimpleUploadedFile("photo.svg", b"<svg/>", "image/svg+xml")
    assert "no picture that is read here" in upload(desk, metal, file=file).content.decode()


def test_a_student_may_not_photograph_metal_onto_the_rack(cast: Cast, metal: Metal) -> None:
    assert upload(signed_in(cast.owner), metal).status_code == 403
