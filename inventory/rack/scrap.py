"""How much metal lies in each alloy's scrap box? Weighed in, taken out, corrected by new rows."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Final

from django.db import transaction
from django.db.models import Count, Max, QuerySet, Sum

from classroom.models import School, User, record, subject_of
from classroom.refusals import Refused, a_reason
from inventory import metals
from inventory.models import Budget, ScrapEntry, ScrapSale, StockMovement
from inventory.spending.ledger import take_back, take_in
from inventory.spending.money import whole_cents

MOST_MASS_G: Final = Decimal(500_000)
HUNDREDTH: Final = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class ScrapBox:
    """One alloy's box: grams now in it, and when something last changed."""

    alloy: metals.Alloy
    mass_g: Decimal
    entries: int
    changed_at: object


@transaction.atomic
def weigh_scrap(
    school: School,
    alloy_code: str,
    mass_g: Decimal,
    *,
    acting: User,
    reason: str,
    cause: str = "",
) -> ScrapEntry | None:
    """Put weighed scrap into its alloy's box. Nothing weighed (0 g) writes nothing."""
    mass = _grams(mass_g)
    if mass < 0:
        raise Refused("A weight cannot be negative: take metal out of the box instead.")
    if mass == 0:
        return None
    return _enter(school, alloy_code, mass, acting, reason, cause)


@transaction.atomic
def correct_unweighed(
    school: School,
    alloy_code: str,
    difference_g: Decimal,
    *,
    acting: User,
    reason: str,
    corrects: str,
) -> ScrapEntry:
    """Make up for a weight that left no weighing, because it was 0 g.

    `corrects` names what said so, such as "return:7". Raises Refused when the box holds less
    than has to go.
    """
    difference = _grams(difference_g)
    if difference < 0:
        _hold_enough(school, alloy_code, -difference)
    return _enter(school, alloy_code, difference, acting, reason, corrects)


@transaction.atomic
def take_from_box(
    school: School, alloy_code: str, mass_g: Decimal, *, acting: User, reason: str
) -> ScrapEntry:
    """Metal leaves the box (sold for recycling, melted, weighed too high): a negative row.

    Raises Refused when the box holds less.
    """
    mass = _grams(mass_g)
    if mass <= 0:
        raise Refused("Give the weight that leaves the box, in grams above 0.")
    _hold_enough(school, alloy_code, mass)
    return _enter(school, alloy_code, -mass, acting, reason, "")


@transaction.atomic
def sell_scrap(
    school: School,
    alloy_code: str,
    mass_g: Decimal,
    amount: Decimal,
    *,
    acting: User,
    budget: Budget | None,
    sold_on: dt.date,
    buyer: str = "",
) -> ScrapSale:
    """Sell scrap out of its box; what it brings goes into the budget chosen.

    One transaction: box, money and sale, or nothing. Raises Refused when the box holds less, or
    money has no budget to go to.
    """
    mass, value = _grams(mass_g), whole_cents(amount)
    if mass <= 0:
        raise Refused("Give the weight that was sold, in grams above 0.")
    if value and budget is None:
        raise Refused("Choose the budget that the money goes to.")
    if budget is not None and budget.course.school_id != school.pk:
        raise Refused("That budget is not this school's.")
    _hold_enough(school, alloy_code, mass)
    sale = ScrapSale.objects.create(
        school=school,
        alloy_code=alloy_code,
        mass_g=mass,
        amount=value,
        budget=budget if value else None,
        buyer=buyer,
        sold_on=sold_on,
        actor=acting,
    )
    cause = subject_of(sale)
    to = f" to {buyer}" if buyer else ""
    _enter(school, alloy_code, -mass, acting, f"sold{to}", cause)
    if value and budget is not None:
        name = metals.alloy(alloy_code).plain_name
        take_in(budget, value, acting=acting, reason=f"{mass} g of {name} scrap sold", cause=cause)
    return sale


@transaction.atomic
def correct_sale(
    sale: ScrapSale,
    mass_g: Decimal,
    amount: Decimal,
    *,
    acting: User,
    reason: str,
    budget: Budget | None,
    sold_on: dt.date,
    buyer: str = "",
) -> ScrapSale | None:
    """A sale was written down wrong: a sale of its own names it and takes its place.

    Box and budget take the old one back and book the new one; 0 g says that nothing was sold.
    Returns None when nothing differs. Raises Refused without a reason, when the box does not
    hold so much, or the old budget no longer has what it would have to give back.
    """
    mass, value, why = _grams(mass_g), whole_cents(amount), a_reason(reason, most=200)
    if mass < 0 or (value and not mass):
        raise Refused("Give the weight that was sold in grams, and no money where it was nothing.")
    if value and budget is None:
        raise Refused("Choose the budget that the money goes to.")
    if budget is not None and budget.course.school_id != sale.school_id:
        raise Refused("That budget is not this school's.")
    home = budget if value else None
    right = {"mass_g": mass, "amount": value, "sold_on": sold_on, "buyer": buyer, "budget": home}
    if all(getattr(sale, name) == said for name, said in right.items()):
        return None
    School.objects.select_for_update(no_key=True).get(pk=sale.school_id)
    if sale.corrected_by() is not None:
        raise Refused("That sale was corrected already. Load the page again, and correct that.")
    made = ScrapSale.objects.create(
        school_id=sale.school_id,
        alloy_code=sale.alloy_code,
        actor=acting,
        corrects=sale,
        reason=why,
        **right,
    )
    _take_sale_back(sale, acting, why)
    _hold_enough(sale.school, sale.alloy_code, mass)
    cause, name = subject_of(made), metals.alloy(sale.alloy_code).plain_name
    if mass:
        to = f" to {buyer}" if buyer else ""
        _enter(sale.school, sale.alloy_code, -mass, acting, f"sold{to}", cause)
    # The new money first, so that a budget which keeps it can give the old back.
    if home is not None:
        take_in(home, value, acting=acting, reason=f"{mass} g of {name} scrap sold", cause=cause)
    if sale.budget is not None and sale.amount:
        said, before = f"sale of scrap corrected: {why}", subject_of(sale)
        take_back(sale.budget, sale.amount, acting=acting, reason=said, cause=before)
    record(acting, "correct-sale", made, f"corrected the {sale}: {mass} g for {value}", reason=why)
    return made


def _take_sale_back(sale: ScrapSale, acting: User, why: str) -> None:
    """The box gets back what the sale took out, and what was made up for it at the box."""
    for entry in ScrapEntry.objects.filter(cause=subject_of(sale)):
        made_up = weight_of(entry) - entry.mass_g
        for mass, cause in ((-entry.mass_g, subject_of(sale)), (-made_up, subject_of(entry))):
            if mass:
                said = f"sale corrected: {why}"
                _enter(sale.school, sale.alloy_code, mass, acting, said, cause)


def _hold_enough(school: School, alloy_code: str, mass: Decimal) -> None:
    # The school's row is the box's lock: two people cannot both take the last of it. Not its key,
    # so that rows which name the school are written meanwhile and nobody waits in a ring.
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    held = box_mass(school, alloy_code)
    if mass > held:
        raise Refused(f"The box holds {held:,.2f} g: no more than that can leave it.")


@transaction.atomic
def correct_weighing(
    entry: ScrapEntry, mass_g: Decimal, *, acting: User, reason: str
) -> ScrapEntry | None:
    """A weighing was misread: a new row makes up the difference and names the old one.

    `mass_g` is what the scales should have said, corrections made earlier included. Returns
    None when nothing differs; raises Refused when the box does not hold what would have to go.
    """
    mass = _grams(mass_g)
    if mass < 0:
        raise Refused("A weight cannot be negative.")
    School.objects.select_for_update(no_key=True).get(pk=entry.school_id)
    difference = (mass - weight_of(entry)) if entry.mass_g > 0 else -(mass + weight_of(entry))
    if difference == 0:
        return None
    held = box_mass(entry.school, entry.alloy_code)
    if held + difference < 0:
        raise Refused(f"The box holds {held:,.2f} g: no more than that can leave it.")
    why = f"corrects weighing {entry.pk}, {entry.mass_g} g: {reason}"
    return _enter(entry.school, entry.alloy_code, difference, acting, why, subject_of(entry))


def corrections_of(causes: Iterable[str]) -> dict[str, Decimal]:
    """By how much the weighings that each cause ("cutplan:12") made were corrected since.

    Two queries, however many causes; what was never corrected is left out.
    """
    made = dict(ScrapEntry.objects.filter(cause__in=list(causes)).values_list("pk", "cause"))
    named = {f"{ScrapEntry._meta.model_name}:{pk}": cause for pk, cause in made.items()}
    found: dict[str, Decimal] = {}
    for name, mass in ScrapEntry.objects.filter(cause__in=list(named)).values_list(
        "cause", "mass_g"
    ):
        found[named[name]] = found.get(named[name], Decimal(0)) + mass
    return found


def weight_of(entry: ScrapEntry) -> Decimal:
    """What the weighing counts for, with the corrections that name it."""
    later = ScrapEntry.objects.filter(school_id=entry.school_id, cause=subject_of(entry))
    return entry.mass_g + _sum(later.aggregate(total=Sum("mass_g"))["total"])


def box_mass(school: School, alloy_code: str) -> Decimal:
    """Grams in the alloy's box."""
    rows = ScrapEntry.objects.filter(school=school, alloy_code=alloy_code)
    return _sum(rows.aggregate(total=Sum("mass_g"))["total"])


def last_sale_per_g(
    school: School, alloy_code: str, besides: ScrapSale | None = None
) -> Decimal | None:
    """What a gram of the alloy brought when it was last sold for money, `besides` one sale."""
    rows = ScrapSale.objects.in_force().filter(
        school=school, alloy_code=alloy_code, mass_g__gt=0, amount__gt=0
    )
    if besides is not None:
        rows = rows.exclude(pk=besides.pk)
    last = rows.order_by("-sold_on", "-pk").first()
    return None if last is None else last.amount / last.mass_g


def came_mass(school: School, alloy_code: str) -> float:
    """Grams of the alloy that ever came to the school by its records, offcuts of it not again."""
    rows = StockMovement.objects.filter(
        kind=StockMovement.Kind.RECEIVE,
        stock_piece__school=school,
        stock_piece__metal__alloy_code=alloy_code,
        stock_piece__parent=None,
    )
    return _mass(rows, alloy_code)


def most_scrap(entry: ScrapEntry) -> float | None:
    """Grams that the plan of this weighing cut up and did not bring back; None without a plan."""
    if not entry.cause.startswith("cutplan:"):
        return None
    kinds = (StockMovement.Kind.CUT, StockMovement.Kind.RECEIVE)
    rows = StockMovement.objects.filter(cause=entry.cause, kind__in=kinds)
    return -_mass(rows, entry.alloy_code)


def _mass(rows: QuerySet[StockMovement], alloy_code: str) -> float:
    density = metals.alloy(alloy_code).density_g_cm3
    sums = (
        rows.order_by()
        .values_list("stock_piece__metal__thickness_mm")
        .annotate(area=Sum("area_mm2"))
    )
    # What left weighs as much below nothing.
    return sum(
        math.copysign(metals.mass_g(abs(float(area)), float(mm), density), float(area))
        for mm, area in sums
    )


def scrap_boxes(school: School) -> list[ScrapBox]:
    """Every alloy's box that has ever held something, in the order of the table of alloys."""
    rows = (
        ScrapEntry.objects.filter(school=school)
        .order_by()
        .values("alloy_code")
        .annotate(total=Sum("mass_g"), entries=Count("pk"), changed_at=Max("at"))
    )
    found = {row["alloy_code"]: row for row in rows}
    return [
        ScrapBox(metals.alloy(code), _sum(row["total"]), int(row["entries"]), row["changed_at"])
        for code in metals.ALLOY_CODES
        if (row := found.get(code)) is not None
    ]


def _enter(
    school: School, alloy_code: str, mass: Decimal, acting: User, reason: str, cause: str
) -> ScrapEntry:
    why = " ".join(reason.split())[:200]
    if not why:
        raise Refused("Say why: every weighing has a reason.")
    if alloy_code not in metals.ALLOY_CODES:
        raise Refused("That alloy is not in the table.")
    entry = ScrapEntry.objects.create(
        school=school, alloy_code=alloy_code, mass_g=mass, actor=acting, reason=why, cause=cause
    )
    verb = "weigh-scrap" if mass > 0 else "take-scrap"
    record(acting, verb, entry, f"{mass} g of {metals.alloy(alloy_code).plain_name}: {why}")
    return entry


def _grams(mass_g: Decimal) -> Decimal:
    value = Decimal(mass_g)
    if not value.is_finite() or abs(value) > MOST_MASS_G:
        raise Refused(f"Give the weight in grams, at most {MOST_MASS_G:,.0f}.")
    try:
        return value.quantize(HUNDREDTH)
    except InvalidOperation:
        raise Refused("Give the weight in grams, such as 12.5.") from None


def _sum(total: object) -> Decimal:
    # SQLite adds decimals as floats; every entry has two places, so has their sum.
    return Decimal(0) if total is None else Decimal(str(total)).quantize(HUNDREDTH)
