"""The record of a piece was wrong, or the piece lies elsewhere now: corrected, never rewritten.

Each correction changes the piece's row and writes a movement that says what it said before.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import transaction
from shapely.geometry import Polygon

from classroom.models import User, record
from classroom.refusals import Refused, a_reason
from inventory.models import StockMovement, StockPiece
from inventory.spending.money import whole_cents

from .edges import Edges, carried_over, edges_from, named
from .outlines import checked_outline, outline_fields
from .stock import SomebodyWasFirst, move

FREE = (StockPiece.State.RACK,)
EDGE_FIELDS = ("clean_edges", "rough_edges")
IN_THE_SCHOOL = (StockPiece.State.RACK, StockPiece.State.RESERVED, StockPiece.State.ISSUED)


@transaction.atomic
def move_to(piece: StockPiece, place: str, *, acting: User, cause: str = "") -> bool:
    """Write down where the piece lies now; False when it lay there already."""
    new, old = " ".join(place.split())[:60], piece.place
    if new == old:
        return False
    if not _unchanged(piece, IN_THE_SCHOOL, place=old).update(place=new):
        raise _overtaken(piece)
    piece.place = new
    said = f"lies in {new or 'no stated place'}, before {old or 'no stated place'}"
    _note(piece, acting, said, cause=cause)
    return True


@transaction.atomic
def correct(
    piece: StockPiece,
    *,
    acting: User,
    reason: str,
    measured_mm: Decimal | None = None,
    edges: Edges | None = None,
    cost: Decimal | None = None,
    outline: Polygon | None = None,
) -> bool:
    """Correct the caliper reading, the edges, the cost or the outline; None leaves as it is.

    Cost, edges and outline may change only while the piece lies free on the rack: a plan counts
    on them, and the refusal names it. Returns False when everything already stood so. Raises
    Refused without a reason.
    """
    why = a_reason(reason)
    wanted: dict[str, Any] = {}
    if measured_mm is not None:
        wanted["measured_mm"] = measured_mm
    if edges is not None:
        wanted |= edges.fields
    if cost is not None:
        wanted["cost"] = whole_cents(cost)
    if outline is not None:
        new = checked_outline(outline)
        now = edges or edges_from(piece.clean_edges, piece.rough_edges)
        wanted |= outline_fields(new) | carried_over(piece.polygon, now, new).fields
    old = {name: getattr(piece, name) for name in wanted}
    changed = {name: value for name, value in wanted.items() if value != old[name]}
    if not changed:
        return False
    bound = changed.keys() & {"cost", "outline", "area_mm2", *EDGE_FIELDS}
    before = {name: old[name] for name in changed}
    states = FREE if bound else IN_THE_SCHOOL
    if not _unchanged(piece, states, **before).update(**changed):
        if bound:
            counted_on_by_none(StockPiece.objects.get(pk=piece.pk))
        raise _overtaken(piece)
    edges_before = _edges_named(piece)
    for name, value in changed.items():
        setattr(piece, name, value)
    told = [
        _said(name, before[name], changed[name])
        for name in sorted(changed)
        if name not in EDGE_FIELDS
    ]
    if changed.keys() & set(EDGE_FIELDS):
        told.insert(0, f"clean edges: {_edges_named(piece)}; before: {edges_before}")
    said = "; ".join(told)
    _note(
        piece,
        acting,
        f"{why} ({said.strip('; ')})",
        area_mm2=_grown(changed, before, "area_mm2"),
        cost=_grown(changed, before, "cost"),
    )
    record(
        acting,
        "correct-stock",
        piece,
        f"corrected the record of {piece.code}",
        reason=reason,
        before={name: str(value) for name, value in before.items()},
        after={name: str(value) for name, value in changed.items()},
    )
    return True


def counted_on_by_none(piece: StockPiece) -> None:
    """Raises Refused, with the plan's name, while a plan counts on what the record says."""
    if piece.state not in (StockPiece.State.RESERVED, StockPiece.State.ISSUED):
        return
    taken = (StockMovement.Kind.RESERVE, StockMovement.Kind.ISSUE)
    last = piece.movements.filter(kind__in=taken).order_by("pk").last()
    how = last.reason if last else piece.get_state_display()
    raise Refused(
        f"{piece.code} is {how}: that plan counts on its edges, its outline and its cost. Give the "
        "plan up first, or wait until the metal is back on the rack."
    )


@transaction.atomic
def strike_off(piece: StockPiece, *, acting: User, reason: str) -> None:
    """The piece is lost, given away or was entered by mistake: off the rack, into no box."""
    why = a_reason(reason)
    move([piece], FREE, StockPiece.State.GONE, StockMovement.Kind.STRIKE, acting, why, "")
    record(acting, "strike-off", piece, f"struck off {piece.code}", reason=why)


def _edges_named(piece: StockPiece) -> str:
    return named(piece.polygon, edges_from(piece.clean_edges, piece.rough_edges))


def _said(name: str, before: object, after: object) -> str:
    words = {
        "measured_mm": "caliper reading {after} mm, before {before}",
        "cost": "cost {after}, before {before}",
        "area_mm2": "area {after} mm², before {before}",
        "width_mm": "width {after} mm, before {before}",
        "height_mm": "height {after} mm, before {before}",
        "outline": "outline redrawn",
    }
    shown = ["none" if value is None else value for value in (before, after)]
    return words[name].format(before=shown[0], after=shown[1])


def _unchanged(piece: StockPiece, states: tuple[str, ...], **before: Any) -> Any:
    return StockPiece.objects.filter(pk=piece.pk, state__in=states, **before)


def _overtaken(piece: StockPiece) -> SomebodyWasFirst:
    current = StockPiece.objects.get(pk=piece.pk)
    state = current.get_state_display()
    if current.state in FREE:
        return SomebodyWasFirst(piece, "changed by somebody else")
    return SomebodyWasFirst(piece, state)


def _grown(after: dict[str, Any], before: dict[str, Any], name: str) -> Decimal:
    grown: Decimal = after[name] - before[name] if name in after else Decimal(0)
    return grown


def _note(
    piece: StockPiece,
    acting: User,
    reason: str,
    *,
    area_mm2: Decimal = Decimal(0),
    cost: Decimal = Decimal(0),
    cause: str = "",
) -> None:
    StockMovement.objects.create(
        stock_piece=piece,
        kind=StockMovement.Kind.CORRECT,
        actor=acting,
        reason=reason[:200],
        cause=cause,
        area_mm2=area_mm2,
        cost=cost,
    )
