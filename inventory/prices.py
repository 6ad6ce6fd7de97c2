"""What does metal cost here? Prices that the teacher writes down, dated, never changed."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.db import transaction

from classroom.models import User, record
from classroom.refusals import Refused

from .models import Metal, MetalPrice
from .money import whole_cents


@transaction.atomic
def record_price(
    metal: Metal,
    amount: Decimal,
    *,
    width_mm: Decimal,
    height_mm: Decimal,
    dated: dt.date,
    acting: User,
    remark: str = "",
) -> MetalPrice:
    """Write down the price of a sheet of this size on a day."""
    if not (width_mm > 0 and height_mm > 0):
        raise Refused("A price belongs to a sheet of a stated size.")
    price = MetalPrice.objects.create(
        metal=metal,
        amount=whole_cents(amount),
        width_mm=width_mm,
        height_mm=height_mm,
        dated=dated,
        recorded_by=acting,
        remark=remark,
    )
    record(acting, "record-price", metal, f"wrote down {price}")
    return price
