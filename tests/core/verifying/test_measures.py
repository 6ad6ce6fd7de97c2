"""What the judge measures, against cases that can be counted by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Stock, Wanted
from studio.core.verifying import faults, largest_rectangle, measure
from tests.core.placing.jobs import at, frame, sheet, square, triangle
from tests.core.verifying.dissections import MORON_33_CODE, job_of, layout


@pytest.mark.parametrize("k", [1, 2, 5, 9])
def test_squares_in_a_row_along_a_clean_edge_by_formula(k: int) -> None:
    side, kerf = 20.0, 0.3
    job = Job((sheet(),), (Wanted("a", square(side), k),), kerf_mm=kerf)
    row = [at("a", i, i * (side + kerf), 0) for i in range(k)]
    assert faults(job, row) == ()
    found, _ = measure(job, row)
    # every square lies on the bottom edge, the first also on the left edge
    assert found.free_edge_mm == pytest.approx((k + 1) * side)
    assert found.shared_line_mm == pytest.approx((k - 1) * side)
    assert found.saw_line_mm == pytest.approx(4 * k * side - (k + 1) * side - (k - 1) * side)


def test_a_row_on_an_edge_that_is_not_clean_has_no_free_edge() -> None:
    job = Job((sheet(clean=False),), (Wanted("a", square(20), 2),))
    found, _ = measure(job, [at("a", 0, 0.3, 0.3), at("a", 1, 20.6, 0.3)])
    assert found.free_edge_mm == 0.0
    assert found.shared_line_mm == pytest.approx(20.0)


def test_a_strip_of_triangles_shares_its_slanting_lines() -> None:
    kerf, wide, high = 0.3, 30.0, 20.0
    job = Job((sheet(),), (Wanted("t", triangle(wide, high), 2),), kerf_mm=kerf)
    slant = math.hypot(wide, high)
    # the second triangle, upside down, one kerf away across the slant
    dx = kerf * high / slant
    dy = kerf * wide / slant
    pair = [at("t", 0, 0, 0), at("t", 1, wide + dx, high + dy, turn=180.0)]
    found, _ = measure(job, pair)
    assert found.shared_line_mm == pytest.approx(slant, abs=1e-6)
    assert found.free_edge_mm == pytest.approx(wide + high)
    assert found.saw_line_mm == pytest.approx(2 * (wide + high + slant) - slant - wide - high)


def test_lines_further_apart_than_one_kerf_or_shorter_than_3_mm_are_not_shared() -> None:
    job = Job((sheet(),), (Wanted("a", square(20), 2),))
    apart, _ = measure(job, [at("a", 0, 0, 0), at("a", 1, 20.4, 0)])
    assert apart.shared_line_mm == 0.0
    short, _ = measure(job, [at("a", 0, 0, 0), at("a", 1, 20.3, 17.5)])
    assert short.shared_line_mm == 0.0
    long, _ = measure(job, [at("a", 0, 0, 0), at("a", 1, 20.3, 17.0)])
    assert long.shared_line_mm == pytest.approx(3.0)


def test_the_first_moron_rectangle_needs_107_of_saw_line_in_its_own_rectangle() -> None:
    # arithmetic: (4 · 86 − 130) / 2, here ten times as large so that every line is long enough
    found, offcuts = measure(
        job_of(33, 32, MORON_33_CODE, scale=10), layout(33, MORON_33_CODE, scale=10)
    )
    assert found.saw_line_mm == pytest.approx(1070.0)
    assert found.free_edge_mm == pytest.approx(1300.0)
    assert offcuts == ()
    assert found.scrap_mm2 == pytest.approx(0.0, abs=1e-6)


def test_the_first_moron_rectangle_needs_139_in_a_longer_strip() -> None:
    longer = Job(
        (Stock("S1", box(0, 0, 400, 320)),), job_of(33, 32, MORON_33_CODE, 10).pieces, kerf_mm=0.0
    )
    found, _ = measure(longer, layout(33, MORON_33_CODE, scale=10))
    assert found.saw_line_mm == pytest.approx(1390.0)


def test_an_offcut_is_the_rest_of_the_sheet_less_one_kerf_with_its_corners_rounded() -> None:
    job = Job((sheet(box(0, 0, 100, 50)),), (Wanted("a", box(0, 0, 40, 50)),))
    found, offcuts = measure(job, [at("a", 0, 0, 0)])
    rounding = (4 - math.pi) * 6.0**2  # four corners that a disc 12 mm wide cannot reach
    assert len(offcuts) == 1
    assert found.kept_mm2 == pytest.approx(59.7 * 50 - rounding, rel=1e-3)
    assert found.consumed_mm2 == pytest.approx(5000 - found.kept_mm2)
    assert found.scrap_mm2 == pytest.approx(found.consumed_mm2 - 2000)
    assert found.strip_length_mm == pytest.approx(40.0)


def test_an_untouched_stock_piece_costs_nothing() -> None:
    job = Job((sheet(), sheet(name="S2")), (Wanted("a", square(20)),))
    one, _ = measure(Job((sheet(),), job.pieces), [at("a", 0, 0, 0)])
    both, _ = measure(job, [at("a", 0, 0, 0)])
    assert both == one


def test_the_waste_of_a_window_is_an_offcut_when_it_is_large_enough() -> None:
    job = Job((sheet(box(0, 0, 60, 60)),), (Wanted("f", frame(60, 60, 5)),))
    found, offcuts = measure(job, [at("f", 0, 0, 0)])
    assert len(offcuts) == 1
    assert offcuts[0].outline.bounds == pytest.approx((5.3, 5.3, 54.7, 54.7), abs=1e-6)
    assert found.largest_offcut_mm2 == pytest.approx(49.4**2 - (4 - math.pi) * 36, rel=1e-3)


def test_a_leftover_narrower_than_the_least_offcut_is_scrap() -> None:
    job = Job((sheet(box(0, 0, 300, 50)),), (Wanted("a", box(0, 0, 300, 38)),))
    found, offcuts = measure(job, [at("a", 0, 0, 0)])
    assert offcuts == ()
    assert found.scrap_mm2 == pytest.approx(300 * 12)


def test_offcuts_never_reach_into_a_piece_and_are_valid() -> None:
    job = Job((sheet(),), (Wanted("f", frame(60, 60, 5)), Wanted("t", triangle(80, 60))))
    placements = [at("f", 0, 20, 30), at("t", 0, 120, 40, turn=33.0)]
    _, offcuts = measure(job, placements)
    assert len(offcuts) == 2
    for offcut in offcuts:
        assert offcut.outline.is_valid
        for placement in placements:
            piece = placement.lay(job.wanted_by_id[placement.piece].outline)
            assert offcut.outline.distance(piece) >= job.kerf_mm - 1e-3


def test_the_cost_is_the_stated_sum() -> None:
    job = Job((sheet(box(0, 0, 100, 50), price=0.01),), (Wanted("a", box(0, 0, 40, 50)),))
    found, (offcut,) = measure(job, [at("a", 0, 0, 0)])
    rectangle = largest_rectangle(offcut.outline).area_mm2
    worth = 0.01 * (rectangle + 0.6 * (found.kept_mm2 - rectangle))
    cost = 0.01 * 5000 - worth - 0.1 * 0.01 * found.scrap_mm2 + 0.002 * found.saw_line_mm
    assert found.cost == pytest.approx(cost)
    assert found.saw_line_mm == pytest.approx(50.0)


def test_nothing_placed_measures_nothing() -> None:
    found, offcuts = measure(Job((sheet(),), ()), [])
    assert found.cost == found.consumed_mm2 == found.saw_line_mm == 0.0
    assert offcuts == ()


@pytest.mark.parametrize("turn", [0, 5, 30, 45, 85])
def test_the_largest_rectangle_of_a_rectangle_is_itself_at_any_listed_turn(turn: int) -> None:
    found = largest_rectangle(affinity.rotate(box(3, 4, 83, 34), turn, origin=(0, 0)))
    assert (found.longer_mm, found.shorter_mm) == pytest.approx((80.0, 30.0), rel=1e-6)


def test_the_largest_rectangle_of_an_l_is_its_longer_arm() -> None:
    shape = Polygon([(0, 0), (100, 0), (100, 30), (40, 30), (40, 60), (0, 60)])
    assert largest_rectangle(shape).area_mm2 == pytest.approx(3000.0)


def test_the_largest_rectangle_in_a_triangle_is_half_of_it() -> None:
    # classical: half the area, standing on a side
    assert largest_rectangle(triangle(60, 40)).area_mm2 == pytest.approx(600.0, rel=0.01)


def test_the_largest_rectangle_avoids_windows() -> None:
    shape = Polygon(box(0, 0, 100, 50).exterior, [box(45, 20, 50, 25).exterior])
    assert largest_rectangle(shape).area_mm2 == pytest.approx(50 * 50)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 60)), min_size=3, max_size=9, unique=True)
)
def test_the_largest_rectangle_lies_in_its_polygon(points: list[tuple[float, float]]) -> None:
    hull = Polygon(points).convex_hull
    if isinstance(hull, Polygon) and hull.area > 1.0:
        found = largest_rectangle(hull)
        assert hull.buffer(1e-6).covers(found.polygon)
        assert found.area_mm2 > 0.0
