"""What becomes of a purchase line's stock pieces when the line is corrected?

`LinePieces` says what the line gave to each of its pieces so far, from their movements alone;
`follow` decides, without changing anything, what each piece may take of the correction; and
`Follow.carry_out` does it, by movements that name the correction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Self

from django.db.models import Sum
from shapely.geometry import Polygon

from classroom.models import User
from classroom.refusals import Refused
from inventory.auditing import BY_CORRECTION
from inventory.models import PurchaseCorrection, PurchaseLine, StockMovement, StockPiece
from inventory.rack.edges import ALL_CLEAN, carried_over, edges_from
from inventory.rack.labels import take_labels
from inventory.rack.outlines import outline_fields, rectangle
from inventory.rack.stock import move, note
from inventory.spending.money import CENT, even_shares

Kind = StockMovement.Kind
State = StockPiece.State


@dataclass(slots=True)
class LinePieces:
    """The pieces of a line that count, oldest first, held; what the line gave to each of them.

    `kept_before` is what earlier corrections could not give to pieces in use.
    """

    pieces: list[StockPiece]
    given: dict[int, Decimal]
    kept_before: Decimal

    @classmethod
    def of(cls, line: PurchaseLine) -> Self:
        rows = StockPiece.objects.select_for_update(no_key=True, of=("self",))
        held = list(rows.filter(purchase_line=line).select_related("metal").order_by("pk"))
        moves = StockMovement.objects.filter(stock_piece__purchase_line=line)
        struck = set(
            moves.filter(kind=Kind.STRIKE, cause__startswith=BY_CORRECTION).values_list(
                "stock_piece_id", flat=True
            )
        )
        given: dict[int, Decimal] = {}
        for pk, kind, cause, cost in moves.values_list("stock_piece_id", "kind", "cause", "cost"):
            if kind == Kind.RECEIVE or (kind == Kind.CORRECT and cause.startswith(BY_CORRECTION)):
                given[pk] = given.get(pk, Decimal(0)) + cost
        kept = PurchaseCorrection.objects.filter(line=line).aggregate(kept=Sum("kept"))["kept"]
        return cls(
            [piece for piece in held if piece.pk not in struck],
            given,
            Decimal(str(kept or 0)).quantize(CENT),
        )


@dataclass(slots=True)
class Follow:
    """What the pieces will take of a correction, and what they cannot."""

    struck: list[StockPiece]
    costs: list[tuple[StockPiece, Decimal]]
    sized: list[StockPiece]
    new_costs: list[Decimal]
    kept: Decimal
    kept_cost: list[StockPiece]
    kept_size: list[StockPiece]
    added: list[StockPiece] = field(default_factory=list)

    def carry_out(self, line: PurchaseLine, *, cause: str, acting: User, reason: str) -> None:
        """Change the pieces; `line` says already what is right."""
        why = f"purchase corrected: {reason}"
        if self.struck:
            move(self.struck, (State.RACK,), State.GONE, Kind.STRIKE, acting, why, cause)
        outline = rectangle(line.width_mm, line.height_mm)
        shape = outline_fields(outline)
        by_cost = {piece.pk: cost for piece, cost in self.costs}
        resized = {piece.pk for piece in self.sized}
        touched = {piece.pk: piece for piece in (*self.sized, *(one for one, _ in self.costs))}
        for pk, piece in sorted(touched.items()):
            grown, more = by_cost.get(pk, Decimal(0)), Decimal(0)
            changed: dict[str, Any] = {}
            if grown:
                changed["cost"] = piece.cost + grown
            if pk in resized:
                more = shape["area_mm2"] - piece.area_mm2
                now = edges_from(piece.clean_edges, piece.rough_edges)
                changed |= shape | carried_over(piece.polygon, now, outline).fields
            _change(piece, changed, acting, why, cause, area_mm2=more, cost=grown)
        if self.new_costs:
            self.added = _new_sheets(line, self.new_costs, outline)
            note(self.added, Kind.RECEIVE, acting, why, cause)


def follow(pieces: LinePieces, line: PurchaseLine, wanted: dict[str, Any]) -> Follow:
    """Decide what becomes of the pieces. Raises Refused when too few untouched ones can go."""
    count = int(wanted["count"])
    struck = _struck(pieces.pieces, line, len(pieces.pieces) - count)
    gone = {piece.pk for piece in struck}
    left = [piece for piece in pieces.pieces if piece.pk not in gone]
    shares = even_shares(wanted["total"], count) if count else []
    costs: list[tuple[StockPiece, Decimal]] = []
    kept_cost: list[StockPiece] = []
    kept = Decimal(0)
    for piece, share in zip(left, shares[: len(left)], strict=True):
        more = share - pieces.given.get(piece.pk, Decimal(0))
        if not more:
            continue
        if piece.state != State.RACK:
            kept += more
            kept_cost.append(piece)
        elif piece.cost + more < 0:
            raise Refused(
                f"{piece.code} was given another cost by hand, and would cost less than nothing. "
                "Correct its own record first."
            )
        else:
            costs.append((piece, more))
    resize = (wanted["width_mm"], wanted["height_mm"]) != (line.width_mm, line.height_mm)
    sized = [piece for piece in left if _untouched(piece, line)] if resize else []
    return Follow(
        struck=struck,
        costs=costs,
        sized=sized,
        new_costs=shares[len(left) :],
        kept=kept - pieces.kept_before,
        kept_cost=kept_cost,
        kept_size=[piece for piece in left if piece not in sized] if resize else [],
    )


def _untouched(piece: StockPiece, line: PurchaseLine) -> bool:
    """On the rack, and of the size that it was bought with."""
    size = (line.width_mm, line.height_mm)
    return (
        piece.state == State.RACK
        and (piece.width_mm, piece.height_mm) == size
        and abs(piece.area_mm2 - size[0] * size[1]) <= 1
    )


def _struck(pieces: Sequence[StockPiece], line: PurchaseLine, fewer: int) -> list[StockPiece]:
    """The sheets that never came: untouched ones, the newest labels first."""
    if fewer <= 0:
        return []
    free = [piece for piece in reversed(pieces) if _untouched(piece, line)]
    if len(free) < fewer:
        there = f"only {len(free)} of them" if free else "none of them"
        raise Refused(
            f"{line.metal}: {fewer} of {len(pieces)} sheets would have to go, and {there} lies "
            "untouched on the rack. What was handed out or cut did come. Bring back what is not "
            "needed, or drop the plan that keeps it; then correct the number."
        )
    return free[:fewer]


def _change(
    piece: StockPiece,
    changed: dict[str, Any],
    acting: User,
    why: str,
    cause: str,
    *,
    area_mm2: Decimal,
    cost: Decimal,
) -> None:
    said = []
    if cost:
        said.append(f"cost {changed['cost']}, before {piece.cost}")
    if "width_mm" in changed:
        said.append(
            f"size {changed['width_mm']} × {changed['height_mm']} mm, "
            f"before {piece.width_mm} × {piece.height_mm} mm"
        )
    StockPiece.objects.filter(pk=piece.pk).update(**changed)
    for name, value in changed.items():
        setattr(piece, name, value)
    StockMovement.objects.create(
        stock_piece=piece,
        kind=Kind.CORRECT,
        actor=acting,
        reason=f"{why[:110]} ({'; '.join(said)})"[:200],
        cause=cause,
        area_mm2=area_mm2,
        cost=cost,
    )


def _new_sheets(line: PurchaseLine, costs: Sequence[Decimal], outline: Polygon) -> list[StockPiece]:
    """Further sheets of the line, with labels of their own; they lie where the others do.

    Nobody has measured them yet.
    """
    like = line.stock_pieces.order_by("pk").first()
    edges = ALL_CLEAN
    if like is not None:
        now = edges_from(like.clean_edges, like.rough_edges)
        edges = carried_over(like.polygon, now, outline)
    labels = take_labels(line.purchase.school, line.metal, len(costs))
    return StockPiece.objects.bulk_create(
        StockPiece(
            school_id=line.purchase.school_id,
            metal=line.metal,
            code=code,
            kind=StockPiece.Kind.SHEET,
            **outline_fields(outline),
            cost=cost,
            **edges.fields,
            place=like.place if like else "",
            purchase_line=line,
        )
        for code, cost in zip(labels, costs, strict=True)
    )
