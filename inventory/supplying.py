"""Blades, abrasive, adhesive, drills: how many there are, what used them, how long one lasts.

Every change is an entry; `on_hand` is their sum once something was counted or received. What
closed plans used is reckoned by the rate; a count puts it right, and between two counts it shows
how long one really lasts.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.db import transaction
from django.db.models import DecimalField, F, Value
from django.db.models.functions import Coalesce, Round

from classroom.models import User, record
from classroom.refusals import Refused

from .models import Consumable, SupplyMovement

Kind = SupplyMovement.Kind
PLACES: Final = Decimal("0.0001")
MOST: Final = Decimal(100_000)
_NOTHING = Value(Decimal(0), output_field=DecimalField(max_digits=11, decimal_places=4))


@transaction.atomic
def receive(supply: Consumable, number: Decimal, *, acting: User, reason: str) -> SupplyMovement:
    """So many came. Raises Refused for nothing, or without a reason."""
    if not 0 < number <= MOST:
        raise Refused("Say how many came: more than none.")
    _change(supply, number)
    return _enter(supply, Kind.RECEIVE, number, acting, reason)


@transaction.atomic
def count(supply: Consumable, number: Decimal, *, acting: User, reason: str) -> SupplyMovement:
    """So many are there: the entry makes up the difference to the records."""
    if not 0 <= number <= MOST:
        raise Refused("Say how many are there: none or more.")
    _change(supply, Decimal(0))  # holds the row, so that what it says now is the last word
    before = Consumable.objects.get(pk=supply.pk).on_hand or Decimal(0)
    _change(supply, number - before)
    return _enter(supply, Kind.COUNT, number - before, acting, reason, counted=number)


def use_up(
    supply: Consumable, measure: Decimal, *, acting: User, reason: str, cause: str
) -> SupplyMovement | None:
    """Work used up some, by the rate. Nothing is written for what nobody keeps count of."""
    units = (measure / supply.uses_per_unit).quantize(PLACES, ROUND_HALF_UP)
    if units <= 0 or not Consumable.objects.filter(pk=supply.pk, on_hand__isnull=False).exists():
        return None
    _change(supply, -units)
    return _enter(supply, Kind.USE, -units, acting, reason, cause=cause, measure=measure)


@dataclass(frozen=True, slots=True)
class Learned:
    """How long one lasts by the records: work done and units gone between counts.

    `counts` is the number of stretches between two counts, `plans` the closed plans in them.
    """

    measure: Decimal
    units: Decimal
    counts: int
    plans: int

    @property
    def lasts(self) -> Decimal:
        return (self.measure / self.units).quantize(Decimal("0.01"), ROUND_HALF_UP)


def learned(supply: Consumable) -> Learned | None:
    """What the entries teach; None while no stretch between two counts holds closed plans."""
    rows = supply.movements.order_by("pk").values_list("kind", "amount", "counted", "measure")
    return learn([(kind, amount, counted, measure) for kind, amount, counted, measure in rows])


def learn(
    rows: list[tuple[str, Decimal, Decimal | None, Decimal | None]],
) -> Learned | None:
    """From entries (kind, amount, counted, measure), oldest first. Pure.

    Between two counts, what is gone is what was there and came, less what is there now.
    """
    there: Decimal | None = None
    came = work = Decimal(0)
    plans = 0
    in_all, gone, stretches, all_plans = Decimal(0), Decimal(0), 0, 0
    for kind, amount, counted, measure in rows:
        if kind == Kind.RECEIVE:
            came += amount
        elif kind == Kind.USE:
            work += measure or Decimal(0)
            plans += 1
        elif counted is not None:
            if there is not None and work > 0 and there + came - counted > 0:
                in_all += work
                gone += there + came - counted
                stretches += 1
                all_plans += plans
            there, came, work, plans = counted, Decimal(0), Decimal(0), 0
    return Learned(in_all, gone, stretches, all_plans) if stretches else None


@transaction.atomic
def take_over(supply: Consumable, *, acting: User) -> Decimal:
    """Make what was learned the rate of new quotes. Raises Refused while nothing was."""
    found = learned(supply)
    if found is None or found.lasts <= 0:
        raise Refused("Nothing has been learned yet: count twice, with closed plans in between.")
    before = supply.uses_per_unit
    supply.uses_per_unit = found.lasts
    supply.save(update_fields=["uses_per_unit"])
    record(
        acting,
        "change-supply",
        supply,
        f"{supply}: one lasts {found.lasts}, before {before}, learned from "
        f"{found.counts} stretches between counts",
    )
    return found.lasts


def _change(supply: Consumable, by: Decimal) -> None:
    Consumable.objects.filter(pk=supply.pk).update(
        on_hand=Round(Coalesce(F("on_hand"), _NOTHING) + by, 4)
    )
    supply.refresh_from_db(fields=["on_hand"])


def _enter(
    supply: Consumable,
    kind: str,
    amount: Decimal,
    acting: User,
    reason: str,
    *,
    cause: str = "",
    counted: Decimal | None = None,
    measure: Decimal | None = None,
) -> SupplyMovement:
    why = " ".join(reason.split())[:200]
    if not why:
        raise Refused("Say why: every entry has a reason.")
    return SupplyMovement.objects.create(
        consumable=supply,
        kind=kind,
        amount=amount,
        counted=counted,
        measure=measure,
        actor=acting,
        reason=why,
        cause=cause,
    )
