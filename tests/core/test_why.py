"""What is said for a plan and against it: only what its figures show."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Plan, Stock, Wanted
from studio.core.cutting.job import Unplaced
from studio.core.picturing.plan import picture
from studio.core.picturing.why import Reason, Waiting, fits, why, with_letters
from studio.core.verifying import measure

RING = Polygon(box(0, 0, 50, 40).exterior.coords, [box(5, 5, 45, 35).exterior.coords])


def at(piece: str, copy: int, x: float, y: float) -> Placement:
    return Placement(piece, copy, "S1", False, 0.0, x, y)


def job_of(*pieces: Wanted, metal: Polygon | None = None, gap: float = 1.0) -> Job:
    sheet = Stock("S1", metal or box(0, 0, 120, 80), 0.001)
    return Job((sheet,), pieces, hands=Hands(gap, 0.5), worth="two")


def told(job: Job, *placements: Placement, **more: object) -> dict[str, Reason]:
    figures, offcuts = measure(job, placements)
    missing = more.pop("missing", ())
    plan = Plan(placements, missing, figures, offcuts, 1, 0.1, 1, by_hand=True)  # type: ignore[arg-type]
    pictures = picture(job, plan)
    found = why(job, plan, pictures, **more)  # type: ignore[arg-type]
    assert [one.letter for one in found.reasons] == list("abcdefghi")[: len(found.reasons)]
    for one in pictures:
        letters = with_letters(found, one).letters
        assert len(letters) == len(found.parts_on(one.code))
        for letter in letters:
            assert not one.not_to_hide.intersects(Point(letter.at))
    return {one.code: one for one in found.reasons}


A = Wanted("a", box(0, 0, 20, 20), 2, group="project-1")
B = Wanted("b", box(0, 0, 20, 20), 2, group="project-2")


def test_strip_edges_and_the_cut_for_two_with_their_lengths() -> None:
    # two squares in a corner, 1.0 mm apart: three sides on edges, one cut of 20 mm down the middle
    job = replace(job_of(A), offcut_min_width_mm=1.0)  # else the strip's corners are rounded off
    found = told(job, at("a", 0, 0, 0), at("a", 1, 21, 0))
    assert found["keeps"].figures["longer"] == pytest.approx(120, abs=0.5)
    assert found["keeps"].figures["shorter"] == pytest.approx(59.7, abs=0.5)
    assert found["edges"].figures["length"] == pytest.approx(60)
    assert found["for-two"].figures == {"length": pytest.approx(20), "count": 1}
    assert [one.code for one in found.values() if not one.good] == ["beside"]


def test_a_student_reads_of_own_pieces_only() -> None:
    job = job_of(A, B)
    laid = (at("a", 0, 0, 0), at("b", 0, 60, 30), at("b", 1, 81, 30))
    assert {"edges", "for-two"} <= set(told(job, *laid))
    own = told(job, *laid, groups={"project-1"})
    assert "edges" in own
    assert "for-two" not in own


def test_a_piece_in_a_window_is_told_of() -> None:
    job = job_of(Wanted("r", RING, group="project-1"), A)
    assert told(job, at("r", 0, 10, 10), at("a", 0, 20, 20))["windows"].figures["count"] == 1
    assert "windows" not in told(job, at("r", 0, 10, 10), at("a", 0, 70, 20))


def test_little_of_the_metal_in_pieces_is_a_fact_for_every_reader() -> None:
    job = job_of(A)
    share = {"share": pytest.approx(400 / 9600), "count": 0}
    assert told(job, at("a", 0, 0, 0))["beside"].figures == share
    assert told(job, at("a", 0, 0, 0), groups={"project-1"})["beside"].figures == share
    small = job_of(A, metal=box(0, 0, 41, 20))
    assert "beside" not in told(small, at("a", 0, 0, 0), at("a", 1, 21, 0))


def test_what_speaks_for_a_plan_and_against_it_is_the_same_for_every_reader() -> None:
    job = replace(job_of(A, B), offcut_min_width_mm=200.0)  # so that nothing is kept
    laid = (at("a", 0, 0, 0), at("b", 0, 60, 30))
    figures, offcuts = measure(job, laid)
    plan = Plan(laid, (), figures, offcuts, 1, 0.1, 1, by_hand=True)
    pictures = picture(job, plan)
    teacher = why(job, plan, pictures)
    other = why(job, plan, pictures, groups={"project-2"})
    assert {one.code for one in teacher.good} == {"edges"}
    assert not other.good
    for reader in (teacher, other, other.only("keeps"), other.without("keeps")):
        assert (reader.speaks_for, reader.speaks_against) == (True, True)


def test_that_others_would_fit_beside_is_said_only_where_they_do() -> None:
    job = replace(job_of(A), offcut_min_width_mm=1.0)

    def fitting(*boxes: tuple[float, float], of: Job = job, grain: bool = False) -> float:
        waiting = [Waiting(boxes, along_grain=grain), Waiting(((130.0, 10.0),))]
        return told(of, at("a", 0, 5, 5), waiting=waiting)["beside"].figures["count"]

    kept = told(job, at("a", 0, 5, 5))["keeps"].figures
    longer, shorter = kept["longer"], kept["shorter"]
    assert fitting((40.0, 20.0)) == 1
    # the gap of 1.0 mm stays free along all sides of the rectangle, or a margin of 2.0 mm
    assert fitting((longer, shorter)) == 0
    assert fitting((longer - 2.1, shorter - 2.1)) == 1
    sheet = replace(job.metal[0], clean_edges=False)
    rough = replace(job, metal=(sheet,), edge_margin_mm=2.0)
    assert fitting((longer - 2.1, shorter - 2.1), of=rough) == 0
    assert fitting((longer - 4.1, shorter - 4.1), of=rough) == 1
    # a grain that nobody knows cannot be followed; one that is known may turn a piece anyhow
    assert fitting((40.0, 20.0), grain=True) == 0
    grained = replace(job, metal=(replace(job.metal[0], grain_deg=0.0),))
    assert fitting((40.0, 20.0), of=grained, grain=True) == 1
    assert fitting((longer - 5.0, 20.0), of=grained, grain=True) == 0


def test_a_margin_along_rough_edges_is_scrap_that_a_file_would_save() -> None:
    job = replace(job_of(A), edge_margin_mm=2.0)
    rough = replace(job, metal=(replace(job.metal[0], clean_edges=False),))
    one = told(rough, at("a", 0, 2, 2))["rough"]
    assert not one.good
    assert one.figures["length"] == pytest.approx(2 * 23, abs=0.1)
    assert "rough" not in told(rough, at("a", 0, 2, 2), groups={"project-2"})
    assert "rough" not in told(rough, at("a", 0, 40, 30))
    assert "rough" not in told(job, at("a", 0, 0, 0))


def test_pieces_without_a_place_are_the_first_thing_that_is_not_good() -> None:
    job = job_of(A)
    missing = (Unplaced("a", 1, "no room was found"),)
    found = told(job, at("a", 0, 0, 0), missing=missing)
    assert found["left-out"].figures["count"] == 1
    assert "left-out" not in told(job, at("a", 0, 0, 0), missing=missing, groups={"project-2"})


def test_waste_and_a_wide_gap_are_owned_up_to() -> None:
    # 400 mm² in pieces on 34 × 34 mm, all of the rest too narrow for the rack
    small = Wanted("s", box(0, 0, 10, 10), 4, group="project-1")
    job = job_of(small, metal=box(0, 0, 34, 34), gap=2.0)
    laid = [at("s", n, 4 + 15 * (n % 2), 4 + 15 * (n // 2)) for n in range(4)]
    found = told(job, *laid)
    assert found["waste"].figures["share"] == pytest.approx(1 - 400 / 34**2)
    assert found["gap"].figures == {"gap": 2.0}
    assert not any(one.good for one in found.values())


def test_boxes_fit_where_rows_of_them_fit() -> None:
    assert fits([(40.0, 20.0)] * 4, (81.0, 41.0), 1.0)
    assert not fits([(40.0, 20.0)] * 4, (80.5, 41.0), 1.0)
    assert not fits([], (100.0, 100.0), 1.0)


def test_a_close_up_cuts_no_mark_and_no_number_lies_on_a_free_edge() -> None:
    job = job_of(A, metal=box(0, 0, 300, 150))
    laid = (at("a", 0, 280, 0),)  # in the lower right corner
    figures, offcuts = measure(job, laid)
    plan = Plan(laid, (), figures, offcuts, 1, 0.1, 1, by_hand=True)
    (drawn,) = picture(job, plan)
    one = with_letters(why(job, plan, [drawn]), drawn)
    (start,) = one.starts
    ends = shapely.affinity.scale(drawn.gains.free[0][1], 1, -1, origin=(0, 75))
    assert Point(start.mark).distance(ends) >= one.radius_mm
    x, y, width, height = (float(value) for value in one.closer_box.split())
    seen, border = box(x, y, x + width, y + height), box(x, y, x + width, y + height).exterior
    marks = [(start.mark, one.radius_mm)] + [(one.at, one.side_mm / 2) for one in one.letters]
    for middle, half in marks:
        assert border.distance(Point(middle)) >= half
    assert seen.covers(Point(start.mark))
