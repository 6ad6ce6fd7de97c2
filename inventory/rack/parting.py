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

from .stock import cut_up, move

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
    move(own, (State.RACK,), State.ISSUED, StockMovement.Kind.ISSUE, acting, reason, cause)
    StockPiece.objects.filter(pk__in=[one.pk for one in own]).update(place="")
    return Parted(tuple(own), tuple(left))
