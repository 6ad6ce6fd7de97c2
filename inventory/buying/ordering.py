"""What has been ordered, what of it has come, and what is still to come?"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from classroom.models import School, User, record
from classroom.refusals import Refused
from inventory.models import Metal, MetalOrder, MetalOrderLine
from inventory.rack.outlines import rectangle

from .sheet_line import MOST_LINES, MOST_SHEETS, SheetLine

ALL_HAS_COME: Final = "all has come"


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One line of an order: `count` sheets of one size."""

    metal: Metal
    count: int
    width_mm: Decimal
    height_mm: Decimal


@dataclass(frozen=True, slots=True)
class Standing:
    """How an order's line stands: sheets that came, and sheets still to come."""

    line: MetalOrderLine
    came: int

    @property
    def to_come(self) -> int:
        return max(0, self.line.count - self.came)


@transaction.atomic
def write_order(
    school: School,
    lines: Sequence[OrderLine],
    *,
    acting: User,
    ordered_on: dt.date,
    seller: str = "",
    reference: str = "",
) -> MetalOrder:
    """Write an order down. Raises Refused for lines that make no sense."""
    if not 1 <= len(lines) <= MOST_LINES:
        raise Refused(f"An order has one to {MOST_LINES} lines.")
    order = MetalOrder.objects.create(
        school=school,
        ordered_on=ordered_on,
        seller=seller,
        reference=reference,
        ordered_by=acting,
    )
    for line in lines:
        if line.metal.school_id != school.pk:
            raise Refused("That metal is not on this school's list.")
        if not 1 <= line.count <= MOST_SHEETS:
            raise Refused(f"Order 1 to {MOST_SHEETS} sheets on one line.")
        rectangle(line.width_mm, line.height_mm)
        MetalOrderLine.objects.create(
            order=order,
            metal=line.metal,
            count=line.count,
            width_mm=line.width_mm,
            height_mm=line.height_mm,
        )
    sheets = sum(line.count for line in lines)
    record(acting, "write-order", order, f"ordered {sheets} sheets {seller}".strip())
    return order


@transaction.atomic
def close_order(order: MetalOrder, *, acting: User, reason: str) -> None:
    """The rest is not coming. Raises Refused without a reason, or when it is closed already."""
    why = " ".join(reason.split())[:120]
    if not why:
        raise Refused("Say why nothing more is to come.")
    closed = MetalOrder.objects.filter(pk=order.pk, closed_at=None).update(
        closed_at=timezone.now(), closed_why=why
    )
    if not closed:
        raise Refused("This order is closed already.")
    record(acting, "close-order", order, "closed the order", reason=why)


def recount(order: MetalOrder) -> None:
    """A receipt of the order was corrected: it is open while something is to come, else closed.

    Raises Refused when more would have come than was ordered. An order that somebody closed with
    a reason of their own stays closed.
    """
    rows = standing(order)
    for one in rows:
        if one.came > one.line.count:
            raise Refused(
                f"Of {one.line.metal} {one.line.count} were ordered with the {order}: enter what "
                "came beyond that as a purchase of its own, as not ordered."
            )
    if all(not one.to_come for one in rows):
        MetalOrder.objects.filter(pk=order.pk, closed_at=None).update(
            closed_at=timezone.now(), closed_why=ALL_HAS_COME
        )
    else:
        MetalOrder.objects.filter(pk=order.pk, closed_why=ALL_HAS_COME).update(
            closed_at=None, closed_why=""
        )


def standing(order: MetalOrder) -> list[Standing]:
    """The order's lines with what came of each."""
    lines = order.lines.select_related("metal").annotate(came=Sum("receipts__count"))
    return [Standing(line, line.came or 0) for line in lines.order_by("pk")]


def take_from_order(order: MetalOrder, lines: Sequence[SheetLine], school: School) -> None:
    """Check that no line receives more than is to come; inside the receipt's transaction.

    The order's row is held first, so that two receipts at once cannot both take the last sheets.
    An order whose last sheet comes is closed with it.
    """
    if order.school_id != school.pk:
        raise Refused("That order is not this school's.")
    held = MetalOrder.objects.filter(pk=order.pk, closed_at=None).update(closed_why="")
    if not held:
        raise Refused("This order is closed: receive the sheets without it.")
    left = {one.line.pk: one for one in standing(order)}
    taken: Counter[int] = Counter()
    for line in lines:
        if line.order_line is None:
            continue
        one = left.get(line.order_line.pk)
        if one is None or line.metal.pk != one.line.metal_id:
            raise Refused("A line names another order, or another metal than was ordered.")
        taken[one.line.pk] += line.count
        if taken[one.line.pk] > one.to_come:
            raise Refused(
                f"Of {one.line.metal} {one.to_come} are still to come. Enter what came beyond "
                "that on a line of its own, as not ordered."
            )
    if all(one.to_come == taken[pk] for pk, one in left.items()):
        MetalOrder.objects.filter(pk=order.pk).update(
            closed_at=timezone.now(), closed_why=ALL_HAS_COME
        )
