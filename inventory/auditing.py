"""Do rack, scrap boxes, supplies and budgets stand as their entries say? Proved from the rows.

Reads only, everything of the installation or of one school, in a fixed number of queries.
Answers with sentences: each names the thing, what it says, and what its entries say.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db.models import Q, Sum

from classroom.models import School, subject_of

from . import metals
from .models import (
    Budget,
    BudgetEntry,
    BudgetTransfer,
    Consumable,
    LabelSeries,
    PurchaseCorrection,
    PurchaseLine,
    ScrapEntry,
    ScrapSale,
    StockMovement,
    StockPiece,
)
from .rack.labels import label_prefix
from .rack.outlines import area_of, size_of
from .spending.money import CENT
from .spending.sums import budget_faults

Kind = StockMovement.Kind
State = StockPiece.State
BY_CORRECTION: Final = "purchasecorrection:"
"""How the cause of a movement begins that a correction of a purchase made."""
AREA_MM2: Final = Decimal(1)
"""Areas agree when they differ by no more than this."""

# A movement's kind: the states it may start from ("" before the first), and the one it ends in.
# A correction leaves the state as it is.
MOVES: Final[dict[str, tuple[tuple[str, ...], str]]] = {
    Kind.RECEIVE: (("",), State.RACK),
    Kind.RESERVE: ((State.RACK,), State.RESERVED),
    Kind.RELEASE: ((State.RESERVED,), State.RACK),
    # From the rack: a blank comes out of metal that is at the bench, and stays there.
    Kind.ISSUE: ((State.RESERVED, State.RACK), State.ISSUED),
    Kind.RETURN: ((State.ISSUED,), State.RACK),
    Kind.CUT: ((State.ISSUED,), State.GONE),
    Kind.SCRAP: ((State.RACK, State.ISSUED), State.GONE),
    Kind.STRIKE: ((State.RACK,), State.GONE),
    Kind.MISSING: ((State.RACK,), State.GONE),
    Kind.FOUND: ((State.GONE,), State.RACK),
}


@dataclass(frozen=True, slots=True)
class Moved:
    """One movement, as far as the books count it."""

    kind: str
    area_mm2: Decimal
    cost: Decimal


@dataclass(slots=True)
class Replayed:
    """What the movements of one stock piece say about it."""

    state: str = ""
    area_mm2: Decimal = Decimal(0)
    cost: Decimal = Decimal(0)


def replay(moves: Iterable[Moved]) -> tuple[Replayed, list[str]]:
    """Where a piece's movements, oldest first, lead; and those that cannot have happened."""
    now, faults = Replayed(), []
    for one in moves:
        if one.kind != Kind.CORRECT:
            starts, ends = MOVES[one.kind]
            if now.state not in starts:
                faults.append(
                    f"its movement “{one.kind}” cannot follow the state “{now.state or 'none'}”"
                )
            now.state = ends
        now.area_mm2 += one.area_mm2
        now.cost += one.cost
    return now, faults


def audit_rack(school: School | None = None) -> Iterator[str]:
    """Every stock piece: state, area and cost against its movements, its box, its label."""
    moves: dict[int, list[Moved]] = defaultdict(list)
    rows = StockMovement.objects.order_by("pk")
    pieces = StockPiece.objects.select_related("metal").order_by("code", "pk")
    if school is not None:
        rows = rows.filter(stock_piece__school=school)
        pieces = pieces.filter(school=school)
    # In the order in which they were written: two rows may carry the same moment.
    for pk, kind, area, cost in rows.values_list("stock_piece_id", "kind", "area_mm2", "cost"):
        moves[pk].append(Moved(kind, area, cost))
    for piece in pieces.iterator(chunk_size=500):
        for fault in piece_faults(piece, moves.get(piece.pk, [])):
            yield f"stock piece {piece.code}: {fault}"


def piece_faults(piece: StockPiece, moves: Iterable[Moved]) -> list[str]:
    """What a piece's row says otherwise than its movements and its own outline."""
    said, faults = replay(moves)
    if said.state != piece.state:
        faults.append(
            f"it is “{piece.state}”, its movements say “{said.state or 'never received'}”"
        )
    gone = said.state in ("", State.GONE)
    for what, unit, has, entries, slack in (
        ("area", "mm²", piece.area_mm2, said.area_mm2, AREA_MM2),
        ("cost", "", piece.cost, said.cost, Decimal(0)),
    ):
        counted = Decimal(0) if gone else has
        if abs(counted - entries) > slack:
            faults.append(
                f"its {what} counts {counted:,.2f} {unit}".rstrip()
                + f", its movements say {entries:,.2f} {unit}".rstrip()
            )
    outline = piece.polygon
    if abs(area_of(outline) - piece.area_mm2) > AREA_MM2:
        faults.append(
            f"its area is {piece.area_mm2:,.2f} mm², its outline encloses {area_of(outline):,.2f}"
        )
    if size_of(outline) != (piece.width_mm, piece.height_mm):
        faults.append("its width and height are not those of its outline")
    return faults


def audit_labels(school: School | None = None) -> Iterator[str]:
    """No label beyond the last number given: else two pieces would get the same one."""
    last = {
        (row.school_id, row.prefix): row.last
        for row in LabelSeries.objects.all()
        if school is None or row.school_id == school.pk
    }
    pieces = StockPiece.objects.select_related("metal")
    if school is not None:
        pieces = pieces.filter(school=school)
    for piece in pieces.iterator(chunk_size=500):
        found = re.fullmatch(r"(.+)-(\d+)", piece.code)
        if found is None:
            continue
        series = piece.school_id, found.group(1)  # the label's own: others were in use before
        if series not in last and found.group(1) != label_prefix(piece.metal):
            continue
        given = last.get(series, 0)
        if int(found.group(2)) > given:
            yield f"label {piece.code}: the series has only given {given} numbers"


def audit_purchases(school: School | None = None) -> Iterator[str]:
    """The sheets of every line cost what the line cost: as received and as corrected since.

    Of a corrected line, sheets that were struck off with it do not count, and what sheets in use
    could not take of a new cost stands with the correction.
    """
    lines = PurchaseLine.objects.select_related("purchase")
    moves = StockMovement.objects.filter(stock_piece__purchase_line__gt=0).filter(
        Q(kind=Kind.RECEIVE) | Q(cause__startswith=BY_CORRECTION)
    )
    corrections = PurchaseCorrection.objects.filter(line__isnull=False)
    if school is not None:
        lines = lines.filter(purchase__school=school)
        moves = moves.filter(stock_piece__school=school)
        corrections = corrections.filter(purchase__school=school)
    sheets: dict[int, dict[int, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    struck: set[int] = set()
    wanted = ("stock_piece__purchase_line_id", "stock_piece_id", "kind", "cost")
    for line_pk, pk, kind, cost in moves.values_list(*wanted):
        if kind == Kind.STRIKE:
            struck.add(pk)
        else:
            sheets[line_pk][pk] += cost
    kept: dict[int, Decimal] = defaultdict(Decimal)
    for pk, amount in corrections.values_list("line_id", "kept"):
        kept[pk] += amount
    for line in lines:
        costs = [cost for pk, cost in sheets[line.pk].items() if pk not in struck]
        spent = sum(costs, kept[line.pk])
        if len(costs) != line.count or spent != line.total:
            yield (
                f"{line.purchase}, line {line.pk}: {line.count} sheets for {line.total:,.2f}, "
                f"received {len(costs)} that cost {spent:,.2f}"
            )


def audit_scrap(school: School | None = None) -> Iterator[str]:
    """No box was ever emptier than empty."""
    rows = ScrapEntry.objects.order_by("pk")
    if school is not None:
        rows = rows.filter(school=school)
    held: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    for pk, home, alloy, mass in rows.values_list("pk", "school_id", "alloy_code", "mass_g"):
        held[home, alloy] += mass
        if held[home, alloy] < 0:
            yield (
                f"scrap box of {metals.alloy(alloy).plain_name}: after entry {pk} it holds "
                f"{held[home, alloy]:,.2f} g"
            )


def audit_budgets(school: School | None = None) -> Iterator[str]:
    """Every budget's running totals against its entries."""
    budgets = Budget.objects.select_related("course").order_by("pk")
    entries = BudgetEntry.objects.order_by()
    if school is not None:
        budgets = budgets.filter(course__school=school)
        entries = entries.filter(budget__course__school=school)
    sums: dict[int, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for pk, kind, total in entries.values_list("budget_id", "kind").annotate(total=Sum("amount")):
        sums[pk][kind] = Decimal(str(total)).quantize(CENT)
    for budget in budgets:
        for fault in budget_faults(budget, sums[budget.pk]):
            yield f"{budget}: {fault}"


def audit_sales_and_transfers(school: School | None = None) -> Iterator[str]:
    """A sale leaves its box and comes into its budget; a transfer leaves one and comes into one."""
    sales, transfers = ScrapSale.objects.order_by("pk"), BudgetTransfer.objects.order_by("pk")
    if school is not None:
        sales = sales.filter(school=school)
        transfers = transfers.filter(source__course__school=school)
    booked: dict[tuple[str, int], Decimal] = defaultdict(Decimal)
    allotted = BudgetEntry.objects.filter(kind=BudgetEntry.Kind.ALLOTMENT).exclude(cause="")
    for cause, budget, amount in allotted.values_list("cause", "budget_id", "amount"):
        booked[cause, budget] += amount
    weighed: dict[str, Decimal] = defaultdict(Decimal)
    for cause, mass in ScrapEntry.objects.filter(cause__startswith="scrapsale:").values_list(
        "cause", "mass_g"
    ):
        weighed[cause] += mass
    corrected = set(sales.exclude(corrects=None).values_list("corrects_id", flat=True))
    for sale in sales:
        cause = subject_of(sale)
        # What a correction takes the place of was taken back out of box and budget.
        counts = Decimal(0 if sale.pk in corrected else 1)
        if weighed[cause] != -sale.mass_g * counts:
            yield f"{sale}: its box's entries say {-weighed[cause]:,.2f} g"
        if booked[cause, sale.budget_id or 0] != sale.amount * counts:
            yield (
                f"{sale}: it brought {sale.amount:,.2f}, "
                f"its budget's entries say {booked[cause, sale.budget_id or 0]:,.2f}"
            )
    for one in transfers:
        cause = subject_of(one)
        sides = (booked[cause, one.source_id], booked[cause, one.target_id])
        if sides != (-one.amount, one.amount):
            yield (
                f"transfer {one.pk} of {one.amount:,.2f}: its entries say {sides[0]:,.2f} "
                f"and {sides[1]:,.2f}"
            )


def audit_supplies(school: School | None = None) -> Iterator[str]:
    """How many there are of each supply that was ever counted or received."""
    rows = Consumable.objects.annotate(entries=Sum("movements__amount")).order_by("pk")
    if school is not None:
        rows = rows.filter(school=school)
    for one in rows:
        entries = Decimal(str(one.entries or 0)).quantize(Decimal("0.0001"))
        if (one.on_hand or Decimal(0)) != entries:
            yield f"{one}: there are {one.on_hand}, its entries say {entries}"


def audit(school: School | None = None) -> Iterator[str]:
    """All differences of the inventory, in words; none when everything adds up."""
    yield from audit_rack(school)
    yield from audit_labels(school)
    yield from audit_purchases(school)
    yield from audit_scrap(school)
    yield from audit_budgets(school)
    yield from audit_supplies(school)
    yield from audit_sales_and_transfers(school)
