"""The rack: every stock piece of the school, drawn at one scale."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count, Q, Sum
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET

from classroom.permissions import Action, Visit, requires
from inventory.forms.rack import SORTS, RackFilter
from inventory.models import StockPiece
from inventory.models.stock import StockPieceQuerySet
from inventory.queries import stock_for
from inventory.rack.picturing import common_scale, thumbnail_svg

from .ways import rack_ways

PIECES_PER_PAGE = 24
STATE_MARKS = {"rack": "done", "reserved": "waiting", "issued": "current", "gone": "closed"}


@dataclass(frozen=True, slots=True)
class Shown:
    """A stock piece with its picture, the mark of its state, and how long it has been here."""

    piece: StockPiece
    picture: SafeString
    mark: str
    age: str


@requires(Action.SEE_RACK)
@require_GET
def rack(request: Visit) -> HttpResponse:
    form = RackFilter(request.GET or None, acting=request.user)
    asked: dict[str, Any] = {}
    if form.is_bound:
        form.full_clean()
        asked = form.cleaned_data
    pieces = narrowed(stock_for(request.user), asked)
    page = Paginator(pieces, PIECES_PER_PAGE).get_page(request.GET.get("page"))
    keep = request.GET.copy()
    keep.pop("page", None)
    free = stock_for(request.user).on_the_rack()
    totals = free.aggregate(
        sheets=Count("pk", filter=Q(kind="sheet")),
        offcuts=Count("pk", filter=Q(kind="offcut")),
        cost=Sum("cost"),
        area=Sum("area_mm2"),
    )
    return render(
        request,
        "inventory/rack/rack.html",
        {
            "form": form,
            "page": page,
            "shown": pictures(page.object_list),
            "keep": keep.urlencode(),
            "filtered": any(value for name, value in asked.items() if name != "sort"),
            "totals": totals,
            "free_cost": Decimal(str(totals["cost"] or 0)).quantize(Decimal("0.01")),
            "sections": rack_ways("rack"),
        },
    )


def narrowed(pieces: StockPieceQuerySet, asked: dict[str, Any]) -> StockPieceQuerySet:
    """The pieces that the filter asks for, in the order it asks for."""
    if asked.get("metal"):
        pieces = pieces.filter(metal=asked["metal"])
    if asked.get("kind"):
        pieces = pieces.filter(kind=asked["kind"])
    if asked.get("state"):
        pieces = pieces.filter(state=asked["state"])
    else:
        pieces = pieces.exclude(state=StockPiece.State.GONE)
    if asked.get("width"):
        pieces = pieces.at_least_wide(asked["width"])
    if asked.get("length"):
        pieces = pieces.at_least_long(asked["length"])
    if words := asked.get("search"):
        pieces = pieces.filter(Q(code__icontains=words) | Q(place__icontains=words))
    _, order = SORTS[asked.get("sort") or "metal"]
    return pieces.order_by(*order)


def pictures(pieces: Any) -> list[Shown]:
    """The pieces of one page, all drawn at the same scale."""
    outlines = [piece.polygon for piece in pieces]
    scale = common_scale(outlines)
    return [
        Shown(
            piece,
            thumbnail_svg(
                outline,
                title=f"Outline of {piece.code}",
                px_per_mm=scale,
                kind="gone" if piece.state == StockPiece.State.GONE else piece.kind,
            ),
            STATE_MARKS[piece.state],
            age_of(piece),
        )
        for piece, outline in zip(pieces, outlines, strict=True)
    ]


def age_of(piece: StockPiece) -> str:
    """How long the piece has been in the school: "since today", "for 3 days", "for 2 years"."""
    days = (timezone.localdate() - timezone.localdate(piece.received_at)).days
    if days < 1:
        return "since today"
    for name, length in (("year", 365), ("month", 30), ("day", 1)):
        count = days // length
        if count >= (2 if length > 1 else 1):
            return f"for {count} {name}{'' if count == 1 else 's'}"
    raise AssertionError("every whole number of days is some days")
