"""A purchase was typed in wrong: its head, and of each line sheets, size, price and weight.

The purchase's rows say what is right from then on, so that every page, list and file follows;
a `PurchaseCorrection` for the head and for each line keeps what they said before, with who, when
and why. The stock pieces of a line follow as far as they may:

price   the line's new cost is shared among its sheets as if it had been typed so at first.
        Pieces that lie free on the rack take their share; pieces that are kept for a plan,
        handed out or used up keep the cost at which they were priced, because quotes and budgets
        were settled with it. What they would have cost more or less is told as `kept`.
size    only untouched sheets on the rack get the new size; the others were used as they are.
count   more sheets are new pieces with new labels; fewer strike untouched sheets off, those with
        the newest labels first. No sheets: the line was a mistake.

Every piece's change is a movement that names the correction, so that `inventory.auditing`
proves the rack and the purchases from movements and `kept` alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from django.db import transaction

from classroom.models import User, record, subject_of
from classroom.refusals import Refused, a_reason
from inventory.models import MetalOrder, Purchase, PurchaseCorrection, PurchaseLine, StockPiece
from inventory.rack.outlines import rectangle
from inventory.spending.money import shares_by_value, whole_cents

from . import ordering
from .pieces import LinePieces, follow
from .prices import follow_purchase
from .sheet_line import MOST_SHEETS

HEAD: Final = ("bought_on", "seller", "reference", "freight", "tax")
LINE: Final = ("count", "width_mm", "height_mm", "price", "extras", "total", "weight_g")


@dataclass(frozen=True, slots=True)
class RightHead:
    """What the head of a purchase should say."""

    bought_on: dt.date
    seller: str
    reference: str
    freight: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True)
class RightLine:
    """What one line should say; `price` is the seller's, of all its sheets, before freight."""

    count: int
    width_mm: Decimal
    height_mm: Decimal
    price: Decimal
    weight_g: Decimal | None = None


@dataclass(slots=True)
class Corrected:
    """What a correction came to: pieces that are new, that left, and that could not follow."""

    changed: bool = False
    added: list[StockPiece] = field(default_factory=list)
    struck: list[StockPiece] = field(default_factory=list)
    kept_cost: list[StockPiece] = field(default_factory=list)
    kept_size: list[StockPiece] = field(default_factory=list)
    kept: Decimal = Decimal(0)


@transaction.atomic
def correct_purchase(
    purchase: Purchase,
    head: RightHead,
    lines: Mapping[int, RightLine],
    *,
    acting: User,
    reason: str,
    seen: int,
) -> Corrected:
    """Put a purchase right. `lines` has every line by its key; `seen` is how many corrections
    the person had before them.

    Answers with `changed=False` when all stood so already. Raises Refused without a reason, when
    somebody corrected it meanwhile, and for what cannot be; then nothing is changed.
    """
    why = a_reason(reason, most=160)
    if purchase.order_id is not None:
        # Before the labels, as a receipt of the order does: else the two wait for each other.
        MetalOrder.objects.select_for_update(no_key=True).get(pk=purchase.order_id)
    held = Purchase.objects.select_for_update(no_key=True).get(pk=purchase.pk)
    if held.corrections.count() != seen:
        raise Refused(
            "Somebody corrected this purchase while you had it open. Load the page again and look."
        )
    rows = {
        line.pk: line
        for line in PurchaseLine.objects.select_for_update(no_key=True)
        .filter(purchase=held)
        .order_by("pk")
    }
    if rows.keys() != lines.keys():
        raise Refused("The lines of this purchase are others by now. Load the page again.")
    done = Corrected()
    right = _checked(head, rows, lines)
    _head(held, head, why, acting, done)
    for pk, line in rows.items():
        _line(held, line, right[pk], why, acting, done)
    if not done.changed:
        return done
    if held.order is not None:
        ordering.recount(held.order)
    record(acting, "correct-purchase", held, f"corrected the {held}", reason=why)
    return done


def _checked(
    head: RightHead, rows: Mapping[int, PurchaseLine], lines: Mapping[int, RightLine]
) -> dict[int, dict[str, Any]]:
    """What each line's row should hold, freight and tax shared out again."""
    for one in lines.values():
        if not 0 <= one.count <= MOST_SHEETS:
            raise Refused(f"A line has up to {MOST_SHEETS} sheets; none if it was a mistake.")
        rectangle(one.width_mm, one.height_mm)
    priced = {pk: whole_cents(one.price) for pk, one in lines.items() if one.count}
    extra = whole_cents(head.freight) + whole_cents(head.tax)
    if extra and not priced:
        raise Refused("Nothing was bought then: set freight and tax to 0 as well.")
    shares = shares_by_value(extra, list(priced.values())) if priced else []
    extras = dict(zip(priced, shares, strict=True))
    return {
        pk: {
            "count": one.count,
            "width_mm": one.width_mm,
            "height_mm": one.height_mm,
            "total": priced.get(pk, Decimal(0)) + extras.get(pk, Decimal(0)),
            "extras": extras.get(pk, Decimal(0)),
            "weight_g": one.weight_g if one.count else None,
        }
        for pk, one in ((pk, lines[pk]) for pk in rows)
    }


def _head(held: Purchase, head: RightHead, why: str, acting: User, done: Corrected) -> None:
    wanted = {name: getattr(head, name) for name in HEAD}
    before = {name: getattr(held, name) for name in HEAD if getattr(held, name) != wanted[name]}
    if not before:
        return
    PurchaseCorrection.objects.create(
        purchase=held,
        before=_text(before),
        after=_text({name: wanted[name] for name in before}),
        reason=why,
        actor=acting,
    )
    if "bought_on" in before or "seller" in before:
        for line in held.lines.select_related("metal"):
            follow_purchase(line, held, {}, wanted, acting=acting, reason=why)
    for name, value in wanted.items():
        setattr(held, name, value)
    held.save(update_fields=list(before))
    done.changed = True


def _line(
    held: Purchase,
    line: PurchaseLine,
    wanted: dict[str, Any],
    why: str,
    acting: User,
    done: Corrected,
) -> None:
    before = {name: getattr(line, name) for name in wanted if getattr(line, name) != wanted[name]}
    if not before:
        return
    pieces = LinePieces.of(line)
    plan = follow(pieces, line, wanted)
    old_price, new_price = line.price, wanted["total"] - wanted["extras"]
    told = {"price": old_price} if old_price != new_price else {}
    correction = PurchaseCorrection.objects.create(
        purchase=held,
        line=line,
        before=_text(before | told),
        after=_text({name: wanted[name] for name in before} | dict.fromkeys(told, new_price)),
        kept=plan.kept,
        reason=why,
        actor=acting,
    )
    follow_purchase(line, held, wanted, {}, acting=acting, reason=why)
    for name, value in wanted.items():
        setattr(line, name, value)
    line.save(update_fields=list(before))
    plan.carry_out(line, cause=subject_of(correction), acting=acting, reason=why)
    done.changed = True
    done.added += plan.added
    done.struck += plan.struck
    done.kept += plan.kept
    done.kept_cost += plan.kept_cost
    done.kept_size += plan.kept_size


def _text(values: Mapping[str, Any]) -> dict[str, str | None]:
    return {name: None if value is None else str(value) for name, value in values.items()}
