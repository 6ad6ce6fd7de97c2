"""Metal is parted into blanks and leftovers: areas and cents are kept, edges known."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from classroom.refusals import Refused
from inventory.models import Metal, StockMovement, StockPiece
from inventory.rack import parting, stock
from inventory.rack.edges import edges_from, named
from inventory.rack.parting import Part
from inventory.rack.stock import SomebodyWasFirst
from studio.core.pricing.part_costs import part_costs
from tests.people import Cast

CENT = Decimal("0.01")


def handed_out(
    cast: Cast, cost: str = "24.00", width: float = 120, height: float = 80
) -> StockPiece:
    metal, _ = Metal.objects.get_or_create(
        school=cast.school, alloy_code="C11000", thickness_mm=Decimal("0.813")
    )
    outline = box(0, 0, width, height)
    piece = stock.receive_offcut(
        cast.school,
        metal,
        outline,
        acting=cast.teacher,
        cost=Decimal(cost),
        reason="bought",
        clean_edges=True,
    )
    how = {"acting": cast.teacher, "reason": "for a plan", "cause": "cutplan:1"}
    stock.reserve([piece], **how)
    stock.issue([piece], **how)
    piece.refresh_from_db()
    return piece


def parted(
    cast: Cast,
    piece: StockPiece,
    blanks: list[Polygon],
    leftovers: list[Polygon],
    *,
    clean_cuts: bool = False,
) -> parting.Parted:
    left, own = part_costs(
        piece.cost,
        piece.area_mm2,
        [Decimal(f"{one.area:.2f}") for one in leftovers],
        [Decimal(f"{one.area:.2f}") for one in blanks],
    )
    return parting.part(
        piece,
        [Part(*pair) for pair in zip(blanks, own, strict=True)],
        [Part(*pair) for pair in zip(leftovers, left, strict=True)],
        clean_cuts=clean_cuts,
        acting=cast.teacher,
        reason="parted",
        cause="cutplan:1",
        place="Drawer 2",
    )


@given(
    cents=st.integers(0, 1_000_000),
    widths=st.lists(st.integers(15, 90), min_size=2, max_size=9),
    left_over=st.integers(0, 4),
    kerf=st.sampled_from([0.0, 0.3]),
)
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_every_cent_and_every_mm2_is_somewhere(
    cast: Cast, cents: int, widths: list[int], left_over: int, kerf: float
) -> None:
    whole = sum(widths) + kerf * (len(widths) - 1)
    piece = handed_out(cast, str(cents * CENT), width=whole)
    strips, x = [], 0.0
    for width in widths:
        strips.append(box(x, 0, x + width, 80))
        x += width + kerf
    left_over = min(left_over, len(widths) - 1)
    made = parted(cast, piece, strips[left_over:], strips[:left_over])
    rows = [*made.blanks, *made.leftovers]
    assert sum(one.cost for one in rows) == piece.cost
    gone = float(piece.area_mm2) - sum(float(one.area_mm2) for one in rows)
    assert gone == pytest.approx(kerf * 80 * (len(widths) - 1), abs=0.01 * len(rows) + 0.01)
    # leftovers cost what their area does; only blanks bear what the cuts took, by their area
    for one in made.leftovers:
        share = piece.cost * one.area_mm2 / piece.area_mm2
        assert abs(one.cost - share) <= CENT
    rest = piece.cost - sum((one.cost for one in made.leftovers), Decimal(0))
    area = sum((one.area_mm2 for one in made.blanks), Decimal(0))
    for one in made.blanks:
        assert abs(one.cost - rest * one.area_mm2 / area) <= CENT
    # the movements alone say the same
    moved = StockMovement.objects.filter(stock_piece__in=[piece, *rows])
    assert sum(one.cost for one in moved) == piece.cost


def test_blanks_are_handed_out_and_leftovers_lie_on_the_rack(cast: Cast) -> None:
    piece = handed_out(cast)
    made = parted(cast, piece, [box(0, 0, 80, 80)], [box(80, 0, 120, 80)])
    (blank,), (left,) = made.blanks, made.leftovers
    for one in (blank, left, piece):
        one.refresh_from_db()
    assert (blank.state, left.state, piece.state) == ("issued", "rack", "gone")
    assert (blank.place, left.place) == ("", "Drawer 2")
    assert len({blank.code, left.code, piece.code}) == 3


@pytest.mark.parametrize(
    ("clean_cuts", "clean"),
    [(False, "bottom edge, top edge, left edge"), (True, "all")],
)
def test_cut_edges_are_rough_unless_the_tool_leaves_them_clean(
    cast: Cast, clean_cuts: bool, clean: str
) -> None:
    piece = handed_out(cast)
    made = parted(cast, piece, [box(0, 0, 80, 80)], [box(80, 0, 120, 80)], clean_cuts=clean_cuts)
    blank = made.blanks[0]
    assert named(blank.polygon, edges_from(blank.clean_edges, blank.rough_edges)) == clean


def test_a_guillotine_makes_no_rough_edge_of_the_sheet_clean(cast: Cast) -> None:
    piece = handed_out(cast)
    StockPiece.objects.filter(pk=piece.pk).update(rough_edges="MULTILINESTRING ((0 0, 120 0))")
    piece.refresh_from_db()
    made = parted(cast, piece, [box(0, 0, 80, 80)], [box(80, 0, 120, 80)], clean_cuts=True)
    blank = made.blanks[0]
    now = named(blank.polygon, edges_from(blank.clean_edges, blank.rough_edges))
    assert "bottom edge" not in now
    assert "right edge" in now


def test_costs_that_do_not_add_up_are_refused(cast: Cast) -> None:
    piece = handed_out(cast)
    with pytest.raises(Refused, match="do not cost"):
        parting.part(
            piece,
            [Part(box(0, 0, 80, 80), Decimal("23.99"))],
            [],
            clean_cuts=False,
            acting=cast.teacher,
            reason="parted",
            cause="cutplan:1",
        )
    piece.refresh_from_db()
    assert piece.state == "issued"


def test_parts_larger_than_the_metal_are_refused(cast: Cast) -> None:
    piece = handed_out(cast)
    with pytest.raises(Refused, match="larger together"):
        parted(cast, piece, [box(0, 0, 100, 80)], [box(70, 0, 120, 80)])


def test_metal_that_is_parted_is_not_parted_again(cast: Cast) -> None:
    piece = handed_out(cast)
    parted(cast, piece, [box(0, 0, 80, 80)], [])
    with pytest.raises(SomebodyWasFirst):
        parted(cast, piece, [box(0, 0, 80, 80)], [])
