"""What does metal cost here? Prices that the teacher writes down, dated, never changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from classroom.models import School, User, record
from classroom.refusals import Refused, a_reason
from inventory.models import Metal, MetalPrice, Purchase, PurchaseLine
from inventory.spending.money import even_shares, whole_cents


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
    line: PurchaseLine | None = None,
) -> MetalPrice:
    """Write down the price of a sheet of this size on a day; `line` is the purchase's line that it
    is the price of, where it was bought."""
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
        purchase_line=line,
    )
    record(acting, "record-price", metal, f"wrote down {price}")
    return price


@transaction.atomic
def correct_price(
    price: MetalPrice,
    *,
    acting: User,
    reason: str,
    amount: Decimal | None = None,
    width_mm: Decimal | None = None,
    height_mm: Decimal | None = None,
    dated: dt.date | None = None,
    remark: str | None = None,
    withdrawn: bool = False,
    line: PurchaseLine | None = None,
) -> MetalPrice | None:
    """A price was written down wrong: a new row says what is right and names the old one.

    What is None stays as it was; `withdrawn` says that there was no such price. With `line` the
    price follows its purchase's line, which may also put it back; by hand, it follows no line
    any more. Returns None when nothing differs. Raises Refused without a reason, or when it was
    corrected already.
    """
    why = a_reason(reason, most=200)
    right = {
        "amount": price.amount if amount is None else whole_cents(amount),
        "width_mm": price.width_mm if width_mm is None else width_mm,
        "height_mm": price.height_mm if height_mm is None else height_mm,
        "dated": price.dated if dated is None else dated,
        "remark": price.remark if remark is None else remark,
    }
    back = price.withdrawn and line is not None and not withdrawn
    if not (withdrawn or back) and all(
        getattr(price, name) == value for name, value in right.items()
    ):
        return None
    # The metal's row is held, so that one price is not corrected twice at once.
    Metal.objects.select_for_update(no_key=True).get(pk=price.metal_id)
    if (price.withdrawn and not back) or price.is_corrected():
        raise Refused("That price was corrected already. Load the page again, and correct that.")
    made = MetalPrice.objects.create(
        metal_id=price.metal_id,
        recorded_by=acting,
        corrects=price,
        reason=why,
        withdrawn=withdrawn,
        purchase_line=line,
        **right,
    )
    said = "there was no such price" if withdrawn else f"it is {made}"
    record(acting, "correct-price", price.metal, f"corrected {price}: {said}", reason=why)
    return made


def last_per_mm2(metal: Metal, *, besides: MetalPrice | None = None) -> Decimal | None:
    """The metal's newest price by area, `besides` one; None where none is known above nothing."""
    newest = prices_before(metal, besides).filter(amount__gt=0).first()
    return None if newest is None else newest.per_mm2


def newest_per_g(school: School, alloy_code: str) -> Decimal | None:
    """What a gram of new metal of the alloy costs by its newest price; None where none is known."""
    newest = (
        MetalPrice.objects.in_force()
        .filter(metal__school=school, metal__alloy_code=alloy_code, amount__gt=0)
        .select_related("metal")
        .first()
    )
    if newest is None:
        return None
    grams = newest.metal.mass_g(newest.width_mm * newest.height_mm)
    return newest.amount / Decimal(repr(grams)) if grams else None


def prices_before(metal: Metal, besides: MetalPrice | None = None) -> QuerySet[MetalPrice]:
    """The metal's prices in force, newest first, `besides` one."""
    rows = MetalPrice.objects.in_force().filter(metal=metal)
    return rows if besides is None else rows.exclude(pk=besides.pk)


def written_with(line: PurchaseLine) -> MetalPrice | None:
    """The price that was written down when the line was received; None where none counts."""
    return MetalPrice.objects.in_force().filter(purchase_line=line).first()


def follow_purchase(
    line: PurchaseLine,
    purchase: Purchase,
    wanted: Mapping[str, Any],
    head: Mapping[str, Any],
    *,
    acting: User,
    reason: str,
) -> None:
    """The price that was written down with a purchase's line follows the line's correction.

    `wanted` is what the line should say and `head` what the purchase should, where they are to
    change; the rows still say what they said. A line that comes back, after it was said to have
    no sheets, brings its price back. Nothing happens where no price was written down.
    """
    count = int(wanted.get("count", line.count))
    written = written_with(line)
    if written is None and count and not line.count:
        written = MetalPrice.objects.filter(
            purchase_line=line, withdrawn=True, correction=None
        ).first()
        head = {"bought_on": purchase.bought_on, "seller": purchase.seller} | dict(head)
    if written is None:
        return
    if not count:
        correct_price(written, acting=acting, reason=reason, withdrawn=True, line=line)
        return
    total = wanted["total"] - wanted["extras"] if wanted else line.price
    correct_price(
        written,
        acting=acting,
        reason=reason,
        amount=even_shares(total, count)[0],
        width_mm=wanted.get("width_mm"),
        height_mm=wanted.get("height_mm"),
        dated=head.get("bought_on"),
        remark=bought_from(head["seller"]) if "seller" in head else None,
        line=line,
    )


def bought_from(seller: str) -> str:
    """The remark of a price that was written down with a purchase."""
    return f"bought {seller}".strip()[:120]
