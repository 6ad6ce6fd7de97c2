"""Papers on the metal keep out of each other's way, and are trimmed flush where there is no rim."""

from __future__ import annotations

import pytest
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from studio.core.cutting import Job, Placement
from studio.core.cutting.job import Stock, Wanted
from studio.core.drawing import DrillKind, DrillMark, Piece
from studio.prints.paper.rims import RIM_MM, flush_lines, plain_rim, rims_on_metal
from studio.prints.patterns.cutouts import placed_cutouts, plain_cutouts

METAL = box(0, 0, 100, 60)
KERF = 0.3
TAG = box(0, 0, 30, 20)


def test_alone_a_piece_has_its_rim_all_round_and_no_edge_to_trim() -> None:
    rim = plain_rim(TAG)
    assert rim.bounds == pytest.approx((-2, -2, 32, 22), abs=0.05)
    assert flush_lines(TAG, rim).is_empty


def test_on_the_metals_own_edge_the_paper_is_trimmed_flush() -> None:
    laid = affinity.translate(TAG, 10, 0)
    (rim,) = rims_on_metal([laid], METAL)
    assert METAL.buffer(0.05).covers(rim)
    lines = flush_lines(laid, rim)
    edge = LineString([(10, 0), (40, 0)])
    assert lines.intersection(edge.buffer(0.1)).length == pytest.approx(30, abs=1.2)
    assert lines.length < 32


def test_along_a_shared_line_both_papers_are_trimmed_and_do_not_overlap() -> None:
    one = affinity.translate(TAG, 10, 10)
    other = affinity.translate(TAG, 40 + KERF, 10)
    rims = rims_on_metal([one, other], METAL)
    assert rims[0].intersection(rims[1]).area < 0.05
    for laid, rim, x in ((one, rims[0], 40.0), (other, rims[1], 40.0 + KERF)):
        line = LineString([(x, 10), (x, 30)])
        assert flush_lines(laid, rim).intersection(line.buffer(0.1)).length > 18


def test_neighbours_at_three_millimetres_share_the_metal_between_them() -> None:
    one = affinity.translate(TAG, 10, 10)
    other = affinity.translate(TAG, 43, 10)
    rims = rims_on_metal([one, other], METAL)
    assert rims[0].intersection(rims[1]).area < 0.5
    assert rims[0].bounds[2] == pytest.approx(41.5, abs=0.2)
    assert flush_lines(one, rims[0]).is_empty


def test_every_rim_holds_its_piece() -> None:
    laid = [affinity.translate(TAG, 1 + 31 * k, 5 + 2 * k) for k in range(3)]
    for outline, rim in zip(laid, rims_on_metal(laid, METAL), strict=True):
        assert rim.buffer(0.05).covers(outline)
        assert outline.buffer(RIM_MM + 0.1).covers(rim)


def test_a_piece_in_a_window_takes_nothing_from_the_rim_around() -> None:
    ring = Polygon(box(0, 0, 50, 40).exterior.coords, [box(5, 5, 45, 35).exterior.coords])
    laid = [affinity.translate(ring, 10, 10), affinity.translate(box(0, 0, 20, 20), 20, 20)]
    outer, inner = rims_on_metal(laid, METAL)
    assert outer.bounds == pytest.approx((8, 8, 62, 52), abs=0.1)
    assert inner.bounds == pytest.approx((18, 18, 42, 42), abs=0.1)


def _job() -> tuple[Piece, Job]:
    piece = Piece("1", Polygon([(0, 0), (30, 0), (30, 20), (0, 10)]), (
        DrillMark(25.0, 10.0, 1.6, DrillKind.RING),
    ))  # fmt: skip
    order = Wanted("7/1", piece.outline, count=2, may_mirror=True, group="project-1")
    return piece, Job((Stock("CU-1", METAL),), (order,), kerf_mm=KERF)


def test_a_turned_piece_is_printed_as_it_was_drawn() -> None:
    piece, job = _job()
    placements = [Placement("7/1", 0, "CU-1", False, 90.0, 40.0, 20.0)]
    (first, second) = placed_cutouts([piece], 2, job, placements, {"1": "7/1"}, {("7/1", 0): "A1"})
    assert first.outline.equals(piece.outline)
    assert first.rim.buffer(0.05).covers(piece.outline)
    assert (first.label, first.metal, first.copies) == ("A1", "CU-1", 2)
    # the second copy found no place: it is printed with a plain rim
    assert second.metal == ""
    assert second.rim.equals_exact(plain_rim(piece.outline), 0.001)


def test_a_mirrored_piece_is_printed_mirrored_with_its_drill_mark() -> None:
    piece, job = _job()
    placements = [Placement("7/1", 0, "CU-1", True, 0.0, 50.0, 10.0)]
    first = placed_cutouts([piece], 2, job, placements, {"1": "7/1"}, {})[0]
    assert first.mirrored
    assert first.outline.bounds == pytest.approx((-30, 0, 0, 20))
    assert (first.marks[0].at.x, first.marks[0].at.y) == pytest.approx((-25.0, 10.0))


def test_a_trim_line_is_printed_on_the_edge_that_lies_on_the_metals_edge() -> None:
    piece, job = _job()
    # turned by 90 degrees the 30 mm side (drawn at the bottom) comes to lie on the right edge
    placements = [Placement("7/1", 0, "CU-1", False, 90.0, 100.0, 10.0)]
    first = placed_cutouts([piece], 2, job, placements, {"1": "7/1"}, {})[0]
    x0, y0, x1, y1 = first.trims.bounds
    assert (x0, x1) == pytest.approx((0, 30), abs=0.6)
    assert (y0, y1) == pytest.approx((0, 0), abs=0.6)


def test_every_copy_of_every_piece_gets_a_paper() -> None:
    pieces = [Piece("1", TAG), Piece("2", box(0, 0, 9, 9))]
    assert [(c.piece, c.copy) for c in plain_cutouts(pieces, 3)] == [
        ("1", 1), ("1", 2), ("1", 3), ("2", 1), ("2", 2), ("2", 3),
    ]  # fmt: skip
