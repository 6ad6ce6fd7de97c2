"""Does every cut plan's metal and money add up, from its entries alone? Reads only.

For each plan: its outlines bear out its figures (`studio/core/offcuts/proving.py`); what went out
of the rack equals pieces, offcuts, kerf and scrap; each stock piece's cost equals what the plan
used of it and what its offcuts took back; the settled quotes are what was charged; nothing stays
set aside or reserved for a plan that is over.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from django.db.models import Exists, OuterRef, Prefetch, QuerySet, Sum
from django.db.models.fields.json import KeyTransform

from classroom.models import School, subject_of
from inventory.models import BudgetEntry, ScrapEntry, StockMovement
from studio.core.cutting.groups import group_of
from studio.models import CutPlan, PlanProject, PlanStock, Quote

from .core.cutting import Placement
from .core.offcuts.proving import AREA_MM2, area_faults
from .core.offcuts.saw_cuts import saw_cuts_mm2

State = CutPlan.State
Move = StockMovement.Kind
CENT: Final = Decimal("0.01")
AREAS: Final = ("pieces", "offcuts", "kerf", "scrap")


@dataclass(slots=True)
class Booked:
    """Everything that entries say about one plan, as signed sums."""

    money: dict[str, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    cut: dict[str, tuple[float, Decimal]] = field(default_factory=dict)
    whole: set[str] = field(default_factory=set)
    offcuts: dict[str, list[tuple[float, Decimal]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    scrap_g: Decimal = Decimal(0)
    quotes: dict[str, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    metal: dict[str, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    held: dict[str, str] = field(default_factory=dict)
    left: Decimal = Decimal(0)
    """What projects were to cost that left a shared plan before they had their blank."""
    spoilt: Decimal = Decimal(0)
    """What blanks cost that were spoilt at parting."""

    @property
    def committed(self) -> Decimal:
        return self.money["commitment"] - self.money["release"]

    @property
    def charged(self) -> Decimal:
        return self.money["charge"] - self.money["credit"]


def audit_plans(school: School | None = None) -> Iterator[str]:
    """All differences of all cut plans, in words; the number of queries is fixed."""
    booked = _booked(school)
    added = CutPlan.objects.filter(state=State.CLOSED).order_by("issued_at", "pk")
    plans = (
        CutPlan.objects.select_related("metal_return")
        .prefetch_related(Prefetch("additions", added, to_attr="added"))
        .order_by("pk")
    )
    if school is not None:
        plans = plans.filter(course__school=school)
    for plan in plans.iterator(chunk_size=100):
        for fault in plan_faults(plan, booked):
            yield f"{plan}: {fault}"
    yield from _odd_quotes(school)


def plan_faults(plan: CutPlan, all_booked: Mapping[str, Booked]) -> Iterator[str]:
    """What this plan's state, return and quotes say otherwise than its entries.

    `plan` comes with `added`, the plans that were closed together with it.
    """
    booked = all_booked.get(subject_of(plan)) or Booked()
    expected_committed = booked.quotes["planned"] if plan.state == State.APPROVED else Decimal(0)
    if booked.committed != expected_committed:
        yield (f"{booked.committed:,.2f} is set aside for it, {expected_committed:,.2f} should be")
    # What an own plan is to cost was charged with the shared plan that it came out of.
    before = booked.quotes["planned"] if plan.parent_id is not None else Decimal(0)
    # Of blanks that nobody goes on with, what they were to cost was given back, and what was
    # spoilt of them is the course's.
    as_parted = booked.quotes["planned"] - booked.left + booked.spoilt
    expected_charged = {
        State.ISSUED: (as_parted if plan.is_parted else booked.quotes["planned"]) - before,
        State.CLOSED: booked.quotes["settled"] - before,
        State.PARTED: as_parted,
    }.get(State(plan.state), Decimal(0))
    if booked.charged != expected_charged:
        yield f"{booked.charged:,.2f} is charged for it, its quotes say {expected_charged:,.2f}"
    yield from _held_faults(plan, booked)
    if plan.is_parted and plan.state in (State.ISSUED, State.PARTED):
        yield from parting_faults(booked)
    if plan.laid is not None and not plan.to_lay_anew:  # else it is known not to hold
        yield from area_faults(plan.asked, plan.laid)
    back = getattr(plan, "metal_return", None)
    if plan.state == State.CLOSED:
        if back is None:
            if plan.adds_to_id is None:  # else it came back with the metal it was added to
                yield "it is closed without a return"
        else:
            added = plan.added  # type: ignore[attr-defined]
            whole = added[-1] if added else plan
            others = [all_booked.get(subject_of(one)) or Booked() for one in added]
            yield from return_faults(whole, back.balance, booked, others)
            if booked.scrap_g != back.scrap_mass_g and back.balance["stock"]:
                yield (
                    f"{back.scrap_mass_g:,.2f} g of scrap was weighed, "
                    f"the box's entries say {booked.scrap_g:,.2f} g"
                )
    elif back is not None:
        yield f"it has a return, but is “{plan.state}”"


def _held_faults(plan: CutPlan, booked: Booked) -> Iterator[str]:
    wanted = {State.APPROVED: "reserved", State.ISSUED: "issued"}.get(State(plan.state))
    if wanted is not None and plan.adds_to_id is not None:
        wanted = "issued"  # with the plan to whose metal it is added
    for code, state in sorted(booked.held.items()):
        if wanted is None:
            yield f"it is “{plan.state}”, yet {code} is still kept for it"
        elif state != wanted:
            yield f"{code} is “{state}”, while the plan is “{plan.state}”"
    if wanted is not None and not booked.held:
        yield f"it is “{plan.state}”, yet no stock piece is kept for it"


def return_faults(
    plan: CutPlan, balance: Mapping[str, Any], booked: Booked, others: Sequence[Booked] = ()
) -> Iterator[str]:
    """A closed plan's stored balance against its job, its movements and its quotes.

    `plan` is the one that lays all that was on the metal, `others` are the entries of the plans
    that were added to it.
    """
    made = pieces_made(plan, [*balance.get("given_up", ()), *balance.get("left_out", ())])
    used_in_all = Decimal(0)
    metal = sum((one.metal["settled"] for one in others), booked.metal["settled"])
    settled = sum((one.quotes["settled"] for one in others), booked.quotes["settled"])
    for row in balance["stock"]:
        code, area = row["code"], row["area_mm2"]
        used_in_all += Decimal(row["used_cost"])
        gone = sum(float(area[name]) for name in AREAS)
        if abs(area["out"] - gone) > AREA_MM2:
            yield (
                f"of {code} went out {area['out']:,.2f} mm², "
                f"pieces, offcuts, kerf and scrap are {gone:,.2f} mm²"
            )
        yield from (
            f"{code}: {name} of {area[name]:,.2f} mm²" for name in AREAS if area[name] < -AREA_MM2
        )
        done = made.get(code, [])
        laid = sum(plan.asked.wanted_by_id[placed.piece].outline.area for placed in done)
        if abs(area["pieces"] - laid) > AREA_MM2:
            yield (
                f"of {code} pieces are {area['pieces']:,.2f} mm², "
                f"the plan laid {laid:,.2f} mm² on it"
            )
        if done:
            sawn = saw_cuts_mm2(plan.asked, plan.asked.stock_by_id[code], done)
            if abs(area["kerf"] - sawn) > AREA_MM2:
                yield (
                    f"of {code} saw cuts are {area['kerf']:,.2f} mm², "
                    f"around its pieces they are {sawn:,.2f} mm²"
                )
        yield from _stock_faults(row, booked)
    for name, value in (
        ("the metal of its return", Decimal(balance["money"]["metal"])),
        ("the metal in its settled quotes", metal),
    ):
        if value != used_in_all:
            yield f"{name} is {value:,.2f}, its stock pieces were used for {used_in_all:,.2f}"
    if Decimal(balance["money"]["settled"]) != settled:
        yield (
            f"its return says {balance['money']['settled']} in all, "
            f"its settled quotes say {settled:,.2f}"
        )


def _stock_faults(row: Mapping[str, Any], booked: Booked) -> Iterator[str]:
    """One stock piece of a return against its own and its offcuts' movements."""
    code, used = row["code"], Decimal(row["used_cost"])
    if code in booked.whole:
        if used:
            yield f"{code} came back uncut, yet {used:,.2f} of it was used"
        return
    if code not in booked.cut:
        yield f"{code} was neither cut up nor brought back"
        return
    area, cost = booked.cut[code]
    if abs(area - row["area_mm2"]["out"]) > AREA_MM2:
        yield f"{row['area_mm2']['out']:,.2f} mm² of {code} went out, its movement says {area:,.2f}"
    back = booked.offcuts.get(code, [])
    came_back, worth = sum(one[0] for one in back), sum((one[1] for one in back), Decimal(0))
    if abs(came_back - row["area_mm2"]["offcuts"]) > AREA_MM2:
        yield (
            f"offcuts of {code} are {row['area_mm2']['offcuts']:,.2f} mm², "
            f"their movements say {came_back:,.2f} mm²"
        )
    if cost != used + worth:
        yield (
            f"{code} cost {cost:,.2f}; {used:,.2f} was used and its offcuts took back {worth:,.2f}"
        )


def parting_faults(booked: Booked) -> Iterator[str]:
    """Each stock piece that was parted: its blanks, its leftovers and what the cuts took are all
    of it, and cost all that it cost."""
    for code, (area, cost) in sorted(booked.cut.items()):
        came = booked.offcuts.get(code, [])
        together, worth = sum(one[0] for one in came), sum((one[1] for one in came), Decimal(0))
        if together > area + AREA_MM2:
            yield f"{code} was {area:,.2f} mm², its parts are {together:,.2f} mm²"
        if worth != cost:
            yield f"{code} cost {cost:,.2f}, its parts cost {worth:,.2f}"


def pieces_made(plan: CutPlan, given_up: Sequence[int]) -> dict[str, list[Placement]]:
    """The pieces that were made, as they lay, by stock piece."""
    if plan.laid is None:
        return {}
    out = {group_of(pk) for pk in given_up}
    found: dict[str, list[Placement]] = defaultdict(list)
    for placed in plan.laid.placements:
        wanted = plan.asked.wanted_by_id[placed.piece]
        if (wanted.group or wanted.id) not in out:
            found[placed.metal].append(placed)
    return found


def _booked(school: School | None) -> dict[str, Booked]:
    """Sums of all entries by the plan that caused them."""
    found: dict[str, Booked] = defaultdict(Booked)
    entries = BudgetEntry.objects.filter(cause__startswith="cutplan:").order_by()
    moves = StockMovement.objects.filter(cause__startswith="cutplan:").order_by("pk")
    scrap = ScrapEntry.objects.filter(cause__startswith="cutplan:").order_by()
    quotes = Quote.objects.order_by()
    held = PlanStock.objects.filter(live=True)
    if school is not None:
        entries = entries.filter(budget__course__school=school)
        moves = moves.filter(stock_piece__school=school)
        scrap = scrap.filter(school=school)
        quotes = quotes.filter(plan__course__school=school)
        held = held.filter(plan__course__school=school)
    for cause, kind, total in entries.values_list("cause", "kind").annotate(total=Sum("amount")):
        found[cause].money[kind] += _cents(total)
    wanted = ("cause", "kind", "stock_piece__code", "stock_piece__parent__code", "area_mm2", "cost")
    for cause, kind, code, parent, area, cost in moves.values_list(*wanted):
        if kind == Move.CUT:
            found[cause].cut[code] = (-float(area), -cost)
        elif kind == Move.RETURN:
            found[cause].whole.add(code)
        elif kind == Move.RECEIVE and parent:
            found[cause].offcuts[parent].append((float(area), cost))
        elif kind == Move.SCRAP:
            found[cause].spoilt -= cost
    for cause, mass in scrap.values_list("cause").annotate(total=Sum("mass_g")):
        found[cause].scrap_g += _cents(mass)
    sums = quotes.values_list("plan_id", "kind").annotate(all=Sum("total"), own=Sum("metal_total"))
    for pk, kind, total, metal in sums:
        found[f"cutplan:{pk}"].quotes[kind] += _cents(total)
        found[f"cutplan:{pk}"].metal[kind] += _cents(metal)
    for pk, kind, share in _course_shares(quotes):
        found[f"cutplan:{pk}"].quotes[kind] += share
        found[f"cutplan:{pk}"].metal[kind] += share
    for pk, price in _left_before_parting(quotes):
        found[f"cutplan:{pk}"].left += price
    for pk, code, state in held.values_list("plan_id", "stock_piece__code", "stock_piece__state"):
        found[f"cutplan:{pk}"].held[code] = state
    return found


def _course_shares(quotes: QuerySet[Quote]) -> Iterator[tuple[int, str, Decimal]]:
    """What the course bears of each plan, by kind of quote. Quotes of own blanks have shares of
    their own; else every quote carries that of the whole plan, which counts once."""
    terms = quotes.filter(rates__has_key="course_share").values_list(
        "plan_id", "kind", "rates__course_share", KeyTransform("own_blank", "rates")
    )
    whole: dict[tuple[int, str], Decimal] = {}
    for pk, kind, share, own in terms:
        before = whole.get((pk, kind), Decimal(0)) if own else Decimal(0)
        whole[pk, kind] = before + _cents(share)
    for (pk, kind), share in whole.items():
        yield pk, kind, share


def _left_before_parting(quotes: QuerySet[Quote]) -> Iterator[tuple[int, Decimal]]:
    """The prices, with the course's share, of projects that left a shared plan of blanks and did
    not go on alone."""
    at_work = PlanProject.objects.filter(plan=OuterRef("plan"), project=OuterRef("project"))
    went_on = PlanProject.objects.filter(plan__parent=OuterRef("plan"), project=OuterRef("project"))
    left = quotes.filter(
        ~Exists(at_work.filter(live=True)),
        ~Exists(went_on),
        kind=Quote.Kind.PLANNED,
        plan__way__in=[CutPlan.Way.PARTED, CutPlan.Way.SAWN],
        plan__state__in=[State.ISSUED, State.PARTED],
    )
    for pk, total, share in left.values_list("plan_id", "total", "rates__course_share"):
        yield pk, total + _cents(share or 0)


def _odd_quotes(school: School | None) -> Iterator[str]:
    """Quotes whose lines are not their total."""
    quotes = Quote.objects.order_by("pk").annotate(lines_total=Sum("lines__amount"))
    if school is not None:
        quotes = quotes.filter(plan__course__school=school)
    for pk, plan, total, lines in quotes.values_list("pk", "plan_id", "total", "lines_total"):
        if _cents(lines or 0) != total:
            yield (
                f"cut plan {plan}, quote {pk}: its total is {total:,.2f}, "
                f"its lines say {_cents(lines or 0):,.2f}"
            )


def _cents(value: object) -> Decimal:
    # SQLite adds decimals as floats; every entry has two places, so has their sum.
    return Decimal(str(value)).quantize(CENT)
