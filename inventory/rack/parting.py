"""Metal that was handed out is parted: blanks stay at the bench, leftovers go to the rack."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from shapely.geometry import Polygon

from classroom.models import User
from classroom.refusals import Refused
from inventory.models import StockMovement, StockPiece
from inventory.spending.money import whole_cents

from .edges import Edges
from .outlines import checked_outline, outline_fields
from .stock import (
    AREA_TOLERANCE_MM2,
    SomebodyWasFirst,
    cut_up,
    issue,
    reserve,
    room_in_parent_mm2,
)

State = StockPiece.State


@dataclass(frozen=True, slots=True)
class Part:
    """One part: its outline where it lies in the stock piece (mm), and what it costs."""

    outline: Polygon
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Parted:
    """The stock pieces that came out, in the order of the parts given."""

    blanks: tuple[StockPiece, ...]
    leftovers: tuple[StockPiece, ...]


@transaction.atomic
def part(
    piece: StockPiece,
    blanks: Sequence[Part],
    leftovers: Sequence[Part],
    *,
    clean_cuts: bool,
    acting: User,
    reason: str,
    cause: str,
    place: str = "",
) -> Parted:
    """The piece is used up; each blank is a stock piece that is handed out already, each leftover
    one on the rack, at `place`. All have labels of their own.

    Their costs together are the piece's, so what the cuts took is in the blanks' cost. Cut edges
    are clean where `clean_cuts`, else rough. Raises Refused where costs do not add up or the parts
    are larger than the piece, and SomebodyWasFirst where it is not handed out.
    """
    costs = [whole_cents(one.cost) for one in (*blanks, *leftovers)]
    if sum(costs) != piece.cost:
        raise Refused(f"The parts of {piece.code} do not cost what it did: load the page again.")
    made = cut_up(
        piece,
        [(one.outline, one.cost) for one in (*blanks, *leftovers)],
        acting=acting,
        reason=reason,
        cause=cause,
        place=place,
        clean_cuts=clean_cuts,
    )
    own, left = made[: len(blanks)], made[len(blanks) :]
    reserve(own, acting=acting, reason=reason, cause=cause)
    issue(own, acting=acting, reason=reason, cause=cause)
    StockPiece.objects.filter(pk__in=[one.pk for one in own]).update(place="")
    return Parted(tuple(own), tuple(left))


@transaction.atomic
def remeasure(
    piece: StockPiece, outline: Polygon, edges: Edges, *, acting: User, reason: str, cause: str
) -> None:
    """A blank that is handed out measures otherwise than was entered; it keeps its cost.

    `outline` is where it lies in the stock piece that it was parted from (mm). Raises Refused
    where the stock piece and its parts would be larger together than it was, and SomebodyWasFirst
    where the blank is not handed out any more.
    """
    shape = checked_outline(outline)
    fields = outline_fields(shape)
    room = room_in_parent_mm2(piece)
    if room is not None and float(fields["area_mm2"]) > room + float(AREA_TOLERANCE_MM2):
        raise Refused(f"{piece.code} cannot be that large: the other parts leave less. Measure it.")
    old = StockPiece.objects.filter(pk=piece.pk, state=State.ISSUED, outline=piece.outline)
    if not old.update(**fields, **edges.fields):
        raise SomebodyWasFirst(piece, StockPiece.objects.get(pk=piece.pk).get_state_display())
    StockMovement.objects.create(
        stock_piece=piece,
        kind=StockMovement.Kind.CORRECT,
        actor=acting,
        reason=reason[:200],
        cause=cause,
        area_mm2=fields["area_mm2"] - piece.area_mm2,
    )
    piece.refresh_from_db()
