"""The rack: the only place that makes stock pieces and moves them (records: correcting.py).

Every change of a piece's state is a compare-and-swap: the row is changed only while it is still
in the state that the caller saw, so of two people who want the same piece exactly one gets it.
Each change writes one movement with who, when, why and, where a plan caused it, which one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal

from django.db import transaction
from django.db.models import Sum
from shapely.geometry import Polygon

from classroom.models import School, User, record
from classroom.refusals import Refused
from inventory.models import (
    Metal,
    StockMovement,
    StockPiece,
)
from inventory.spending.money import whole_cents

from .edges import ALL_ROUGH, edges_from, left_on_offcut
from .labels import take_labels
from .outlines import area_of, checked_outline, outline_fields
from .scrap import weigh_scrap

Kind = StockMovement.Kind
State = StockPiece.State
AREA_TOLERANCE_MM2 = Decimal(1)
COMES_IN = {Kind.RECEIVE, Kind.FOUND}
GOES_OUT = {Kind.CUT, Kind.SCRAP, Kind.STRIKE, Kind.MISSING}
"""Movements by which the school has more metal, or less; the others only change its state."""

__all__ = [
    "SomebodyWasFirst",
    "bring_back",
    "cut_up",
    "issue",
    "receive_offcut",
    "release",
    "reserve",
    "scrap",
]


class SomebodyWasFirst(Refused):
    """A piece is not in the state any more in which the caller saw it; names the piece."""

    def __init__(self, piece: StockPiece, now: str) -> None:
        self.piece = piece
        super().__init__(
            f"Somebody was first: {piece.code} is {now} now. Load the page again and choose anew."
        )


def room_in_parent_mm2(piece: StockPiece) -> float | None:
    """What the piece that this offcut was cut from had besides its other offcuts; None for a
    piece that was cut from none."""
    if piece.parent is None:
        return None
    others = piece.parent.offcuts.exclude(pk=piece.pk).exclude(movements__kind=Kind.STRIKE)
    taken = others.aggregate(area=Sum("area_mm2"))["area"] or 0
    return float(piece.parent.area_mm2) - float(taken)


@transaction.atomic
def receive_offcut(
    school: School,
    metal: Metal,
    outline: Polygon,
    *,
    acting: User,
    cost: Decimal,
    reason: str,
    clean_edges: bool = False,
    measured_mm: Decimal | None = None,
    place: str = "",
) -> StockPiece:
    """Put a piece of any outline (millimetres, its holes are windows) on the rack."""
    if metal.school_id != school.pk:
        raise Refused("That metal is not on this school's list.")
    (code,) = take_labels(school, metal, 1)
    shape = checked_outline(outline)
    piece = StockPiece.objects.create(
        school=school,
        metal=metal,
        code=code,
        kind=StockPiece.Kind.OFFCUT,
        **outline_fields(shape),
        cost=whole_cents(cost),
        clean_edges=clean_edges,
        measured_mm=measured_mm,
        place=place,
    )
    note([piece], Kind.RECEIVE, acting, reason, "")
    record(acting, "receive-offcut", piece, f"received offcut {code}")
    return piece


@transaction.atomic
def reserve(pieces: Iterable[StockPiece], *, acting: User, reason: str, cause: str) -> None:
    """Keep all these pieces for one plan. Raises SomebodyWasFirst; then none is kept."""
    move(pieces, (State.RACK,), State.RESERVED, Kind.RESERVE, acting, reason, cause)


@transaction.atomic
def release(pieces: Iterable[StockPiece], *, acting: User, reason: str, cause: str) -> None:
    """Reserved pieces go back to the rack, untouched."""
    move(pieces, (State.RESERVED,), State.RACK, Kind.RELEASE, acting, reason, cause)


@transaction.atomic
def issue(pieces: Iterable[StockPiece], *, acting: User, reason: str, cause: str) -> None:
    """Reserved pieces are handed out to the bench."""
    move(pieces, (State.RESERVED,), State.ISSUED, Kind.ISSUE, acting, reason, cause)


@transaction.atomic
def bring_back(pieces: Iterable[StockPiece], *, acting: User, reason: str, cause: str) -> None:
    """Pieces that were handed out come back uncut."""
    move(pieces, (State.ISSUED,), State.RACK, Kind.RETURN, acting, reason, cause)


@transaction.atomic
def cut_up(
    piece: StockPiece,
    offcuts: Sequence[tuple[Polygon, Decimal]],
    *,
    acting: User,
    reason: str,
    cause: str,
    place: str = "",
    remeasured: Collection[int] = (),
    clean_cuts: bool = False,
) -> list[StockPiece]:
    """A piece that was handed out is used up; each offcut (outline, cost) is a new stock piece.

    Outlines are where they lay in the piece, and keep its clean edges; those whose place in the
    list is among `remeasured` were measured by hand, and nobody knows what edges they have.
    With `clean_cuts` the cuts left clean edges; else they are rough.
    Raises Refused when the offcuts are larger or dearer together than the piece was.
    """
    shapes = [checked_outline(outline) for outline, _ in offcuts]
    costs = [whole_cents(cost) for _, cost in offcuts]
    if sum(area_of(shape) for shape in shapes) > piece.area_mm2 + AREA_TOLERANCE_MM2:
        raise Refused(f"The offcuts are larger together than {piece.code} was: check their sizes.")
    if sum(costs) > piece.cost:
        raise Refused(f"The offcuts cost more together than {piece.code} did.")
    move([piece], (State.ISSUED,), State.GONE, Kind.CUT, acting, reason, cause)
    labels = take_labels(piece.school, piece.metal, len(shapes)) if shapes else []
    # As it is in the record now: its edges may have been corrected while it was out.
    now = StockPiece.objects.get(pk=piece.pk)
    parents = edges_from(now.clean_edges, now.rough_edges)
    edges = [
        ALL_ROUGH
        if number in remeasured
        else left_on_offcut(now.polygon, parents, outline, shape, clean_cuts=clean_cuts)
        for number, ((outline, _), shape) in enumerate(zip(offcuts, shapes, strict=True))
    ]
    kept = StockPiece.objects.bulk_create(
        StockPiece(
            school_id=piece.school_id,
            metal=piece.metal,
            code=code,
            kind=StockPiece.Kind.OFFCUT,
            **outline_fields(shape),
            cost=cost,
            **own.fields,
            measured_mm=piece.measured_mm,
            place=place,
            parent=piece,
        )
        for code, shape, cost, own in zip(labels, shapes, costs, edges, strict=True)
    )
    note(kept, Kind.RECEIVE, acting, f"offcut of {piece.code}: {reason}", cause)
    return kept


@transaction.atomic
def scrap(
    piece: StockPiece,
    *,
    acting: User,
    reason: str,
    cause: str = "",
    mass_g: Decimal | None = None,
) -> None:
    """A whole piece goes into its alloy's scrap box, by its weight or else by its area."""
    move([piece], (State.RACK, State.ISSUED), State.GONE, Kind.SCRAP, acting, reason, cause)
    weighed = Decimal(repr(piece.mass_g)) if mass_g is None else mass_g
    weigh_scrap(
        piece.school,
        piece.metal.alloy_code,
        weighed.quantize(Decimal("0.01")),
        acting=acting,
        reason=f"{piece.code}: {reason}",
        cause=cause,
    )
    record(acting, "scrap", piece, f"scrapped {piece.code}", reason=reason)


def move(
    pieces: Iterable[StockPiece],
    old: tuple[str, ...],
    new: str,
    kind: str,
    acting: User,
    reason: str,
    cause: str,
) -> None:
    """Compare-and-swap of the pieces' state, all or none, with a movement for each.

    Raises SomebodyWasFirst. For this app's own modules; callers hold the transaction.
    """
    # In the order of their keys, so that two plans that share pieces cannot wait for each other.
    wanted = sorted({piece.pk: piece for piece in pieces}.values(), key=lambda piece: piece.pk)
    for piece in wanted:
        if not StockPiece.objects.filter(pk=piece.pk, state__in=old).update(state=new):
            current = StockPiece.objects.get(pk=piece.pk)
            raise SomebodyWasFirst(piece, current.get_state_display())
    if kind in GOES_OUT:
        # The rows are held now: what they say is what goes, whatever the caller has seen.
        now = StockPiece.objects.in_bulk([piece.pk for piece in wanted])
        for piece in wanted:
            piece.area_mm2, piece.cost = now[piece.pk].area_mm2, now[piece.pk].cost
    note(wanted, kind, acting, reason, cause)
    for piece in wanted:
        piece.state = new


def note(pieces: Iterable[StockPiece], kind: str, acting: User, reason: str, cause: str) -> None:
    """One movement for each piece. Raises Refused without a reason."""
    why = " ".join(reason.split())[:200]
    if not why:
        raise Refused("Say why: every movement of metal has a reason.")
    sign = 1 if kind in COMES_IN else -1 if kind in GOES_OUT else 0
    StockMovement.objects.bulk_create(
        StockMovement(
            stock_piece=piece,
            kind=kind,
            actor=acting,
            reason=why,
            cause=cause,
            area_mm2=sign * piece.area_mm2,
            cost=sign * piece.cost,
        )
        for piece in pieces
    )
