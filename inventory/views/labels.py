"""Labels to cut out and stick on: one for a piece, or all of a purchase."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_GET

from classroom.papers.addresses import full_address
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from inventory.models import StockPiece
from inventory.queries import purchase_for, sheets_of, stock_piece_for
from inventory.rack.codes import qr_svg


@requires(Action.SEE_RACK)
@require_GET
def stock_label(request: Visit, pk: int) -> HttpResponse:
    piece = stock_piece_for(request.user, pk)
    return labels_printed(
        request, [piece], reverse("stock_piece", args=[pk]), f"label {piece.code}"
    )


@requires(Action.SEE_RACK)
@require_GET
def purchase_labels(request: Visit, pk: int) -> HttpResponse:
    purchase = purchase_for(request.user, pk)
    pieces = sheets_of(purchase)
    return labels_printed(request, pieces, reverse("purchase", args=[pk]), f"labels {purchase}")


def labels_printed(
    request: Visit, pieces: Iterable[StockPiece], back_url: str, name: str
) -> HttpResponse:
    """A label for each of these stock pieces, for a view that has asked who may."""

    def label(piece: StockPiece) -> dict[str, Any]:
        address = full_address(request, reverse("stock_piece", args=[piece.pk]))
        return {"piece": piece, "qr": qr_svg(address, f"Address of {piece.code}", fills=True)}

    return printed(
        request,
        "inventory/rack/labels_print.html",
        lambda: {"back_url": back_url, "labels": [label(piece) for piece in pieces]},
        name=name,
    )
