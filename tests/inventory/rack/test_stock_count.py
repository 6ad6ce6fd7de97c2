"""A stock count: what is expected, what was seen, and the differences as movements."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.models import User
from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.models import CountedPiece, StockCount, StockPiece
from inventory.rack import correcting, counting, stock
from inventory.rack.counting import Tick
from tests.inventory.pages import metal_of, offcut_for, sheets_for
from tests.people import Cast, signed_in


@pytest.fixture
def pieces(cast: Cast) -> list[StockPiece]:
    return [*sheets_for(cast, 2), offcut_for(cast)]


def _row(count: StockCount, piece: StockPiece) -> CountedPiece:
    return count.pieces.get(stock_piece=piece)


def _all_here(count: StockCount) -> None:
    counting.tick(
        count,
        {row.pk: Tick("here") for row in count.pieces.filter(seen="")},
        acting=User.objects.get(username="marit.quay"),
    )


def test_a_count_expects_what_lies_on_the_rack_and_what_is_reserved(
    cast: Cast, pieces: list[StockPiece]
) -> None:
    stock.reserve(pieces[:2], acting=cast.teacher, reason="plan", cause="cutplan:1")
    stock.issue(pieces[:1], acting=cast.teacher, reason="plan", cause="cutplan:1")
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    assert {row.stock_piece for row in count.pieces.all()} == set(pieces[1:])


def test_a_count_of_one_metal_leaves_the_others_out(cast: Cast, pieces: list[StockPiece]) -> None:
    brass = metal_of(cast.school, "C26000", "1.0")
    count = counting.open_count(cast.school, brass, acting=cast.teacher)
    assert count.pieces.count() == 0


def test_only_one_count_is_open_at_a_time(cast: Cast, pieces: list[StockPiece]) -> None:
    counting.open_count(cast.school, None, acting=cast.teacher)
    with pytest.raises(Refused, match="A count is open already"):
        counting.open_count(cast.school, None, acting=cast.other_teacher)


def test_differences_become_movements_that_name_the_count(
    cast: Cast, pieces: list[StockPiece]
) -> None:
    lost, moved, there = pieces
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    _all_here(count)
    counting.tick(
        count,
        {
            _row(count, lost).pk: Tick("missing"),
            _row(count, moved).pk: Tick("else", "red drawer"),
        },
        acting=cast.teacher,
    )
    booked = counting.book(count, acting=cast.teacher, reason="end of term")
    assert {(row.stock_piece.code, row.booked) for row in booked} == {
        (lost.code, "missing"),
        (moved.code, "correct"),
    }
    assert StockPiece.objects.get(pk=lost.pk).state == "gone"
    assert StockPiece.objects.get(pk=moved.pk).place == "red drawer"
    for piece in (lost, moved):
        last = piece.movements.order_by("-pk").first()
        assert last is not None
        assert last.cause == f"stockcount:{count.pk}"
    assert there.movements.count() == 1
    assert list(audit(cast.school)) == []


def test_a_lost_piece_that_turns_up_comes_back_with_its_cost(
    cast: Cast, pieces: list[StockPiece]
) -> None:
    correcting.strike_off(pieces[0], acting=cast.teacher, reason="lost")
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    _all_here(count)
    counting.add_unexpected(
        count, pieces[0].code.lower(), acting=cast.teacher, place="under the shear"
    )
    counting.book(count, acting=cast.teacher, reason="found behind the shear")
    found = StockPiece.objects.get(pk=pieces[0].pk)
    assert (found.state, found.place) == ("rack", "under the shear")
    assert list(audit(cast.school)) == []


def test_metal_that_was_cut_up_or_handed_out_does_not_come_back_by_a_count(
    cast: Cast, pieces: list[StockPiece]
) -> None:
    words = {"acting": cast.teacher, "reason": "plan", "cause": "cutplan:1"}
    stock.reserve(pieces[:2], **words)  # type: ignore[arg-type]
    stock.issue(pieces[:2], **words)  # type: ignore[arg-type]
    stock.cut_up(pieces[0], [], **words)  # type: ignore[arg-type]
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    with pytest.raises(Refused, match="was cut up or scrapped"):
        counting.add_unexpected(count, pieces[0].code, acting=cast.teacher)
    with pytest.raises(Refused, match="is handed out"):
        counting.add_unexpected(count, pieces[1].code, acting=cast.teacher)
    with pytest.raises(Refused, match="tick it there"):
        counting.add_unexpected(count, pieces[2].code, acting=cast.teacher)
    with pytest.raises(Refused, match="No stock piece has the label"):
        counting.add_unexpected(count, "XX-9", acting=cast.teacher)


def test_nothing_is_booked_before_all_is_looked_at(cast: Cast, pieces: list[StockPiece]) -> None:
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    counting.tick(count, {_row(count, pieces[0]).pk: Tick("missing")}, acting=cast.teacher)
    with pytest.raises(Refused, match="2 of 3 pieces have not been looked at"):
        counting.book(count, acting=cast.teacher, reason="term")
    _all_here(count)
    with pytest.raises(Refused, match="Say why"):
        counting.book(count, acting=cast.teacher, reason=" ")
    count.refresh_from_db()
    assert count.state == "open"
    assert StockPiece.objects.get(pk=pieces[0].pk).state == "rack"


def test_reserved_metal_that_is_not_here_asks_for_its_plan_to_be_dropped(
    cast: Cast, pieces: list[StockPiece]
) -> None:
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    _all_here(count)
    counting.tick(count, {_row(count, pieces[0]).pk: Tick("missing")}, acting=cast.teacher)
    stock.reserve(pieces[:1], acting=cast.teacher, reason="plan", cause="cutplan:1")
    with pytest.raises(Refused, match="Drop that plan first"):
        counting.book(count, acting=cast.teacher, reason="term")


def test_metal_handed_out_since_the_list_was_made_is_no_difference(
    cast: Cast, pieces: list[StockPiece]
) -> None:
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    _all_here(count)
    counting.tick(count, {_row(count, pieces[0]).pk: Tick("missing")}, acting=cast.teacher)
    words = {"acting": cast.teacher, "reason": "plan", "cause": "cutplan:1"}
    stock.reserve(pieces[:1], **words)  # type: ignore[arg-type]
    stock.issue(pieces[:1], **words)  # type: ignore[arg-type]
    assert counting.book(count, acting=cast.teacher, reason="term") == []
    assert StockPiece.objects.get(pk=pieces[0].pk).state == "issued"


def test_a_closed_count_takes_no_more_ticks(cast: Cast, pieces: list[StockPiece]) -> None:
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    row = _row(count, pieces[0])
    counting.call_off(count, acting=cast.teacher, reason="fire drill")
    with pytest.raises(Refused, match="closed"):
        counting.tick(count, {row.pk: Tick("missing")}, acting=cast.teacher)
    with pytest.raises(Refused, match="closed already"):
        counting.book(count, acting=cast.teacher, reason="term")


def test_the_pages_lead_through_a_count(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    other = offcut_for(cast)
    client.post(reverse("stock_counts"), {"metal": ""})
    count = StockCount.objects.get()
    page = reverse("stock_count", args=[count.pk])
    assert "Go on counting" in client.get(reverse("stock_counts")).content.decode()
    sheet = client.get(reverse("count_sheet", args=[count.pk])).content.decode()
    assert piece.code in sheet
    ticks = {
        f"seen-{_row(count, piece).pk}": "else",
        f"place-{_row(count, piece).pk}": "blue box",
        f"seen-{_row(count, other).pk}": "missing",
        "seen-999999": "missing",
    }
    assert client.post(page, ticks).status_code == 302
    assert (
        client.post(reverse("count_book", args=[count.pk]), {"reason": "term"}).status_code == 302
    )
    text = client.get(page).content.decode()
    assert "not found at a count" in text
    assert "blue box" in text
    history = client.get(reverse("stock_piece", args=[other.pk])).content.decode()
    assert f'<a href="{page}">stock count {count.pk}</a>' in history


def test_a_place_is_asked_for_where_a_piece_was_found_elsewhere(cast: Cast, client: Client) -> None:
    piece = offcut_for(cast)
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    answer = client.post(
        reverse("stock_count", args=[count.pk]), {f"seen-{_row(count, piece).pk}": "else"}
    )
    assert answer.status_code == 409
    assert f"Say where {piece.code} was found" in answer.content.decode()


@pytest.mark.parametrize("name", ["stock_count", "count_sheet", "count_add", "count_book"])
def test_a_count_is_for_the_schools_teachers(cast: Cast, name: str) -> None:
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    address = reverse(name, args=[count.pk])
    method = "get" if name in ("stock_count", "count_sheet") else "post"
    for person, expected in (
        (cast.teacher, {200, 302}),
        (cast.other_teacher, {200, 302}),
        (cast.owner, {403}),
        (cast.classmate, {403}),
        (cast.outsider, {404}),
    ):
        data = {"code": "XX"} if name == "count_add" else {}
        answer = getattr(signed_in(person), method)(address, data)
        assert answer.status_code in expected, person


def test_a_longer_list_takes_as_many_queries(cast: Cast, client: Client) -> None:
    offcut_for(cast)
    first = counting.open_count(cast.school, None, acting=cast.teacher)
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("stock_count", args=[first.pk]))
    counting.call_off(first, acting=cast.teacher, reason="again")
    for _ in range(6):
        offcut_for(cast)
    second = counting.open_count(cast.school, None, acting=cast.teacher)
    with CaptureQueriesContext(connection) as more:
        client.get(reverse("stock_count", args=[second.pk]))
    assert len(more) == len(few)


def test_each_tick_keeps_who_looked_and_when(
    cast: Cast, client: Client, pieces: list[StockPiece]
) -> None:
    count = counting.open_count(cast.school, None, acting=cast.teacher)
    row = _row(count, pieces[0])
    client.post(reverse("stock_count", args=[count.pk]), {f"seen-{row.pk}": "here"})
    row.refresh_from_db()
    assert row.ticked_by == cast.teacher
    assert row.ticked_at is not None
    assert _row(count, pieces[1]).ticked_by is None
    page = client.get(reverse("stock_count", args=[count.pk])).content.decode()
    assert f"{cast.teacher.display_name}, " in page
    # Ticked again as it stood: the first look stays.
    before = row.ticked_at
    client.post(reverse("stock_count", args=[count.pk]), {f"seen-{row.pk}": "here"})
    row.refresh_from_db()
    assert row.ticked_at == before
