"""What is drawn of a plan: everything that is there, where it is, with y turned downwards."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from shapely.geometry import LineString, MultiLineString, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Plan, Stock, Wanted
from studio.core.drawing import DrillKind, DrillMark, Piece
from studio.core.picturing import offcuts_in_picture
from studio.core.picturing.paths import lay_point
from studio.core.picturing.plan import picture, thumbnail
from studio.core.verifying import Rectangle, largest_rectangle, measure
from studio.views.plans.reasons import placed_with

TAG = box(0, 0, 40, 20).difference(box(10, 5, 20, 15))


def plan_of(job: Job, *placements: Placement) -> Plan:
    measures, offcuts = measure(job, placements)
    return Plan(placements, (), measures, offcuts, 1, 0.1, 1)


def numbers(path: str) -> list[tuple[float, float]]:
    found = re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)
    return [(float(x), float(y)) for x, y in found]


@pytest.fixture
def job() -> Job:
    return Job(
        metal=(Stock("CU-1", box(0, 0, 100, 60), 0.01), Stock("CU-2", box(0, 0, 50, 50), 0.01)),
        pieces=(
            Wanted("1/1", TAG, 2, group="project-1"),
            Wanted("2/1", box(0, 0, 8, 8), 1, group="project-2"),
        ),
    )


def test_only_touched_metal_is_drawn_with_every_piece_on_it(job: Job) -> None:
    (one,) = picture(
        job,
        plan_of(
            job,
            Placement("1/1", 0, "CU-1", False, 0.0, 0.0, 0.0),
            Placement("1/1", 1, "CU-1", False, 0.0, 40.3, 0.0),
            Placement("2/1", 0, "CU-1", False, 0.0, 11.0, 6.0),
        ),
    )
    assert one.code == "CU-1"
    assert {piece.label for piece in one.pieces} == {"A1", "A2", "B"}
    # the small one lies in a window and is drawn after the piece around it
    assert one.pieces[-1].label == "B"
    assert (one.width_mm, one.height_mm) == (100, 60)


def test_y_points_down_in_the_picture(job: Job) -> None:
    (one,) = picture(job, plan_of(job, Placement("2/1", 0, "CU-1", False, 0.0, 0.0, 0.0)))
    ys = {y for _, y in numbers(one.pieces[0].path)}
    assert ys == {52.0, 60.0}  # lower left on the metal is at the bottom of the picture


def test_pieces_on_little_of_the_metal_are_shown_once_more_from_closer(job: Job) -> None:
    (one,) = picture(job, plan_of(job, Placement("2/1", 0, "CU-1", False, 0.0, 90.0, 0.0)))
    x, y, width, height = (float(value) for value in one.closer_box.split())
    assert x < 90 < 98 < x + width
    assert y < 52 < 60 < y + height
    assert width == height < 20
    both = [Placement("1/1", n, "CU-1", False, 0.0, 55.0 * n, 30.0 * n) for n in (0, 1)]
    (full,) = picture(job, plan_of(job, *both))
    assert full.closer_box == ""


def test_no_number_hides_the_label_of_a_piece() -> None:
    tags = Wanted("1/1", box(0, 0, 9, 7), 6, group="project-1")
    job = Job((Stock("CU-1", box(0, 0, 300, 150)),), (tags,))
    laid = [Placement("1/1", n, "CU-1", False, 0.0, 9.4 * n, 0.0) for n in range(6)]
    (one,) = picture(job, plan_of(job, *laid))
    assert len(one.starts) == 6
    for piece in one.pieces:
        for start in one.starts:
            apart = math.dist(piece.at, start.mark)
            assert apart >= one.radius_mm + piece.label_reach_mm


def test_areas_of_a_picture_add_up_to_the_metal(job: Job) -> None:
    (one,) = picture(job, plan_of(job, Placement("1/1", 0, "CU-1", False, 30.0, 40.0, 10.0)))
    assert one.piece_mm2 + one.kept_mm2 + one.scrap_mm2 == pytest.approx(6000.0)
    assert one.piece_mm2 == pytest.approx(700.0)


def test_shared_line_is_drawn_once_and_free_edges_where_the_metal_is_clean(job: Job) -> None:
    (one,) = picture(
        job,
        plan_of(
            job,
            Placement("1/1", 0, "CU-1", False, 0.0, 0.0, 0.0),
            Placement("1/1", 1, "CU-1", False, 0.0, 40.3, 0.0),
        ),
    )
    assert one.shared.count("M") == 1
    assert one.free.count("M") >= 2


def test_drill_marks_and_surface_lines_lie_where_the_piece_lies(job: Job) -> None:
    drawing = Piece(
        "1",
        TAG,
        (DrillMark(5.0, 10.0, 1.6, DrillKind.RING),),
        (LineString([(25, 2), (35, 2)]),),
    )
    placed = Placement("1/1", 0, "CU-1", False, 90.0, 50.0, 10.0)
    (one,) = picture(job, plan_of(job, placed), {"1/1": drawing})
    at = lay_point(placed, drawing.drill_marks[0].centre)
    assert (round(at.x, 6), round(at.y, 6)) == (40.0, 15.0)  # by hand: (5, 10) turned, shifted
    assert one.pieces[0].drills == ((40.0, 45.0, 0.8),)
    assert numbers(one.pieces[0].surface) == [(48.0, 25.0), (48.0, 15.0)]


def test_earlier_cut_out_in_the_metal_is_drawn_as_gone() -> None:
    metal = box(0, 0, 100, 60).difference(box(40, 20, 60, 40))
    job = Job((Stock("CU-1", metal),), (Wanted("1/1", box(0, 0, 10, 10), group="project-1"),))
    (one,) = picture(job, plan_of(job, Placement("1/1", 0, "CU-1", False, 0.0, 0.0, 0.0)))
    assert set(numbers(one.gone)) == {(40, 20), (60, 20), (60, 40), (40, 40)}


def test_label_keeps_clear_of_the_drill_mark(job: Job) -> None:
    square = box(0, 0, 8, 8)
    drawing = Piece("1", square, (DrillMark(4.0, 4.0, 2.0, DrillKind.RIVET),))
    (one,) = picture(
        job,
        plan_of(job, Placement("2/1", 0, "CU-1", False, 0.0, 0.0, 0.0)),
        {"2/1": drawing},
    )
    x, y = one.pieces[0].at
    assert ((x - 4.0) ** 2 + (y - 56.0) ** 2) ** 0.5 > 1.0


def test_thumbnail_shows_all_pieces_of_a_drawing() -> None:
    small = thumbnail((Piece("1", TAG), Piece("2", Polygon([(60, 0), (70, 0), (65, 9)]))))
    assert small.path.count("Z") == 3  # two shells and a window
    assert (small.width_mm, small.height_mm) == (70, 20)


def test_the_rectangle_of_an_offcut_is_worked_out_once(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It takes most of a picture's time, and a plan is looked at again and again."""
    worked_out: list[Polygon] = []

    def counted(outline: Polygon) -> Rectangle:
        worked_out.append(outline)
        return largest_rectangle(outline)

    monkeypatch.setattr(offcuts_in_picture, "largest_rectangle", counted)
    placed = plan_of(job, Placement("1/1", 0, "CU-1", False, 0.0, 7.5, 3.25))
    for _ in range(3):
        (one,) = picture(job, placed)
    assert one.offcuts
    assert len(worked_out) == len({outline.wkb for outline in worked_out}) == len(one.offcuts)


@pytest.mark.parametrize(
    ("clean", "rough", "edges", "thick_mm"),
    [
        (True, None, "clean", 280.0),
        (False, None, "rough", 0.0),
        (True, MultiLineString([[(0, 0), (0, 40)]]), "both", 240.0),
        (True, MultiLineString([[(0, 0), (100, 0), (100, 40), (0, 40), (0, 0)]]), "rough", 0.0),
    ],
)
def test_clean_edges_alone_are_drawn_thick(
    clean: bool, rough: MultiLineString | None, edges: str, thick_mm: float
) -> None:
    """A sheet of 100 by 40, of which the left edge, or all, may come off the hand shears."""
    metal = Stock("S", box(0, 0, 100, 40), clean_edges=clean, rough_edges=rough)
    job = Job((metal,), (Wanted("a", box(0, 0, 20, 20)),), hands=Hands(1.0, 0.5))
    (one,) = picture(job, plan_of(job, Placement("a", 0, "S", False, 0.0, 10.0, 10.0)))
    drawn = sum(LineString(numbers(run)).length for run in one.clean.split("M") if run)
    assert one.edges == edges
    assert drawn == pytest.approx(thick_mm, abs=0.3)


def test_rough_edges_are_spoken_of_where_pieces_lie_on_such_metal(job: Job) -> None:
    sheets = (Stock("S", box(0, 0, 100, 40)), Stock("T", box(0, 0, 100, 40), clean_edges=False))
    job = replace(job, metal=sheets)
    for sheet, said in (("S", False), ("T", True)):
        laid = Placement(job.pieces[0].id, 0, sheet, False, 0.0, 10.0, 10.0)
        assert placed_with(job, plan_of(job, laid), [])["rough"] is said
