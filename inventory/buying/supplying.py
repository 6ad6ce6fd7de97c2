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
from django.utils import timezone

from classroom.models import User, record, subject_of
from classroom.refusals import Refused, a_reason
from inventory.models import Consumable, SupplyMovement

Kind = SupplyMovement.Kind
CORRECTS: Final = "supplymovement:"
"""How the cause of an entry begins that corrects another one."""
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


@transaction.atomic
def correct_entry(
    entry: SupplyMovement, number: Decimal, *, acting: User, reason: str
) -> SupplyMovement | None:
    """So many came, or were counted, and not what was written down: a new entry names the old.

    `number` is what it should have been. A count made after it stands: what is there by that
    count does not change, and a further entry says so. Returns None when nothing differs; raises
    Refused without a reason, and for what nobody typed.
    """
    if entry.kind == Kind.USE or entry.cause:
        raise Refused("Only what came and what was counted can be corrected.")
    if not 0 <= number <= MOST:
        raise Refused(f"Give a number from 0 to {MOST:,.0f}.")
    why = a_reason(reason)
    supply = entry.consumable
    _change(supply, Decimal(0))  # holds the row, so that two corrections stand in line
    before = number_of(entry)
    if number == before:
        return None
    cause = subject_of(entry)
    day = timezone.localtime(entry.at)
    words = f"corrects “{entry.get_kind_display()}” of {day.day} {day:%b %Y}, "
    why = f"{words}{before.normalize():f}: {why}"
    later = supply.movements.filter(pk__gt=entry.pk, kind=Kind.COUNT, cause="").exists()
    _change(supply, number - before)
    made = _enter(
        supply,
        entry.kind,
        number - before,
        acting,
        why,
        cause=cause,
        counted=number if entry.kind == Kind.COUNT else None,
    )
    if later:
        _change(supply, before - number)
        stands = "what was counted since stands"
        _enter(supply, Kind.COUNT, before - number, acting, stands, cause=cause)
    record(
        acting,
        "correct-supply",
        supply,
        f"{supply}: {entry.get_kind_display()} {number.normalize():f}, "
        f"before {before.normalize():f}",
        reason=reason,
    )
    return made


def number_of(entry: SupplyMovement) -> Decimal:
    """What the entry says by now: how many came, or how many were counted."""
    later = entry.consumable.movements.filter(cause=subject_of(entry), kind=entry.kind)
    if entry.kind == Kind.COUNT:
        last = later.filter(counted__isnull=False).order_by("-pk").first()
        return (entry if last is None else last).counted or Decimal(0)
    return sum(later.values_list("amount", flat=True), entry.amount)


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
    fixed: dict[str, tuple[Decimal, Decimal | None]] = {}
    entries: list[SupplyMovement] = []
    for row in supply.movements.order_by("pk"):
        if not row.cause.startswith(CORRECTS):
            entries.append(row)
        elif row.kind == Kind.RECEIVE or row.counted is not None:
            more, _ = fixed.get(row.cause, (Decimal(0), None))
            fixed[row.cause] = (more + row.amount, row.counted)
    rows = []
    for row in entries:
        more, counted = fixed.get(subject_of(row), (Decimal(0), None))
        rows.append(
            (row.kind, row.amount + more, row.counted if counted is None else counted, row.measure)
        )
    return learn(rows)


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
