"""Plans under the rules for hands: counted by hand, and by the judge, which shares no code."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from shapely.geometry import MultiLineString, Point, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Plan, Stock, Wanted
from studio.core.placing import place
from studio.core.placing.search import Search
from studio.core.verifying import faults, measure

SURER = Hands(gap_mm=1.0, shared_mm=0.5)
FIRST = Hands(gap_mm=2.0, shared_mm=0.7)


def job_of(
    metal: Stock, *pieces: Wanted, hands: Hands = SURER, standing: Sequence[Placement] = ()
) -> Job:
    return Job(
        (metal,), pieces, hands=hands, edge_margin_mm=2.0, worth="two", fixed=tuple(standing)
    )


def placed(job: Job, rounds: int = 2) -> Plan:
    plan = place(job, rounds=rounds)
    assert faults(job, plan.placements) == ()
    assert plan.by_hand
    return plan


def laid(job: Job, plan: Plan) -> list[Polygon]:
    return [p.lay(job.wanted_by_id[p.piece].outline) for p in plan.placements]


def test_two_squares_fill_metal_that_is_one_shared_line_wider() -> None:
    """By hand: 2 × 50 + 0.5; one line of 50 mm is sawn, all other sides lie on the metal's."""
    job = job_of(Stock("S", box(0, 0, 100.5, 50), 0.001), Wanted("a", box(0, 0, 50, 50), 2))
    plan = placed(job)
    assert plan.status == "complete"
    assert plan.measures.saw_line_mm == pytest.approx(50.0, abs=0.01)
    assert plan.measures.free_edge_mm == pytest.approx(300.0, abs=0.01)


def test_four_tags_fill_metal_though_their_corners_meet() -> None:
    """Two by two: the tags across keep 0.5·√2 = 0.71 mm, less than the gap, at a line's end."""
    metal = Stock("S", box(0, 0, 60.5, 24.5), 0.001)
    plan = placed(job_of(metal, Wanted("tag", box(0, 0, 30, 12), 4, (0.0,))))
    assert plan.status == "complete"
    assert plan.measures.shared_line_mm == pytest.approx(2 * 30 + 2 * 12, abs=0.01)


@pytest.mark.parametrize(("hands", "side"), [(SURER, 42.0), (FIRST, 44.0)])
def test_a_disc_keeps_the_gap_from_every_edge(hands: Hands, side: float) -> None:
    """A curve that grazes an edge is no free edge: the disc of 40 mm wants the gap all round."""
    disc = Wanted("disc", Point(0, 0).buffer(20.0, quad_segs=32))
    fits = job_of(Stock("S", box(0, 0, side + 0.01, side + 0.01), 0.001), disc, hands=hands)
    assert placed(fits).status == "complete"
    tight = job_of(Stock("S", box(0, 0, side - 0.05, side - 0.05), 0.001), disc, hands=hands)
    assert placed(tight).status == "partial"


def test_a_straight_side_too_short_for_a_free_edge_keeps_the_gap() -> None:
    seven = Wanted("a", box(0, 0, 7, 7))
    assert placed(job_of(Stock("S", box(0, 0, 8.9, 40)), seven)).status == "partial"
    assert placed(job_of(Stock("S", box(0, 0, 9.01, 40)), seven)).status == "complete"
    eight = Wanted("a", box(0, 0, 8, 8))
    assert placed(job_of(Stock("S", box(0, 0, 8, 40)), eight)).status == "complete"


def test_a_rough_edge_keeps_its_margin_where_the_others_are_clean() -> None:
    sheet = box(0, 0, 80, 30)
    rough = MultiLineString([[(0, 0), (80, 0)]])
    job = job_of(Stock("S", sheet, 0.001, rough_edges=rough), Wanted("a", box(0, 0, 40, 28), 1))
    (outline,) = laid(job, placed(job))
    assert outline.bounds[1] == pytest.approx(2.0, abs=0.01)
    assert outline.bounds[3] == pytest.approx(30.0, abs=0.01)


def test_a_lone_disc_goes_to_a_corner() -> None:
    """Two strips are worth more than one strip and fingers: the second rectangle counts."""
    disc = Wanted("disc", Point(0, 0).buffer(10.0, quad_segs=16))
    job = job_of(Stock("S", box(0, 0, 150, 80), 0.001), disc)
    (outline,) = laid(job, placed(job, rounds=8))
    x0, y0, x1, y1 = outline.bounds
    assert min(x0, 150 - x1) == pytest.approx(1.0, abs=0.02)
    assert min(y0, 80 - y1) == pytest.approx(1.0, abs=0.02)


def test_what_stands_stays_and_new_pieces_keep_their_gap_from_it() -> None:
    standing = [Placement("a", 0, "S", False, 15.0, 40.0, 20.0)]
    metal = Stock("S", box(0, 0, 120, 60), 0.001)
    job = job_of(metal, Wanted("a", box(0, 0, 25, 15), 5), standing=standing)
    plan = placed(job, rounds=8)
    assert plan.status == "complete"
    assert plan.placements[0] == standing[0]
    assert sorted(p.copy for p in plan.placements) == [0, 1, 2, 3, 4]
    first, *others = laid(job, plan)
    assert min(first.distance(other) for other in others) >= 1.0 - 1e-3


def test_pieces_that_all_stand_are_a_plan() -> None:
    standing = [Placement("a", 0, "S", False, 0.0, 40.0, 20.0)]
    job = job_of(
        Stock("S", box(0, 0, 120, 60), 0.001), Wanted("a", box(0, 0, 25, 15)), standing=standing
    )
    plan = placed(job)
    assert plan.status == "complete"
    assert plan.placements == tuple(standing)


def begun(*start: Placement) -> Job:
    tag = Wanted("tag", box(0, 0, 30, 12), 4)
    return Job(
        (Stock("S", box(0, 0, 120, 60), 0.001),), (tag,), hands=SURER, worth="two", start=start
    )


def test_a_good_layout_to_begin_from_is_never_made_worse() -> None:
    """Sixteen tags that fill their metal: nothing is cheaper, and one round would not find it."""
    row = [
        Placement("tag", 4 * i + k, "S", False, 0.0, 30.5 * i, 12.5 * k)
        for i in range(4)
        for k in range(4)
    ]
    tag = Wanted("tag", box(0, 0, 30, 12), 16)
    metal = (Stock("S", box(0, 0, 121.5, 49.5), 0.001), Stock("T", box(0, 0, 200, 100), 0.001))
    job = Job(metal, (tag,), hands=SURER, worth="two", start=tuple(row))
    assert faults(job, row) == ()
    plan = placed(job, rounds=1)
    assert plan.status == "complete"
    assert plan.measures.cost <= measure(job, row)[0].cost + 1e-9


def test_a_half_made_layout_is_gone_on_with() -> None:
    half = [Placement("tag", 2, "S", False, 0.0, 45.0, 24.0)]
    plan = placed(begun(*half), rounds=1)
    assert plan.status == "complete"
    assert half[0] in plan.placements


def test_a_faulty_layout_to_begin_from_does_no_harm() -> None:
    wrong = [
        Placement("tag", 0, "S", False, 0.0, 10.0, 10.0),
        Placement("tag", 1, "S", False, 0.0, 12.0, 11.0),
        Placement("tag", 2, "S", False, 0.0, 500.0, 0.0),
    ]
    assert placed(begun(*wrong), rounds=1).status == "complete"


def test_the_compiled_search_shares_lines_too() -> None:
    """Triangles with sides of 30 mm: three pairs at the least lie on each other's sides."""
    high = 30.0 * math.sqrt(3.0) / 2.0
    triangle = Wanted("t", Polygon([(0, 0), (30, 0), (15, high)]), 6)
    plan = placed(job_of(Stock("S", box(0, 0, 200, 60), 0.001), triangle), rounds=10)
    assert plan.status == "complete"
    assert plan.measures.shared_line_mm > 3 * 25.0


def test_metal_that_its_margin_uses_up_holds_nothing() -> None:
    """Rough all round, 4 mm wide, 2 mm free along each edge: nothing is left to lay on."""
    metal = Stock("S", box(0, 0, 60, 3.9), 0.001, clean_edges=False)
    plan = place(job_of(metal, Wanted("a", box(0, 0, 9, 1), 2)), rounds=8)
    assert (plan.status, plan.placements) == ("partial", ())


def test_more_time_is_left_for_judging_by_the_rules_for_hands() -> None:
    fine = Wanted("a", Point(0, 0).buffer(5.0, 250), 30)
    ends = []
    for hands in (None, Hands(1.0, 0.5)):
        job = Job((Stock("S1", box(0, 0, 100, 60)),), (fine,), hands=hands)
        search = Search(job, 10.0, 1, 1, None, None)
        ends.append(search.stop_at - search.started)
    assert ends[0] > ends[1] + 1.0 > 6.0
