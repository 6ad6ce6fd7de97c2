"""Does the rack hold what the records say? Counted piece by piece, differences booked.

Opening a count writes down what is expected; ticks are free until it is closed; closing books
each difference as a movement that names the count. The count itself stays as its own record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.models import School, User, record, subject_of
from classroom.refusals import Refused
from inventory.models import CountedPiece, Metal, StockCount, StockMovement, StockPiece

from .correcting import move_to
from .stock import move

Seen = CountedPiece.Seen
State = StockCount.State
Piece = StockPiece.State
Kind = StockMovement.Kind
ON_THE_RACK: Final = (Piece.RACK, Piece.RESERVED)
"""Reserved metal still lies on the rack until it is handed out."""


@dataclass(frozen=True, slots=True)
class Tick:
    """What somebody saw of one piece; `place` where it was found elsewhere."""

    seen: str
    place: str = ""


def open_count(school: School, metal: Metal | None, *, acting: User) -> StockCount:
    """Begin to count the rack, or one metal of it. Raises Refused while a count is open."""
    if metal is not None and metal.school_id != school.pk:
        raise Refused("That metal is not on this school's list.")
    expected = StockPiece.objects.filter(school=school, state__in=ON_THE_RACK)
    if metal is not None:
        expected = expected.filter(metal=metal)
    try:
        with transaction.atomic():
            count = StockCount.objects.create(school=school, metal=metal, opened_by=acting)
            CountedPiece.objects.bulk_create(
                CountedPiece(count=count, stock_piece=piece)
                for piece in expected.order_by("pk").iterator(chunk_size=500)
            )
            number = count.pieces.count()
            record(acting, "open-count", count, f"began to count {metal or 'the rack'}: {number}")
    except IntegrityError:
        raise Refused(
            "A count is open already. Go on with it, book it, or call it off first."
        ) from None
    return count


@transaction.atomic
def tick(count: StockCount, ticks: Mapping[int, Tick], *, acting: User) -> int:
    """Write down what was seen, by the primary keys of the counted pieces; how many changed.

    Each row that changes keeps who looked last, and when.

    Raises Refused once the count is closed, or where a piece found elsewhere has no place.
    """
    _hold(count)
    changed, at = 0, timezone.now()
    for row in count.pieces.filter(pk__in=ticks).select_related("stock_piece").order_by("pk"):
        now = ticks[row.pk]
        place = " ".join(now.place.split())[:60] if now.seen == Seen.ELSEWHERE else ""
        if now.seen not in Seen.values:
            raise Refused("Say of each piece: here, not here, or found elsewhere.")
        if now.seen == Seen.ELSEWHERE and not place:
            raise Refused(f"Say where {row.stock_piece.code} was found.")
        if now.seen == Seen.MISSING and not row.expected:
            raise Refused(f"{row.stock_piece.code} was added because it is here.")
        if (row.seen, row.place) != (now.seen, place):
            row.seen, row.place = now.seen, place
            row.ticked_by, row.ticked_at = (acting, at) if now.seen else (None, None)
            row.save(update_fields=["seen", "place", "ticked_by", "ticked_at"])
            changed += 1
    return changed


@transaction.atomic
def add_unexpected(count: StockCount, code: str, *, acting: User, place: str = "") -> CountedPiece:
    """A piece that the list does not name lies here. Raises Refused, in words, where that cannot
    be put right by a count: metal that is handed out, used up, or has no label on record."""
    _hold(count)
    label = " ".join(code.split()).upper()[:24]
    piece = StockPiece.objects.filter(school_id=count.school_id, code=label).first()
    if piece is None:
        raise Refused(
            f"No stock piece has the label “{label}”. Enter it as an offcut; it then has a label."
        )
    row = count.pieces.filter(stock_piece=piece).first()
    if row is not None:
        raise Refused(f"{piece.code} is on this count's list: tick it there.")
    if piece.state == Piece.ISSUED:
        raise Refused(
            f"{piece.code} is handed out. Close its cut plan, and it comes back with what is left."
        )
    if piece.state == Piece.GONE and not _was_lost(piece):
        raise Refused(
            f"{piece.code} was cut up or scrapped. If this is an offcut of it, enter the offcut."
        )
    lies = " ".join(place.split())[:60]
    return CountedPiece.objects.create(
        count=count,
        stock_piece=piece,
        expected=False,
        seen=Seen.ELSEWHERE if lies and lies != piece.place else Seen.HERE,
        place=lies if lies != piece.place else "",
        ticked_by=acting,
        ticked_at=timezone.now(),
    )


@transaction.atomic
def book(count: StockCount, *, acting: User, reason: str) -> list[CountedPiece]:
    """Close the count and book its differences; the rows that a movement was written for.

    Raises Refused while pieces have not been looked at, without a reason where there are
    differences, or where a piece that is not here is reserved for a cut plan.
    """
    _close(count, State.BOOKED, acting, reason)
    rows = list(count.pieces.select_related("stock_piece__metal").order_by("stock_piece_id"))
    still = sum(1 for row in rows if row.seen == Seen.OPEN)
    if still:
        raise Refused(f"{still} of {len(rows)} pieces have not been looked at yet.")
    why = " ".join(reason.split())
    booked = [row for row in rows if _differs(row)]
    if booked and not why:
        raise Refused("Say why: differences are booked with a reason.")
    cause = subject_of(count)
    for row in booked:
        row.booked = _book(row, acting, f"{count}: {why}", cause)
        row.save(update_fields=["booked"])
    written = [row for row in booked if row.booked]
    record(
        acting,
        "book-count",
        count,
        f"counted {len(rows)} pieces, {len(written)} differences",
        reason=why,
        differences={row.stock_piece.code: row.booked for row in written},
    )
    return written


@transaction.atomic
def call_off(count: StockCount, *, acting: User, reason: str) -> None:
    """Close the count without booking anything."""
    if not " ".join(reason.split()):
        raise Refused("Say why the count is called off.")
    _close(count, State.CALLED_OFF, acting, reason)
    record(acting, "call-off-count", count, "called the count off", reason=reason)


def _differs(row: CountedPiece) -> bool:
    return row.seen in (Seen.MISSING, Seen.ELSEWHERE) or row.stock_piece.state == Piece.GONE


def _book(row: CountedPiece, acting: User, reason: str, cause: str) -> str:
    """The movement for one difference; "" where the rack has caught up with it meanwhile."""
    piece = row.stock_piece
    if row.seen == Seen.MISSING:
        if piece.state == Piece.RESERVED:
            raise Refused(
                f"{piece.code} is not here, but reserved for a cut plan. Drop that plan first: "
                "its pieces need another place."
            )
        if piece.state != Piece.RACK:
            return ""  # handed out or used up since the list was made
        move([piece], (Piece.RACK,), Piece.GONE, Kind.MISSING, acting, reason, cause)
        return Kind.MISSING
    kind = ""
    if piece.state == Piece.GONE:
        if not _was_lost(piece):
            return ""
        move([piece], (Piece.GONE,), Piece.RACK, Kind.FOUND, acting, reason, cause)
        kind = Kind.FOUND
    if row.seen == Seen.ELSEWHERE and move_to(piece, row.place, acting=acting, cause=cause):
        kind = kind or Kind.CORRECT
    return kind


def _was_lost(piece: StockPiece) -> bool:
    """Whether the piece is gone only because nobody found it, or it was struck off."""
    last = piece.movements.exclude(kind=Kind.CORRECT).order_by("-pk").first()
    return last is not None and last.kind in (Kind.MISSING, Kind.STRIKE)


def _hold(count: StockCount) -> None:
    """Take the count's row for this transaction; Refused when it is closed."""
    held = StockCount.objects.filter(pk=count.pk, state=State.OPEN).update(state=State.OPEN)
    if not held:
        raise Refused("This count is closed. Open a new one.")


def _close(count: StockCount, state: str, acting: User, reason: str) -> None:
    now = timezone.now()
    why = " ".join(reason.split())[:120]
    closed = StockCount.objects.filter(pk=count.pk, state=State.OPEN).update(
        state=state, closed_by=acting, closed_at=now, reason=why
    )
    if not closed:
        raise Refused("This count is closed already.")
    count.refresh_from_db()
