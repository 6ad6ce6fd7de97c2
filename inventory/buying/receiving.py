"""Bought sheets come on the rack: one stock piece each, labelled, their prices to the cent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction

from classroom.models import School, User, record
from classroom.refusals import Refused
from inventory.models import MetalOrder, Purchase, PurchaseLine, StockMovement, StockPiece
from inventory.rack.edges import REST, edges_of, with_clean
from inventory.rack.labels import take_labels
from inventory.rack.outlines import outline_fields, rectangle
from inventory.rack.stock import note
from inventory.spending.money import even_shares, shares_by_value, whole_cents

from .ordering import take_from_order
from .sheet_line import MOST_LINES, MOST_SHEETS, SheetLine

Kind = StockMovement.Kind


@transaction.atomic
def receive_purchase(
    school: School,
    lines: Sequence[SheetLine],
    *,
    acting: User,
    bought_on: dt.date,
    seller: str = "",
    reference: str = "",
    freight: Decimal = Decimal(0),
    tax: Decimal = Decimal(0),
    order: MetalOrder | None = None,
) -> Purchase:
    """Put bought sheets on the rack: one stock piece each, labelled, their prices to the cent.

    Freight and tax are spread over the lines by their value, and become part of what each stock
    piece cost. With `order` the lines may name what was ordered: never more than is to come.
    Raises Refused for a line that makes no sense; then nothing of the purchase is kept.
    """
    if not 1 <= len(lines) <= MOST_LINES:
        raise Refused(f"A purchase has one to {MOST_LINES} lines.")
    purchase = Purchase.objects.create(
        school=school,
        bought_on=bought_on,
        seller=seller,
        reference=reference,
        recorded_by=acting,
        freight=whole_cents(freight),
        tax=whole_cents(tax),
        order=order,
    )
    if order is not None:
        take_from_order(order, lines, school)
    values = [whole_cents(line.total) for line in lines]
    extras = shares_by_value(purchase.freight + purchase.tax, values)
    pieces = [
        piece
        for line, extra in zip(lines, extras, strict=True)
        for piece in _sheets(purchase, line, extra)
    ]
    pieces = StockPiece.objects.bulk_create(pieces)
    note(pieces, Kind.RECEIVE, acting, f"bought on {bought_on.day} {bought_on:%b %Y}", "")
    labels = ", ".join(piece.code for piece in pieces)
    record(acting, "receive-purchase", purchase, f"received {labels}")
    return purchase


def _sheets(purchase: Purchase, line: SheetLine, extra: Decimal) -> list[StockPiece]:
    if line.metal.school_id != purchase.school_id:
        raise Refused("That metal is not on this school's list.")
    if line.order_line is not None and purchase.order_id is None:
        raise Refused("Sheets of an order are received with that order.")
    if not 1 <= line.count <= MOST_SHEETS:
        raise Refused(f"Receive 1 to {MOST_SHEETS} sheets on one line.")
    outline = rectangle(line.width_mm, line.height_mm)
    sides = edges_of(outline)
    clean = {side.key for side in sides if side.name not in line.rough_sides}
    if line.rough_sides - {side.name for side in sides}:
        clean.discard(REST)  # a side too short to be told apart
    edges = with_clean(sides, clean)
    kept = PurchaseLine.objects.create(
        purchase=purchase,
        metal=line.metal,
        count=line.count,
        width_mm=line.width_mm,
        height_mm=line.height_mm,
        total=whole_cents(line.total) + extra,
        extras=extra,
        weight_g=line.weight_g,
        order_line=line.order_line,
    )
    labels = take_labels(purchase.school, line.metal, line.count)
    return [
        StockPiece(
            school_id=purchase.school_id,
            metal=line.metal,
            code=code,
            kind=StockPiece.Kind.SHEET,
            **outline_fields(outline),
            cost=cost,
            **edges.fields,
            measured_mm=line.measured_mm,
            place=line.place,
            purchase_line=kept,
        )
        for code, cost in zip(labels, even_shares(kept.total, line.count), strict=True)
    ]
