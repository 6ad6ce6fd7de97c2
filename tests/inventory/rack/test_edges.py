"""Which edges of a stock piece are clean: ticked on its picture, and kept when it is cut up."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from shapely.affinity import translate
from shapely.geometry import MultiLineString, Point, Polygon, box

from classroom.refusals import Refused
from inventory.models import StockMovement, StockPiece
from inventory.rack import correcting, stock
from inventory.rack.edge_marks import edge_marks, nearest_to
from inventory.rack.edges import (
    ALL_CLEAN,
    ALL_ROUGH,
    REST,
    carried_over,
    clean_keys,
    edges_from,
    edges_of,
    left_on_offcut,
    named,
    sawn_as_one,
    with_clean,
)
from tests.inventory.pages import sheets_for
from tests.people import Cast, signed_in

SHEET = box(0, 0, 300, 150)


def edges_now(piece: StockPiece) -> str:
    piece.refresh_from_db()
    return named(piece.polygon, edges_from(piece.clean_edges, piece.rough_edges))


def test_a_sheet_has_four_edges_named_by_where_they_lie() -> None:
    assert [(one.name, one.length_mm) for one in edges_of(SHEET)] == [
        ("bottom edge", 300),
        ("right edge", 150),
        ("top edge", 300),
        ("left edge", 150),
    ]


def test_points_within_an_edge_do_not_divide_it() -> None:
    noisy = [(0, 0), (100, 0.02), (180, -0.01), (300, 0), (300, 150), (150, 150.01), (0, 150)]
    assert [one.name for one in edges_of(Polygon(noisy))] == [
        "bottom edge",
        "right edge",
        "top edge",
        "left edge",
    ]


def test_curves_and_short_sides_are_one_edge_more() -> None:
    bitten = SHEET.difference(Point(300, 75).buffer(40, 64)).difference(box(0, 0, 3, 3))
    edges = edges_of(bitten)
    assert [one.name for one in edges if one.key != REST] == [
        "bottom edge",
        "right edge",
        "right edge",
        "top edge",
        "left edge",
    ]
    assert edges[-1].length_mm == pytest.approx(math.pi * 40 + 6, rel=1e-3)
    (whole,) = edges_of(Point(0, 0).buffer(30, 64))
    assert whole.name == "its whole edge"


def test_what_is_ticked_is_read_back_whatever_it_is() -> None:
    edges = edges_of(SHEET)
    for keys in ({"1"}, {"1", "4"}, {"2", "3", "4"}):
        said = with_clean(edges, keys)
        stored = edges_from(said.clean, str(said.fields["rough_edges"]))
        assert clean_keys(edges, stored) == keys
    assert with_clean(edges, {"1", "2", "3", "4"}) == ALL_CLEAN
    assert with_clean(edges, set()) == ALL_ROUGH


def test_an_offcut_keeps_the_clean_edges_on_which_it_lay() -> None:
    corner = box(200, 0, 300, 60)
    left = left_on_offcut(SHEET, ALL_CLEAN, corner, translate(corner, -200, 0))
    assert named(box(0, 0, 100, 60), left) == "bottom edge, right edge"
    assert left.rough is not None
    assert left.rough.length == pytest.approx(160, abs=0.3)
    rough_right = with_clean(edges_of(SHEET), {"1", "3", "4"})
    less = left_on_offcut(SHEET, rough_right, corner, translate(corner, -200, 0))
    assert named(box(0, 0, 100, 60), less) == "bottom edge"
    inner = box(100, 50, 160, 90)
    assert left_on_offcut(SHEET, ALL_CLEAN, inner, translate(inner, -100, -50)) == ALL_ROUGH
    assert left_on_offcut(SHEET, ALL_ROUGH, corner, translate(corner, -200, 0)) == ALL_ROUGH


def test_a_corrected_outline_keeps_its_edges_by_the_way_they_face() -> None:
    said = with_clean(edges_of(SHEET), {"1", "4"})
    smaller = box(0, 0, 280, 149)
    assert named(smaller, carried_over(SHEET, said, smaller)) == "bottom edge, left edge"
    corner = Polygon([(0, 0), (280, 0), (0, 149)])  # nobody knows what its long side is
    assert named(corner, carried_over(SHEET, said, corner)) in ("none", "bottom edge, left edge")
    assert carried_over(SHEET, ALL_CLEAN, corner) == ALL_CLEAN


@pytest.mark.django_db
def test_ticks_on_the_picture_are_kept_with_what_was_said_before(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    client, address = signed_in(cast.teacher), reverse("stock_edges", args=[sheet.pk])
    form = client.get(address).context["form"]
    labels = [tick.label for tick in form.ticks.ticks]
    assert len(labels) == 4
    assert labels[0].startswith("1: Bottom edge, ")
    assert all(tick.box.data["selected"] for tick in form.ticks.ticks)
    sent = {"outline": form.seen, "reason": "cut with shears", "edges_clean": ["1", "4"]}
    assert client.post(address, sent).status_code == 302
    assert edges_now(sheet) == "bottom edge, left edge"
    move = StockMovement.objects.filter(stock_piece=sheet).last()
    assert move is not None
    assert move.reason == "cut with shears (clean edges: bottom edge, left edge; before: all)"
    assert (move.kind, move.area_mm2, move.cost) == ("correct", 0, 0)
    page = client.get(reverse("stock_piece", args=[sheet.pk])).content.decode()
    assert "bottom edge, left edge" in page
    client.post(address, sent)  # once more the same is no correction
    assert StockMovement.objects.filter(stock_piece=sheet, kind="correct").count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"edges_clean": ["1", "99"]}, "edges_clean"),
        ({"outline": "another"}, "outline"),
        ({"outline": ""}, "outline"),
        ({"reason": ""}, "reason"),
    ],
)
def test_what_makes_no_sense_changes_no_edge(cast: Cast, change: Any, field: str) -> None:
    (sheet,) = sheets_for(cast)
    client, address = signed_in(cast.teacher), reverse("stock_edges", args=[sheet.pk])
    good = {
        "outline": client.get(address).context["form"].seen,
        "reason": "looked",
        "edges_clean": ["1"],
    }
    answer = client.post(address, good | change)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert edges_now(sheet) == "all"


SAWN_OUT = SHEET.difference(
    Polygon([(40, 0), (45, 30), (52, 38), (60, 40), (64, 52), (80, 52), (86, 40), (90, 0)])
)  # eight sawn edges in half a hand's width


def test_everything_that_was_sawn_is_one_edge() -> None:
    edges = edges_of(SAWN_OUT)
    clean = {one.key for one in edges if one.length_mm in (40, 210, 150, 300)}
    together = sawn_as_one(SAWN_OUT, edges, clean)
    assert sorted(one.name for one in together) == [
        "bottom edge",
        "bottom edge",
        "everything that was sawn",
        "left edge",
        "right edge",
        "top edge",
    ]
    said = with_clean(together, clean)
    assert clean_keys(edges, said) == clean
    one_filed = clean | {next(one.key for one in edges if one.key not in clean)}
    assert sawn_as_one(SAWN_OUT, edges, one_filed) == edges  # nothing that was said is lost
    assert sawn_as_one(SHEET, edges_of(SHEET), set()) == edges_of(SHEET)


def test_numbers_of_short_edges_stand_apart_and_each_edge_is_met_where_it_is_nearest() -> None:
    edges = edges_of(SAWN_OUT)
    letters = 15.0
    marks = edge_marks(SAWN_OUT, edges, letters, SHEET.buffer(20))
    for n, one in enumerate(marks):
        assert SAWN_OUT.boundary.distance(Point(one.x, one.y)) > letters / 2
        for other in marks[:n]:
            assert abs(one.x - other.x) > 0.7 * letters or abs(one.y - other.y) > 0.7 * letters
    assert any(mark.is_led for mark in marks)
    cells = nearest_to(edges, SHEET.buffer(20))
    for edge, own in zip(edges, cells, strict=True):
        middle = edge.lines[0].interpolate(0.5, normalized=True)
        assert any(cell.covers(middle) for cell in own), edge


@pytest.mark.django_db
def test_what_was_sawn_is_ticked_at_once_or_edge_by_edge(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    how: dict[str, Any] = {"acting": cast.teacher, "reason": "looked"}
    correcting.correct(sheet, outline=SAWN_OUT, edges=ALL_ROUGH, **how)
    client, address = signed_in(cast.teacher), reverse("stock_edges", args=[sheet.pk])
    form = client.get(address).context["form"]
    assert len(form.ticks.ticks) == 6
    sent = {"outline": form.seen, "reason": "filed straight", "edges_clean": ["sawn"]}
    assert client.post(address, sent).status_code == 302
    sheet.refresh_from_db()
    single = f"{address}?each=1"
    form = client.get(single).context["form"]
    assert len(form.shown) == len(form.ticks.ticks) - 5
    assert client.post(single, sent | {"edges_clean": ["5"]}).status_code == 302
    sheet.refresh_from_db()
    assert clean_keys(form.found, edges_from(sheet.clean_edges, sheet.rough_edges)) == {"5"}
    assert client.post(single, sent | {"edges_clean": ["sawn"]}).status_code == 422


@pytest.mark.django_db
def test_a_new_size_keeps_the_edges_that_were_ticked(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    said = with_clean(edges_of(sheet.polygon), {"1"})
    correcting.correct(sheet, acting=cast.teacher, reason="looked", edges=said)
    correcting.correct(sheet, acting=cast.teacher, reason="measured", outline=box(0, 0, 90, 80))
    assert edges_now(sheet) == "bottom edge"


@pytest.mark.django_db
def test_offcuts_take_their_clean_edges_to_the_rack(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    width, height = float(sheet.width_mm), float(sheet.height_mm)
    how: dict[str, Any] = {"acting": cast.teacher, "reason": "test", "cause": "plan:1"}
    stock.reserve([sheet], **how)
    stock.issue([sheet], **how)
    strip = box(0, height - 20, width, height)
    made = stock.cut_up(
        sheet,
        [(strip, Decimal(1)), (box(0, 0, 30, 20), Decimal(1))],
        remeasured={1},
        **how,
    )
    assert [edges_now(one) for one in made] == ["right edge, top edge, left edge", "none"]


@pytest.mark.django_db
def test_sheets_of_a_bill_are_clean_where_they_are_ticked(cast: Cast) -> None:
    (like,) = sheets_for(cast)
    client, address = signed_in(cast.teacher), reverse("receive")
    page = client.get(address)
    (empty,) = page.context["lines"].forms
    assert empty.all_clean
    assert empty.ticks.ticks[1].label == "2: Right edge, along the height"
    sent = {
        "once": page.context["head"]["once"].value(),
        "bought_on": "2026-11-02",
        "line-TOTAL_FORMS": "1",
        "line-INITIAL_FORMS": "0",
        "line-0-metal": str(like.metal_id),
        "line-0-count": "2",
        "line-0-width": "152.4 mm",
        "line-0-height": "304.8 mm",
        "line-0-price": "30",
        "line-0-price_of": "each",
        "line-0-edges_clean": ["bottom edge", "left edge", "top edge"],
    }
    again = client.post(address, sent | {"more": "1"})
    assert again.context["lines"].forms[0]["edges_clean"].value() == sent["line-0-edges_clean"]
    assert again.context["lines"].forms[1].all_clean
    typed = again.context["lines"].forms[0].ticks
    assert [tick.label for tick in typed.ticks[:2]] == [
        "1: Bottom edge, 152.4 mm",
        "2: Right edge, 304.8 mm",
    ]
    upright = [float(word) for word in re.findall(r"[0-9.]+", typed.ticks[1].path)]
    assert upright[0] == upright[2]  # drawn as high as it is, to scale
    assert abs(upright[1] - upright[3]) == pytest.approx(304.8)
    assert client.post(address, sent).status_code == 302
    new = StockPiece.objects.exclude(pk=like.pk)
    assert [edges_now(one) for one in new] == ["bottom edge, top edge, left edge"] * 2


def test_rough_stretches_run_along_the_outline_to_the_last_place() -> None:
    said = with_clean(edges_of(SHEET), {"2"})
    assert isinstance(said.rough, MultiLineString)
    assert SHEET.boundary.buffer(1e-9).covers(said.rough)


@pytest.mark.django_db
def test_edges_that_a_plan_counts_on_stand_and_the_plan_is_named(cast: Cast) -> None:
    (sheet,) = sheets_for(cast)
    client, address = signed_in(cast.teacher), reverse("stock_edges", args=[sheet.pk])
    sent = {
        "outline": client.get(address).context["form"].seen,
        "reason": "looked at",
        "edges_clean": ["1"],
    }
    how: dict[str, Any] = {"acting": cast.teacher, "cause": "cutplan:7"}
    stock.reserve([sheet], reason="reserved for cut plan 7", **how)
    for said in ("reserved for cut plan 7", "handed out for cut plan 7"):
        answer = client.post(address, sent, follow=True)
        assert said in answer.content.decode()
        with pytest.raises(Refused, match=f"{sheet.code} is {said}: "):
            correcting.correct(
                sheet,
                acting=cast.teacher,
                reason="looked at",
                edges=with_clean(edges_of(sheet.polygon), {"1"}),
            )
        assert edges_now(sheet) == "all"
        assert address not in client.get(reverse("stock_piece", args=[sheet.pk])).content.decode()
        if sheet.state == StockPiece.State.RESERVED:
            stock.issue([sheet], reason="handed out for cut plan 7", **how)
