"""Papers for a stock piece: which pieces share one, and how far each reaches beyond its lines."""

from __future__ import annotations

import math

import pytest
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from studio.core.picturing.papers import OnPaper, Paper, papers_on_metal, plain_paper

METAL = box(0, 0, 100, 60)
TAG = box(0, 0, 30, 20)
RING = Polygon(box(0, 0, 50, 40).exterior.coords, [box(5, 5, 45, 35).exterior.coords])


def at(x: float, y: float, owner: str = "a", outline: Polygon = TAG) -> OnPaper:
    return OnPaper(affinity.translate(outline, x, y), owner)


def papers(*pieces: OnPaper, rim: float = 1.5) -> tuple[Paper, ...]:
    found = papers_on_metal(pieces, METAL, rim_mm=rim)
    for n, paper in enumerate(found):
        assert METAL.buffer(0.001).covers(paper.outline)
        assert all(paper.outline.intersection(o.outline).area < 0.2 for o in found[n + 1 :])
    return found


@pytest.mark.parametrize("rim", [1.0, 1.5, 2.0])
def test_alone_a_piece_has_its_rim_all_round_and_no_line_to_trim(rim: float) -> None:
    (paper,) = papers(at(10, 10), rim=rim)
    area = 30 * 20 + 2 * (30 + 20) * rim + math.pi * rim**2
    assert paper.outline.area == pytest.approx(area, rel=0.002)
    assert paper.flush.is_empty
    assert plain_paper(TAG, rim_mm=rim).area == pytest.approx(area, rel=0.002)


def test_one_students_pieces_less_than_one_and_a_half_apart_are_one_paper() -> None:
    (one,) = papers(at(10, 10), at(41.4, 10))
    assert one.holds == (0, 1)
    assert len(one.outline.interiors) == 0
    assert one.outline.bounds == pytest.approx((8.5, 8.5, 72.9, 31.5), abs=0.05)
    assert one.flush.is_empty
    two = papers(at(10, 10), at(41.6, 10))
    assert [paper.holds for paper in two] == [(0,), (1,)]


def test_a_block_of_four_along_shared_lines_is_one_paper_without_holes() -> None:
    (one,) = papers(*(at(10 + 30.5 * i, 10 + 20.5 * j) for i in (0, 1) for j in (0, 1)))
    assert one.holds == (0, 1, 2, 3)
    assert one.outline.area == pytest.approx(
        60.5 * 40.5 + 2 * 101 * 1.5 + math.pi * 2.25, rel=0.002
    )


def test_pieces_of_two_students_are_never_one_paper_and_meet_in_the_middle() -> None:
    left, right = papers(at(10, 10), at(42, 10, "b"))
    # 2.0 mm apart: 1.0 mm for each
    assert left.outline.bounds[2] == pytest.approx(41.0, abs=0.06)
    assert right.outline.bounds[0] == pytest.approx(41.0, abs=0.06)
    assert left.flush.is_empty


def test_where_less_than_seven_tenths_is_left_the_paper_ends_at_the_line() -> None:
    left, right = papers(at(10, 10), at(41, 10, "b"))  # 1.0 mm apart: half of it is too little
    for paper, x in ((left, 40.0), (right, 41.0)):
        assert paper.flush.length == pytest.approx(20.0, abs=0.1)
        line = LineString([(x, 11), (x, 29)])
        assert paper.outline.exterior.buffer(0.001).covers(line)


def test_on_the_metals_own_edge_the_paper_ends_at_the_line() -> None:
    (paper,) = papers(at(10, 0))
    assert paper.flush.length == pytest.approx(30.0, abs=0.1)
    assert paper.outline.bounds == pytest.approx((8.5, 0, 41.5, 21.5), abs=0.05)


def test_half_a_millimetre_from_the_edge_nothing_is_left_to_cut() -> None:
    (paper,) = papers(at(10, 0.5))
    line = LineString([(11, 0.5), (39, 0.5)])
    assert paper.outline.exterior.buffer(0.001).covers(line)


def test_a_round_piece_beside_anothers_is_trimmed_where_they_are_near_and_no_further() -> None:
    disc = Point(0, 0).buffer(10, 64)
    one, other = papers(at(30, 30, "a", disc), at(51, 30, "b", disc))
    # each has half the gap: less than 0.7 mm within 2.0 mm of the middle (10² − 9.8²)
    assert one.flush.length == pytest.approx(4.0, abs=0.7)
    assert other.flush.length == pytest.approx(one.flush.length, abs=0.1)


def test_what_lies_in_a_window_far_from_its_line_has_a_paper_of_its_own() -> None:
    outer, inner = papers(at(10, 10, "a", RING), at(20, 20, "a", box(0, 0, 20, 20)))
    assert len(outer.outline.interiors) == 1
    hole = Polygon(outer.outline.interiors[0])
    assert hole.bounds == pytest.approx((16.5, 16.5, 53.5, 43.5), abs=0.05)
    assert hole.covers(inner.outline)


def test_what_lies_near_the_line_of_its_own_window_is_on_the_same_paper() -> None:
    (one,) = papers(at(10, 10, "a", RING), at(16, 16, "a", box(0, 0, 20, 20)))
    assert one.holds == (0, 1)
    assert len(one.outline.interiors) == 0


def test_a_strangers_piece_in_a_window_keeps_its_own_paper_however_near() -> None:
    outer, inner = papers(at(10, 10, "a", RING), at(16, 16, "b", box(0, 0, 20, 20)))
    assert (outer.holds, inner.holds) == ((0,), (1,))
    assert len(outer.outline.interiors) == 1


def test_paper_does_not_bridge_two_parts_of_a_stock_piece() -> None:
    parts = MultiPolygon([box(0, 0, 40, 60), box(40.5, 0, 100, 60)])
    found = papers_on_metal((at(10, 10), at(40.5, 10)), parts, rim_mm=1.5)
    assert [paper.holds for paper in found] == [(0,), (1,)]


def test_a_wide_shared_line_joins_two_pieces_all_the_same() -> None:
    pieces = (at(10, 10), at(41.8, 10))
    assert len(papers_on_metal(pieces, METAL, rim_mm=1.5, shared_mm=1.8)) == 1
    assert len(papers_on_metal(pieces, METAL, rim_mm=1.5, shared_mm=0.5)) == 2
