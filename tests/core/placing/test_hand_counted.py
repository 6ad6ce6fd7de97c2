"""Straight-edged jobs whose least saw line can be counted on a sheet of paper."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Wanted
from tests.core.placing.jobs import sheet, square, triangle

from .judging import judged

KERF = 0.3
NEAR_MM = 0.5

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("warm")]


def test_two_triangles_out_of_one_square_need_one_cut_along_the_diagonal() -> None:
    # their long sides lie one kerf apart; all four legs lie on the metal's clean edges
    side = 20 + KERF / math.sqrt(2)
    plan = judged(Job((sheet(square(side)),), (Wanted("t", triangle(20, 20), 2),)), rounds=30)
    assert plan.status == "complete"
    assert plan.measures.saw_line_mm == pytest.approx(20 * math.sqrt(2), abs=NEAR_MM)
    assert plan.measures.free_edge_mm == pytest.approx(80, abs=NEAR_MM)


def test_four_squares_in_a_corner_share_four_sides_and_leave_four_free() -> None:
    # two by two: rims 320, shared 4 × 20, free 4 × 20; a row of four has 60 shared and 100 free
    plan = judged(Job((sheet(),), (Wanted("a", square(20), 4),)), rounds=30)
    assert plan.measures.saw_line_mm <= 160 + NEAR_MM


def test_rows_of_tags_across_the_sheet_are_sawn_as_a_grid() -> None:
    # three tags with two kerfs fill the width; in two columns the grid is 2 × 60 across for the
    # columns' right ends and 2 × 80 along between the rows
    metal = sheet(box(0, 0, 200, 3 * 20 + 2 * KERF))
    plan = judged(Job((metal,), (Wanted("tag", box(0, 0, 40, 20), 6),)), rounds=30)
    assert plan.measures.saw_line_mm <= 280 + NEAR_MM


def test_a_strip_of_triangles_shares_every_slanting_side() -> None:
    # four equal-sided triangles of 20 mm in metal as high as they are: up, down, up, down; three
    # slanting sides are shared, the four level sides are free, and so is no end
    high = 10 * math.sqrt(3)
    wedge = Polygon([(0, 0), (20, 0), (10, high)])
    plan = judged(Job((sheet(box(0, 0, 200, high)),), (Wanted("w", wedge, 4),)), rounds=30)
    assert plan.status == "complete"
    assert plan.measures.saw_line_mm <= 12 * 20 - 3 * 20 - 4 * 20 + 2 * KERF + NEAR_MM


def test_two_halves_of_a_tag_cut_by_a_slant_fit_together_along_it() -> None:
    # a tag of 40 × 20 in the corner: the slant is one shared line, 40 and 20 lie on clean edges
    half = Polygon([(0, 0), (30, 0), (10, 20), (0, 20)])
    plan = judged(Job((sheet(),), (Wanted("h", half, 2),)), rounds=30)
    assert plan.measures.saw_line_mm <= 2 * half.length - math.hypot(20, 20) - 60 + NEAR_MM
