"""An offcut's outline uploaded as SVG: read strictly, windows kept, refused with the point."""

from __future__ import annotations

import math
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.models import StockPiece
from tests.inventory.pages import metal_of
from tests.people import Cast, signed_in

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="150mm" height="100mm" viewBox="0 0 150 100">'
ELL = '<path d="M10 10 H128 V52 H61 V106 H10 Z"/>'


def send(client: Client, cast: Cast, svg: str | bytes, **changes: Any) -> Any:
    data = svg if isinstance(svg, bytes) else f"{HEAD}{svg}</svg>".encode()
    form = {
        "file": SimpleUploadedFile("offcut.svg", data, "image/svg+xml"),
        "metal": metal_of(cast.school).pk,
        "cost": "4.90",
        "place": "top drawer",
        "reason": "traced",
    }
    return client.post(reverse("offcut_from_svg"), form | changes)


def test_an_outline_with_a_window_becomes_a_stock_piece(cast: Cast, client: Client) -> None:
    answer = send(client, cast, ELL + '<rect x="20" y="20" width="20" height="10"/>')
    piece = StockPiece.objects.get()
    assert answer.url == reverse("stock_piece", args=[piece.pk])
    # 118 x 42 + 51 x 54 = 7710, less the window of 20 x 10
    assert piece.area_mm2 == Decimal("7510.00")
    assert (piece.width_mm, piece.height_mm) == (Decimal("118.00"), Decimal("96.00"))
    assert len(piece.polygon.interiors) == 1
    # y is flipped: the window near the top of the page lies high in the metal.
    assert min(y for _, y in piece.polygon.interiors[0].coords) == pytest.approx(76)


def test_a_drilled_hole_is_a_window_in_the_metal(cast: Cast, client: Client) -> None:
    send(client, cast, ELL + '<circle cx="14" cy="14" r="1"/>')
    piece = StockPiece.objects.get()
    assert float(piece.area_mm2) == pytest.approx(7710 - math.pi, abs=0.05)


def test_a_typed_width_overrides_the_files_own(cast: Cast, client: Client) -> None:
    send(client, cast, ELL, width_mm="59 mm")
    piece = StockPiece.objects.get()
    assert (piece.width_mm, piece.height_mm) == (Decimal("59.00"), Decimal("48.00"))


def test_an_outline_sent_twice_is_entered_once(cast: Cast, client: Client) -> None:
    key = str(uuid.uuid4())
    send(client, cast, ELL, once=key)
    send(client, cast, ELL, once=key)
    assert StockPiece.objects.count() == 1


def test_two_pieces_at_once_are_refused(cast: Cast, client: Client) -> None:
    page = send(client, cast, ELL + '<rect x="130" y="60" width="15" height="15"/>')
    assert "2 separate outlines" in page.content.decode()
    assert StockPiece.objects.count() == 0


def test_an_outline_that_crosses_itself_is_refused_with_the_point(
    cast: Cast, client: Client
) -> None:
    page = send(client, cast, '<path d="M10 10 L50 50 L50 10 L10 50 Z"/>')
    text = page.content.decode()
    assert "crosses or touches itself" in text
    assert "30.0 mm from the left and 70.0 mm from the bottom" in text
    assert 'value="top drawer"' in text
    assert StockPiece.objects.count() == 0


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a drawing",
        b"\x89PNG\r\n\x1a\n0000",
        b"<svg",
        b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]><svg>&b;</svg>',
        HEAD.encode() + b"</svg>",
        HEAD.encode() + b'<path d="M0 0 L1e400 0 L0 NaN Z"/></svg>',
        HEAD.encode() + b'<rect width="0" height="0"/></svg>',
        HEAD.encode() + b'<path d="M10 10 L90 10 L90 90"/></svg>',
        HEAD.encode() + b" " * 5_100_000 + b"</svg>",
    ],
)
def test_a_file_that_is_no_outline_is_refused_in_words(
    cast: Cast, client: Client, data: bytes
) -> None:
    page = send(client, cast, data)
    assert page.status_code == 200
    assert "invalid-feedback" in page.content.decode()
    assert StockPiece.objects.count() == 0


def test_only_teachers_upload_outlines(cast: Cast) -> None:
    address = reverse("offcut_from_svg")
    assert signed_in(cast.teacher).get(address).status_code == 200
    assert signed_in(cast.owner).get(address).status_code == 403
    assert signed_in(cast.classmate).get(address).status_code == 403
    # A teacher elsewhere has a rack of their own, and cannot name this school's metal.
    page = send(signed_in(cast.outsider), cast, ELL)
    assert "Select a valid choice" in page.content.decode()
    assert StockPiece.objects.count() == 0
