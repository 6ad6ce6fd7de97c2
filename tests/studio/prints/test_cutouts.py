"""What is cut out of a pattern sheet: each paper as its first piece was drawn."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Placement
from studio.core.cutting.job import Stock, Wanted
from studio.core.drawing import DrillKind, DrillMark, Piece
from studio.core.picturing.papers import plain_paper
from studio.core.picturing.sawing_order import sawing_orders
from studio.prints.paper.sizes import paper_for
from studio.prints.patterns.cutouts import Cutout, on_metal, placed_cutouts, plain_cutouts
from studio.prints.patterns.laid_out import pattern_pages

METAL = box(0, 0, 100, 60)
KERF = 0.3
TAG = box(0, 0, 30, 20)
WINDOW_TAG = Polygon(TAG.exterior, [box(10, 6, 20, 14).exterior])


def _job(outline: Polygon | None = None, count: int = 2) -> tuple[Piece, Job]:
    piece = Piece("1", outline or Polygon([(0, 0), (30, 0), (30, 20), (0, 10)]), (
        DrillMark(25.0, 10.0, 1.6, DrillKind.RING),
    ))  # fmt: skip
    order = Wanted("7/1", piece.outline, count=count, may_mirror=True, group="project-1")
    return piece, Job((Stock("CU-1", METAL),), (order,), kerf_mm=KERF)


def _papers(piece: Piece, job: Job, *placements: Placement, copies: int = 2) -> list[Cutout]:
    (order,) = sawing_orders(job, placements, {"7/1": piece})
    metal = on_metal(job, "CU-1", placements, order.shared_cuts, order.holes, rim_mm=1.5)
    labels = {("7/1", n): f"A{n + 1}" for n in range(copies)}
    return placed_cutouts(
        [piece],
        copies,
        job,
        [metal],
        {"1": "7/1"},
        labels,
        rim_mm=1.5,
        pilot_size=lambda room_mm: 1.0,
    )


def test_a_turned_piece_is_printed_as_it_was_drawn() -> None:
    piece, job = _job()
    first, second = _papers(piece, job, Placement("7/1", 0, "CU-1", False, 90.0, 40.0, 20.0))
    assert first.first.outline.equals_exact(piece.outline, 1e-6)
    assert first.rim.buffer(0.05).covers(piece.outline)
    assert (first.first.label, first.metal, first.first.copies) == ("A1", "CU-1", 2)
    # the second copy found no place: it is printed with a plain rim
    assert second.metal == ""
    assert second.rim.equals_exact(plain_paper(piece.outline, rim_mm=1.5), 0.001)


def test_a_mirrored_piece_is_printed_mirrored_with_its_drill_mark() -> None:
    piece, job = _job()
    first = _papers(piece, job, Placement("7/1", 0, "CU-1", True, 0.0, 50.0, 10.0))[0]
    assert first.first.mirrored
    assert first.first.outline.bounds == pytest.approx((-30, 0, 0, 20))
    assert (first.marks[0].at.x, first.marks[0].at.y) == pytest.approx((-25.0, 10.0))


def test_a_trim_line_is_printed_on_the_edge_that_lies_on_the_metals_edge() -> None:
    piece, job = _job()
    # turned by 90 degrees the 30 mm side (drawn at the bottom) comes to lie on the right edge
    first = _papers(piece, job, Placement("7/1", 0, "CU-1", False, 90.0, 100.0, 10.0))[0]
    x0, y0, x1, y1 = first.trims.bounds
    assert (x0, x1) == pytest.approx((0, 30), abs=0.4)
    assert (y0, y1) == pytest.approx((0, 0), abs=0.4)


def test_every_copy_of_every_piece_gets_a_paper() -> None:
    pieces = [Piece("1", TAG), Piece("2", box(0, 0, 9, 9))]
    papers = plain_cutouts(pieces, 3, rim_mm=1.5)
    assert [(paper.first.piece, paper.first.copy) for paper in papers] == [
        ("1", 1), ("1", 2), ("1", 3), ("2", 1), ("2", 2), ("2", 3),
    ]  # fmt: skip


def test_two_along_a_shared_line_are_one_paper_with_one_cut_between_them() -> None:
    piece, job = _job(TAG)
    laid = [Placement("7/1", n, "CU-1", False, 0.0, 10.0 + n * (30 + KERF), 10.0) for n in (0, 1)]
    (paper,) = _papers(piece, job, *laid)
    assert [one.label for one in paper.pieces] == ["A1", "A2"]
    assert paper.size_mm == pytest.approx((60 + KERF, 20))
    assert paper.trims.is_empty
    (cut,) = paper.shared.geoms
    assert {round(x, 6) for x, _ in cut.coords} == {30 + KERF / 2}


def test_a_window_has_the_cross_of_its_pilot_hole_in_its_middle_placed_or_not() -> None:
    piece, job = _job(WINDOW_TAG, count=1)
    (placed,) = _papers(piece, job, Placement("7/1", 0, "CU-1", False, 90.0, 60.0, 10.0), copies=1)
    (plain,) = plain_cutouts([piece], 1, rim_mm=1.5, pilot_size=lambda room_mm: 1.0)
    for paper in (placed, plain):
        (pilot,) = [mark for mark in paper.marks if mark.pilot]
        assert pilot.diameter_mm == 1.0
        assert pilot.at.y == pytest.approx(10.0, abs=0.1)
        assert 13.9 < pilot.at.x < 16.1  # 4 mm from the window's long sides


def test_no_caption_runs_into_its_neighbours() -> None:
    piece, _ = _job(box(0, 0, 12, 9))
    words = [
        (f"Piece 1 (B{n} on the plan), {n} of 12", "12.0 × 9.0 mm, mirrored · on CU-0012")
        for n in range(1, 13)
    ]
    (page,) = pattern_pages(plain_cutouts([piece], 12, rim_mm=1.5), paper_for("a4"), words)
    boxes = [
        box(float(t.x) - len(t.text) * 0.3 * float(t.size), float(t.y) - float(t.size),
            float(t.x) + len(t.text) * 0.3 * float(t.size), float(t.y))
        for art in page.arts
        for t in art.caption
    ]  # fmt: skip
    for n, one in enumerate(boxes):
        assert not any(one.overlaps(other) for other in boxes[:n])
    for art, (name, size) in zip(page.arts, words, strict=True):
        assert " ".join(text.text for text in art.caption) == f"{name} {size}"
