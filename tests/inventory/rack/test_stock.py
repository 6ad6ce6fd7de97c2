"""The rack: pieces are received, kept, handed out, cut up and scrapped, and nothing gets lost."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from shapely import get_num_coordinates, unary_union
from shapely.geometry import Point, Polygon, box

from classroom.models import School
from classroom.refusals import Refused
from inventory.buying import receiving
from inventory.buying.sheet_line import SheetLine
from inventory.models import Metal, Purchase, ScrapEntry, StockMovement, StockPiece
from inventory.rack import stock
from inventory.rack.outlines import checked_outline
from inventory.rack.scrap import box_mass, weigh_scrap
from inventory.rack.stock import SomebodyWasFirst
from tests.people import Cast

DAY = dt.date(2026, 11, 2)


def copper_of(school: School) -> Metal:
    return Metal.objects.create(
        school=school, alloy_code="C11000", thickness_mm=Decimal("0.812"), temper="soft"
    )


@pytest.fixture
def copper(cast: Cast) -> Metal:
    return copper_of(cast.school)


def sheets(cast: Cast, copper: Metal, count: int = 1, total: str = "30.00") -> list[StockPiece]:
    line = SheetLine(copper, count, Decimal("152.4"), Decimal("304.8"), Decimal(total))
    purchase = receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=DAY, seller="Quay Metals", reference=""
    )
    return list(StockPiece.objects.filter(purchase_line__purchase=purchase).order_by("code"))


def moved(verb: Any, pieces: list[StockPiece], cast: Cast, cause: str = "cutplan:1") -> None:
    verb(pieces, acting=cast.teacher, reason="for a plan", cause=cause)


def test_a_purchase_makes_one_labelled_stock_piece_per_sheet(cast: Cast, copper: Metal) -> None:
    pieces = sheets(cast, copper, count=3, total="100.00")
    assert [piece.code for piece in pieces] == ["CU-0.81-001", "CU-0.81-002", "CU-0.81-003"]
    assert [piece.cost for piece in pieces] == [
        Decimal("33.34"),
        Decimal("33.33"),
        Decimal("33.33"),
    ]
    assert {piece.state for piece in pieces} == {"rack"}
    assert {piece.kind for piece in pieces} == {"sheet"}
    received = StockMovement.objects.get(stock_piece=pieces[0])
    assert (received.kind, received.actor) == ("receive", cast.teacher)


def test_a_6_by_12_inch_sheet_of_20_gauge_copper_weighs_335_2_g(cast: Cast, copper: Metal) -> None:
    # Outside check: 15.24 cm x 30.48 cm x 0.08118 cm x 8.89 g/cm3 = 335.2 g (unrounded gauge)
    (sheet,) = sheets(cast, copper)
    assert sheet.area_mm2 == Decimal("46451.52")  # 72 sq in x 645.16
    assert sheet.mass_g == pytest.approx(15.24 * 30.48 * 0.0812 * 8.89)
    assert sheet.mass_g == pytest.approx(335.2, abs=0.2)
    assert sheet.price_per_mm2 == Decimal("30.00") / Decimal("46451.52")


def test_labels_go_on_counting_and_each_school_counts_for_itself(cast: Cast, copper: Metal) -> None:
    sheets(cast, copper, count=2)
    assert sheets(cast, copper)[0].code == "CU-0.81-003"
    theirs = copper_of(cast.outsider.school)
    line = SheetLine(theirs, 1, Decimal(100), Decimal(100), Decimal(5))
    receiving.receive_purchase(cast.outsider.school, [line], acting=cast.outsider, bought_on=DAY)
    assert StockPiece.objects.get(school=cast.outsider.school).code == "CU-0.81-001"


@pytest.mark.parametrize(
    "change",
    [
        {"count": 0},
        {"count": 201},
        {"width_mm": Decimal(0)},
        {"width_mm": Decimal("-1")},
        {"width_mm": Decimal("NaN")},
        {"height_mm": Decimal("1e9")},
        {"total": Decimal("-0.01")},
        {"total": Decimal("NaN")},
        {"total": Decimal("1.001")},
    ],
)
def test_a_line_that_makes_no_sense_keeps_nothing(
    cast: Cast, copper: Metal, change: dict[str, Any]
) -> None:
    good: dict[str, Any] = {
        "metal": copper,
        "count": 1,
        "width_mm": Decimal(100),
        "height_mm": Decimal(100),
        "total": Decimal(10),
    }
    lines = [SheetLine(**good), SheetLine(**(good | change))]
    with pytest.raises(Refused):
        receiving.receive_purchase(cast.school, lines, acting=cast.teacher, bought_on=DAY)
    assert (Purchase.objects.count(), StockPiece.objects.count()) == (0, 0)


def test_another_schools_metal_is_refused(cast: Cast) -> None:
    theirs = copper_of(cast.outsider.school)
    line = SheetLine(theirs, 1, Decimal(100), Decimal(100), Decimal(5))
    with pytest.raises(Refused, match="not on this school's list"):
        receiving.receive_purchase(cast.school, [line], acting=cast.teacher, bought_on=DAY)
    with pytest.raises(Refused, match="not on this school's list"):
        stock.receive_offcut(
            cast.school, theirs, box(0, 0, 9, 9), acting=cast.teacher, cost=Decimal(0), reason="x"
        )


def test_an_offcut_keeps_its_true_outline_with_its_windows(cast: Cast, copper: Metal) -> None:
    shape = Polygon([(50, 50), (90, 50), (90, 80), (50, 80)], [[(60, 60), (70, 60), (65, 70)]])
    piece = stock.receive_offcut(
        cast.school, copper, shape, acting=cast.teacher, cost=Decimal("1.20"), reason="found"
    )
    piece.refresh_from_db()
    assert piece.polygon.bounds == (0, 0, 40, 30)
    assert piece.area_mm2 == Decimal("1150.00")
    assert len(piece.polygon.interiors) == 1
    assert not piece.clean_edges


def test_an_outline_that_crosses_itself_is_refused_with_the_point(
    cast: Cast, copper: Metal
) -> None:
    bow_tie = Polygon([(0, 0), (40, 40), (40, 0), (0, 40)])
    with pytest.raises(Refused, match=r"crosses or touches itself at x 20\.00 mm, y 20\.00 mm"):
        stock.receive_offcut(
            cast.school, copper, bow_tie, acting=cast.teacher, cost=Decimal(0), reason="x"
        )


def test_a_sheet_is_reserved_issued_and_cut_up_into_offcuts(cast: Cast, copper: Metal) -> None:
    (sheet,) = sheets(cast, copper)
    moved(stock.reserve, [sheet], cast)
    moved(stock.issue, [sheet], cast)
    kept = stock.cut_up(
        sheet,
        [(box(10, 10, 60, 40), Decimal("0.97")), (box(0, 0, 30, 30), Decimal("0.58"))],
        acting=cast.teacher,
        reason="closed",
        cause="cutplan:1",
    )
    sheet.refresh_from_db()
    assert sheet.state == "gone"
    assert [piece.code for piece in kept] == ["CU-0.81-002", "CU-0.81-003"]
    assert [piece.parent for piece in kept] == [sheet, sheet]
    assert [piece.area_mm2 for piece in kept] == [Decimal("1500.00"), Decimal("900.00")]
    assert [move.kind for move in sheet.movements.all()] == ["receive", "reserve", "issue", "cut"]
    assert {move.cause for move in kept[0].movements.all()} == {"cutplan:1"}


def test_a_piece_that_somebody_else_reserved_is_named_and_nothing_is_kept(
    cast: Cast, copper: Metal
) -> None:
    first, second = sheets(cast, copper, count=2)
    moved(stock.reserve, [second], cast, cause="cutplan:1")
    with pytest.raises(SomebodyWasFirst, match=r"CU-0\.81-002 is reserved for a cut plan now"):
        moved(stock.reserve, [first, second], cast, cause="cutplan:2")
    first.refresh_from_db()
    assert first.state == "rack"
    assert StockMovement.objects.filter(cause="cutplan:2").count() == 0


def test_released_pieces_are_on_the_rack_again(cast: Cast, copper: Metal) -> None:
    (sheet,) = sheets(cast, copper)
    moved(stock.reserve, [sheet], cast)
    moved(stock.release, [sheet], cast)
    assert list(StockPiece.objects.on_the_rack()) == [sheet]
    with pytest.raises(SomebodyWasFirst):
        moved(stock.release, [sheet], cast)


def test_a_piece_handed_out_can_come_back_uncut(cast: Cast, copper: Metal) -> None:
    (sheet,) = sheets(cast, copper)
    moved(stock.reserve, [sheet], cast)
    moved(stock.issue, [sheet], cast)
    moved(stock.bring_back, [sheet], cast)
    sheet.refresh_from_db()
    assert sheet.state == "rack"


def test_offcuts_are_neither_larger_nor_dearer_than_the_piece_they_come_from(
    cast: Cast, copper: Metal
) -> None:
    (sheet,) = sheets(cast, copper)
    moved(stock.reserve, [sheet], cast)
    moved(stock.issue, [sheet], cast)
    how: dict[str, Any] = {"acting": cast.teacher, "reason": "closed", "cause": "cutplan:1"}
    with pytest.raises(Refused, match="larger together"):
        stock.cut_up(sheet, [(box(0, 0, 200, 300), Decimal(1))], **how)
    with pytest.raises(Refused, match="cost more"):
        stock.cut_up(sheet, [(box(0, 0, 20, 30), Decimal("30.01"))], **how)
    sheet.refresh_from_db()
    assert sheet.state == "issued"


def test_a_scrapped_piece_is_weighed_into_its_alloys_box(cast: Cast, copper: Metal) -> None:
    (sheet,) = sheets(cast, copper)
    stock.scrap(sheet, acting=cast.teacher, reason="bent beyond use")
    assert box_mass(cast.school, "C11000") == Decimal("335.32")  # 46451.52 x 0.812 x 8.89 / 1000
    with pytest.raises(SomebodyWasFirst):
        stock.scrap(sheet, acting=cast.teacher, reason="again")
    assert ScrapEntry.objects.count() == 1


def test_weighing_nothing_writes_nothing(cast: Cast) -> None:
    assert (
        weigh_scrap(
            cast.school, "C11000", Decimal(0), acting=cast.teacher, reason="x", cause="cutplan:1"
        )
        is None
    )
    assert ScrapEntry.objects.count() == 0


@pytest.mark.parametrize("mass", ["-1", "NaN", "Infinity", "1e400", "500001"])
def test_a_weight_that_no_scale_shows_is_refused(cast: Cast, mass: str) -> None:
    with pytest.raises(Refused):
        weigh_scrap(cast.school, "C11000", Decimal(mass), acting=cast.teacher, reason="x", cause="")


def test_what_a_whole_class_leaves_of_a_sheet_is_kept_in_all_its_detail(
    cast: Cast, copper: Metal
) -> None:
    (sheet,) = sheets(cast, copper)
    moved(stock.reserve, [sheet], cast)
    moved(stock.issue, [sheet], cast)
    holes = [Point(15 + 25 * (n % 5), 15 + 25 * (n // 5)).buffer(10, 128) for n in range(50)]
    left = box(0, 0, 152.4, 304.8).difference(unary_union(holes))
    assert isinstance(left, Polygon)
    assert get_num_coordinates(left) > 20_000
    (kept,) = stock.cut_up(
        sheet, [(left, Decimal("9.00"))], acting=cast.teacher, reason="closed", cause="cutplan:1"
    )
    assert float(kept.area_mm2) == pytest.approx(left.area, abs=0.1)
    assert len(kept.polygon.interiors) == 50


def test_a_crumb_on_a_neck_thinner_than_a_hair_does_not_keep_an_offcut_off_the_rack() -> None:
    with_crumb = Polygon(
        [(0, 0), (40, 0), (40, 20), (20.00001, 20), (20.3, 20.3), (19.7, 20.3), (20, 20), (0, 20)]
    )
    assert checked_outline(with_crumb).area == pytest.approx(800, abs=0.5)
    with pytest.raises(Refused, match="too narrow"):
        checked_outline(
            Polygon(
                [(0, 0), (40, 0), (40, 20), (20.00001, 20), (30, 40), (10, 40), (20, 20), (0, 20)]
            )
        )
