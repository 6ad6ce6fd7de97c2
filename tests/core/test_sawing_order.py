"""The order of drilling and sawing that a cut plan prints."""

from __future__ import annotations

import pytest
from shapely.geometry import Point, Polygon, box

from studio.core.cutting import Hands, Job, Wanted
from studio.core.drawing import DrillKind, DrillMark, Piece
from studio.core.picturing.sawing_order import LineKind, sawing_orders, sawn_by_group
from studio.core.placing import place
from studio.core.verifying import Watch, measure
from tests.core.placing.jobs import at, class_job, disc, frame, ring, sheet, square


def test_every_rim_is_numbered_once_and_the_lengths_add_up_to_the_plans_saw_line() -> None:
    job = class_job()
    plan = place(job, rounds=1)
    orders = sawing_orders(job, plan.placements)
    rims = sum(1 + len(job.wanted_by_id[p.piece].outline.interiors) for p in plan.placements)
    assert sum(len(order.lines) for order in orders) == rims
    for order in orders:
        assert [line.number for line in order.lines] == list(range(1, len(order.lines) + 1))
    total = sum(order.length_mm for order in orders)
    assert total == pytest.approx(plan.measures.saw_line_mm, abs=1e-6)
    for order in orders:
        for line in order.lines:
            assert line.cut.length == pytest.approx(line.length_mm, abs=0.6)


@pytest.mark.parametrize("hands", [None, Hands(gap_mm=1.0, shared_mm=0.5)])
def test_each_groups_sawing_is_what_the_judge_says_of_it(hands: Hands | None) -> None:
    """Free edges, a shared line, cuts down the middle between straight and round ones, a window."""
    pieces = (
        Wanted("tag", square(20), 3, group="ada"),
        Wanted("ring", ring(9, 6), 2, group="ben"),
        Wanted("dot", disc(8)),
    )
    job = Job((sheet(),), pieces, hands=hands)
    beside = job.kerf_mm if hands is None else hands.shared_mm
    laid = [
        at("tag", 0, 0, 0),
        at("tag", 1, 20 + beside, 0),
        at("tag", 2, 0, 21),
        at("ring", 0, 30, 31),
        at("ring", 1, 49, 31),
        at("dot", 0, 67, 31),
    ]
    found = Watch(job).judge(laid)
    assert found.sawn_mm == pytest.approx(sawn_by_group(job, sawing_orders(job, laid)), abs=1e-6)
    assert sum(found.sawn_mm.values()) == pytest.approx(found.measures.saw_line_mm, abs=1e-6)


def test_windows_come_before_outlines_and_small_ones_first() -> None:
    job = Job((sheet(),), (Wanted("big", frame(60, 60, 8)), Wanted("small", frame(30, 30, 5))))
    (order,) = sawing_orders(job, [at("big", 0, 0, 0), at("small", 0, 100, 0)])
    assert [(line.kind, line.piece) for line in order.lines] == [
        (LineKind.WINDOW, "small"),
        (LineKind.WINDOW, "big"),
        (LineKind.OUTLINE, "small"),
        (LineKind.OUTLINE, "big"),
    ]


def test_a_piece_in_a_window_is_freed_before_the_window() -> None:
    job = Job((sheet(),), (Wanted("frame", frame(60, 60, 8)), Wanted("in", square(20))))
    (order,) = sawing_orders(job, [at("frame", 0, 0, 0), at("in", 0, 20, 20)])
    assert [line.piece for line in order.lines] == ["in", "frame", "frame"]
    pilot = order.holes[0].at
    assert not box(20, 20, 40, 40).intersects(pilot)
    assert Polygon(box(8, 8, 52, 52)).contains(pilot)


def test_outlines_go_from_the_metals_edge_inward() -> None:
    job = Job((sheet(),), (Wanted("a", square(20), 3),))
    placed = [at("a", 0, 140, 65), at("a", 1, 0, 0), at("a", 2, 60, 20)]
    (order,) = sawing_orders(job, placed)
    assert [line.copy for line in order.lines] == [1, 2, 0]


def test_a_shared_line_is_sawn_once_with_whichever_piece_comes_first() -> None:
    job = Job((sheet(),), (Wanted("a", square(20), 2),))
    placed = [at("a", 0, 0, 0), at("a", 1, 20.3, 0)]
    (order,) = sawing_orders(job, placed)
    assert [line.length_mm for line in order.lines] == pytest.approx([40.0, 40.0])
    assert [line.shared.length for line in order.lines] == pytest.approx([20.0, 20.0])
    assert [line.free.length for line in order.lines] == pytest.approx([40.0, 20.0])
    found, _ = measure(job, placed)
    assert order.length_mm == pytest.approx(found.saw_line_mm)


def test_drill_marks_lie_where_the_placement_puts_them() -> None:
    outline = frame(40, 40, 10)
    marks = (
        DrillMark(5, 5, 1.6, DrillKind.RING),
        DrillMark(20, 20, 1.0, DrillKind.PILOT),
    )
    job = Job((sheet(),), (Wanted("f", outline),))
    placed = at("f", 0, 100, 10, turn=90.0)
    (order,) = sawing_orders(job, [placed], {"f": Piece("f", outline, marks)})
    ring, pilot = order.holes
    assert ring.at.distance(Point(95, 15)) < 1e-9
    assert (ring.diameter_mm, ring.pilot) == (1.6, False)
    assert pilot.at.distance(Point(80, 30)) < 1e-9
    window = next(line for line in order.lines if line.kind is LineKind.WINDOW)
    assert window.start == pilot.at


def test_a_window_without_a_pilot_gets_one_where_there_is_most_room() -> None:
    job = Job((sheet(),), (Wanted("f", frame(40, 40, 10)),))
    (order,) = sawing_orders(job, [at("f", 0, 50, 50)])
    assert len(order.holes) == 1
    assert order.holes[0].diameter_mm is None
    assert order.holes[0].at.distance(Point(70, 70)) < 1.0


def test_what_the_saw_frame_cannot_reach_is_a_caution() -> None:
    large = sheet(box(0, 0, 305, 305))
    job = Job((large,), (Wanted("a", square(20), 2),))
    (order,) = sawing_orders(job, [at("a", 0, 0, 0), at("a", 1, 140, 140)])
    assert [line.out_of_reach for line in order.lines] == [False, True]
    assert order.deep == (2,)
    assert order.deepest_mm == pytest.approx(145.0)  # the corner at 160, 160 of 305
    (deeper,) = sawing_orders(job, [at("a", 0, 0, 0), at("a", 1, 140, 140)], frame_depth_mm=200.0)
    assert deeper.deep == ()


def test_one_cut_down_the_middle_is_numbered_and_drawn_once() -> None:
    job = Job((sheet(),), (Wanted("a", square(20), 2),), hands=Hands(1.0, 0.5))
    placed = [at("a", 0, 5, 5), at("a", 1, 26, 5)]
    (order,) = sawing_orders(job, placed)
    assert [line.length_mm for line in order.lines] == pytest.approx([80.0, 60.0])
    assert [line.own_mm for line in order.lines] == pytest.approx([70.0, 70.0])
    (cut,) = order.for_two
    assert {x for x, _ in cut.line.geoms[0].coords} == {25.5}
    drawn = [line for each in order.lines for line in each.cut.geoms]
    assert sum(1 for line in drawn if line.bounds[0] == line.bounds[2] == 25.5) == 1
    assert order.length_mm == pytest.approx(measure(job, placed)[0].saw_line_mm)


@pytest.mark.parametrize("gap", [0.5, 1.0, 1.4, 1.6])
def test_the_order_for_hands_comes_to_the_judges_saw_line(gap: float) -> None:
    round_one = Point(0, 0).buffer(10, 32)
    job = Job(
        (sheet(),),
        (Wanted("f", frame(60, 60, 8)), Wanted("a", square(20), 2), Wanted("c", round_one, 2)),
        hands=Hands(gap, 0.5),
    )
    placed = [
        at("f", 0, 0, 0), at("a", 0, 8 + gap, 8 + gap), at("a", 1, 60 + gap, 0),
        at("c", 0, 90 + 2 * gap, 10), at("c", 1, 110 + 3 * gap, 10),
    ]  # fmt: skip
    (order,) = sawing_orders(job, placed)
    saw_line = measure(job, placed)[0].saw_line_mm
    assert order.length_mm == pytest.approx(saw_line, abs=1e-6)
    assert sum(line.own_mm for line in order.lines) == pytest.approx(saw_line, abs=1e-6)


def test_cuts_that_free_an_offcut_come_last_and_are_in_no_saw_line() -> None:
    # 8 mm between the pieces and the lower edge are scrap: too narrow for the rack
    job = Job((sheet(box(0, 0, 120, 80)),), (Wanted("a", square(30), 1),))
    placed = [at("a", 0, 45, 8)]
    found, offcuts = measure(job, placed)
    (order,) = sawing_orders(job, placed, offcuts=offcuts)
    assert [cut.number for cut in order.offcut_cuts] == [2, 3]
    assert order.length_mm == pytest.approx(found.saw_line_mm)
    for cut in order.offcut_cuts:
        assert cut.line.bounds[3] <= 9.0  # below the piece, at either side of it
    # the metal's corners, which no disc of the least width reaches, are not cut off
    plain = sawing_orders(job, [at("a", 0, 0, 0)], offcuts=measure(job, [at("a", 0, 0, 0)])[1])
    assert plain[0].offcut_cuts == ()
