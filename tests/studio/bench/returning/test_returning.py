"""Area out equals pieces, offcuts, kerf and scrap, on random plans; and who pays for what."""

from __future__ import annotations

import math
from typing import Any

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Plan, Stock, Wanted
from studio.core.offcuts.returning import (
    ReturnError,
    StockOut,
    balance,
    smaller,
    total,
    used_by,
    what_comes_back,
)
from studio.core.offcuts.saw_cuts import band_mm2
from studio.core.verifying import faults, measure
from tests.shapes import circle, with_windows

TAG = with_windows(box(0, 0, 20, 10), box(4, 3, 10, 7))


def plan_on(
    metals: list[Stock], placed: list[tuple[Polygon, str, str, float]], **job: Any
) -> tuple[Job, Plan]:
    """A job and its judged plan: each piece (outline where it lies, metal, group, turn)."""
    orders = tuple(
        Wanted(f"p{number}", outline, group=group)
        for number, (outline, _, group, _) in enumerate(placed)
    )
    asked = Job(tuple(metals), orders, **job)
    placements = tuple(
        Placement(f"p{number}", 0, metal, False, turn, 0.0, 0.0)
        for number, (_, metal, _, turn) in enumerate(placed)
    )
    measures, offcuts = measure(asked, placements)
    return asked, Plan(placements, (), measures, offcuts, 1, 0.1, 1)


@st.composite
def plans(draw: st.DrawFn) -> tuple[Job, Plan, list[str], set[str]]:
    """Pieces of random shapes in the cells of a coarse grid on one or two stock pieces.

    The metal may have a bite out of a corner or a hole; any of three projects may be given up.
    """
    kerf = draw(st.sampled_from([0.2, 0.3, 1.0]))
    cell = 30.0
    metals, placed = [], []
    for name in draw(st.sampled_from([["A"], ["A", "B"]])):
        columns, rows = draw(st.integers(1, 4)), draw(st.integers(1, 3))
        sheet: Polygon = box(0, 0, columns * cell, rows * cell)
        if draw(st.booleans()):
            sheet = sheet.difference(box(-1, -1, draw(st.floats(1, 8)), draw(st.floats(1, 8))))
        if draw(st.booleans()):
            sheet = sheet.difference(circle(cell * columns / 2, cell * rows / 2, 5.0, 32))
        metals.append(Stock(name, sheet, 0.001))
        for column in range(columns):
            for row in range(rows):
                if not draw(st.booleans()):
                    continue
                shape = draw(piece_shapes())
                lies = affinity.translate(shape, (column + 0.5) * cell, (row + 0.5) * cell)
                if not sheet.contains(lies.buffer(kerf)):
                    continue
                group = draw(st.sampled_from(["project-1", "project-2", "project-3"]))
                placed.append((lies, name, group, 0.0))
    assume(placed)
    job, plan = plan_on(metals, placed, kerf_mm=kerf, offcut_min_area_mm2=200.0)
    assert faults(job, plan.placements) == ()
    codes = [metal.id for metal in metals]
    given_up = draw(st.sets(st.sampled_from(["project-1", "project-2", "project-3"])))
    return job, plan, codes, given_up


@st.composite
def piece_shapes(draw: st.DrawFn) -> Polygon:
    """A star-shaped outline around the origin, within 13 mm, perhaps with a window."""
    count = draw(st.integers(3, 9))
    reach = draw(st.lists(st.floats(4, 13), min_size=count, max_size=count))
    points = [
        (r * math.cos(math.tau * n / count), r * math.sin(math.tau * n / count))
        for n, r in enumerate(reach)
    ]
    outline = Polygon(points)
    assume(outline.is_valid and outline.area > 20)
    window = circle(0, 0, 2.0, 24)
    if draw(st.booleans()) and outline.contains(window.buffer(0.5)):
        return with_windows(outline, window)
    return outline


@settings(max_examples=50, deadline=None)
@given(plans(), st.data())
def test_area_is_conserved_whatever_is_kept(
    made: tuple[Job, Plan, list[str], set[str]], data: st.DataObject
) -> None:
    job, plan, codes, given_up = made
    outs = what_comes_back(job, plan, codes, given_up=given_up)
    balances = []
    for out in outs:
        kept = [leaf.outline for leaf in out.leaves if data.draw(st.booleans())]
        one = balance(out, kept)
        balances.append(one)
        metal = job.stock_by_id[out.code].outline
        assert one.out == pytest.approx(metal.area, abs=1e-6)
        assert abs(one.unexplained) <= 1.0
        assert min(one.pieces, one.offcuts, one.kerf, one.scrap) >= 0
        # By geometry, not only by sums: what is kept is metal, and clear of the saw cuts.
        pieces = [piece for own in out.made.values() for piece in own]
        for outline in kept:
            assert outline.difference(out.outline).area < 1e-3
            if pieces:
                assert outline.distance(shapely.union_all(pieces)) >= job.kerf_mm - 0.02
    assert abs(total(balances).unexplained) <= len(outs)


@settings(max_examples=10, deadline=None)
@given(plans())
def test_a_stock_piece_on_which_nothing_was_made_comes_back_whole(
    made: tuple[Job, Plan, list[str], set[str]],
) -> None:
    job, plan, codes, _ = made
    everybody = {"project-1", "project-2", "project-3"}
    for out in what_comes_back(job, plan, codes, given_up=everybody):
        assert [leaf.whole for leaf in out.leaves] == [True]
        one = balance(out, [out.leaves[0].outline])
        assert (one.pieces, one.kerf) == (0, 0)
        assert one.scrap == pytest.approx(0, abs=1e-6)
        assert sum(used_by(out, {out.leaves[0].key: out.leaves[0].outline}).values()) < 1e-6


def test_the_band_around_a_square_is_its_rim_with_round_corners() -> None:
    """40 x 0.5 along the sides and a quarter disc at each corner (elementary geometry)."""
    area = band_mm2(box(-50, -50, 50, 50), [box(0, 0, 10, 10)], 0.5)
    assert area == pytest.approx(40 * 0.5 + math.pi * 0.25, rel=2e-3)


def test_a_shared_line_is_sawn_once() -> None:
    metal = box(-50, -50, 50, 50)
    one, other = box(0, 0, 10, 10), box(10.5, 0, 20.5, 10)
    apart = band_mm2(metal, [one], 0.5) + band_mm2(metal, [other], 0.5)
    assert band_mm2(metal, [one, other], 0.5) == pytest.approx(apart - 10 * 0.5, abs=0.5)


def test_a_free_edge_costs_no_kerf() -> None:
    metal = box(0, 0, 50, 50)
    assert band_mm2(metal, [box(0, 0, 10, 10)], 0.5) == pytest.approx(
        2 * 10 * 0.5 + math.pi * 0.25 / 4, rel=1e-2
    )


def test_a_window_is_sawn_inside() -> None:
    metal = box(-50, -50, 50, 50)
    plain = band_mm2(metal, [box(0, 0, 20, 10)], 0.3)
    pierced = band_mm2(metal, [TAG], 0.3)
    assert pierced - plain == pytest.approx(6 * 4 - 5.4 * 3.4, abs=1e-6)


def two_squares(hands: Hands | None, apart: float) -> tuple[Job, Plan]:
    """Of 20 mm each, side by side in the middle of rough metal."""
    metal = Stock("A", box(-50, -50, 100, 100), 0.001, clean_edges=False)
    one, other = box(0, 0, 20, 20), box(20 + apart, 0, 40 + apart, 20)
    placed = [(one, "A", "project-1", 0.0), (other, "A", "project-2", 0.0)]
    return plan_on([metal], placed, kerf_mm=0.3, hands=hands)


BOTH_BANDS = 2 * (80 * 0.3 + math.pi * 0.3**2)
"""Around each of two squares 80 x 0.3 along the sides and a quarter disc at each corner."""


@pytest.mark.parametrize(
    ("hands", "apart", "once"),
    [
        (Hands(2.0, 0.7), 2.0, 0),  # too far apart for one cut
        (Hands(1.0, 0.5), 1.0, 20),  # down the middle
        (Hands(2.0, 0.7), 0.7, 20),  # along a line that they share
        (Hands(0.3, 0.3), 0.3, 20),  # on the line
        (None, 1.0, 0),  # before there were rules for hands: round each piece
    ],
)
def test_one_cut_for_two_is_sawn_once_and_the_rest_of_the_gap_is_scrap(
    hands: Hands | None, apart: float, once: float
) -> None:
    job, plan = two_squares(hands, apart)
    (out,) = what_comes_back(job, plan, ["A"])
    # where the squares are less than two kerfs apart, corners of both bands overlap a little
    assert out.kerf_mm2 == pytest.approx(BOTH_BANDS - once * 0.3, abs=0.02 if apart > 0.6 else 0.2)
    kept = sum(offcut.outline.area for offcut in plan.offcuts)
    scrap = 150**2 - 2 * 400 - kept - out.kerf_mm2
    assert balance(out, [leaf.outline for leaf in out.leaves]).scrap == pytest.approx(scrap)


def test_a_neighbour_that_was_not_made_shares_no_cut() -> None:
    job, plan = two_squares(Hands(1.0, 0.5), 1.0)
    (out,) = what_comes_back(job, plan, ["A"], given_up={"project-2"})
    assert out.kerf_mm2 == pytest.approx(BOTH_BANDS / 2, abs=0.02)


def test_without_hands_the_saw_cuts_are_the_band_to_the_last_digit() -> None:
    job, plan = two_squares(None, 0.3)
    (out,) = what_comes_back(job, plan, ["A"])
    pieces = [p.lay(job.wanted_by_id[p.piece].outline) for p in plan.placements]
    assert out.kerf_mm2 == band_mm2(job.metal[0].outline, pieces, 0.3)


def test_a_smaller_rectangle_is_taken_as_measured() -> None:
    out = one_tag()
    assert smaller(out.leaves[0], 30, 20).area == 600


@pytest.mark.parametrize(
    ("width", "height", "says"),
    [
        (200, 20, "a larger one cannot"),
        (119.5, 79.5, "more metal than the plan leaves"),
        (0, 20, "above 0"),
        (-5, 20, "above 0"),
        (math.nan, 20, "above 0"),
        (math.inf, 20, "above 0"),
    ],
)
def test_a_rectangle_that_cannot_have_come_back_is_refused(
    width: float, height: float, says: str
) -> None:
    with pytest.raises(ReturnError, match=says):
        smaller(one_tag().leaves[0], width, height)


def test_more_than_the_saw_left_is_refused() -> None:
    out = one_tag()
    with pytest.raises(ReturnError, match="Check the sizes"):
        balance(out, [box(0, 0, 119.9, 79.9)])


def test_a_project_given_up_pays_for_what_did_not_come_back() -> None:
    far = affinity.translate(TAG, 60, 50)
    job, plan = plan_on(
        [Stock("A", box(0, 0, 120, 80), 0.001)],
        [(affinity.translate(TAG, 1, 1), "A", "project-1", 0.0), (far, "A", "project-2", 0.0)],
    )
    (out,) = what_comes_back(job, plan, ["A"], given_up={"project-2"})
    everything = {leaf.key: leaf.outline for leaf in out.leaves}
    assert used_by(out, everything) == pytest.approx({"project-1": TAG.area, "project-2": 0.0})
    assert used_by(out, {}) == pytest.approx({"project-1": TAG.area, "project-2": TAG.area})


def test_metal_in_two_parts_comes_back_whole() -> None:
    parts = MultiPolygon([box(0, 0, 40, 40), box(60, 0, 100, 40)])
    job, plan = plan_on(
        [Stock("A", parts, 0.001)], [(affinity.translate(TAG, 1, 1), "A", "project-1", 0.0)]
    )
    (out,) = what_comes_back(job, plan, ["A"], given_up={"project-1"})
    assert balance(out, [out.leaves[0].outline]).scrap == pytest.approx(0)


def one_tag() -> StockOut:
    job, plan = plan_on(
        [Stock("A", box(0, 0, 120, 80), 0.001)],
        [(affinity.translate(TAG, 1, 1), "A", "project-1", 0.0)],
    )
    return what_comes_back(job, plan, ["A"])[0]
