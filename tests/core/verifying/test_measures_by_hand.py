"""What plans for hands come to, against cases that can be counted by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import MultiLineString, Point, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Wanted
from studio.core.verifying import cuts, faults, largest_rectangle, measure
from tests.core.placing.jobs import at, disc, frame, sheet, square, triangle

SURER = Hands(gap_mm=1.0, shared_mm=0.5)


def job_of(*pieces: Wanted, metal: Polygon | None = None, **more: object) -> Job:
    return replace(
        Job(
            (sheet() if metal is None else sheet(metal),),
            pieces,
            edge_margin_mm=2.0,
            hands=SURER,
            worth="two",
        ),
        **more,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("k", [1, 2, 5, 9])
@pytest.mark.parametrize(("apart", "shared"), [(0.5, True), (1.0, False), (1.4, False)])
def test_squares_in_a_row_along_an_edge_by_formula(k: int, apart: float, shared: bool) -> None:
    """Four sides each; no cut on the edge and in the corner, one between each two."""
    job = job_of(Wanted("a", square(20), k))
    row = [at("a", i, i * (20 + apart), 0) for i in range(k)]
    assert faults(job, row) == ()
    found, _ = measure(job, row)
    assert found.free_edge_mm == pytest.approx((k + 1) * 20)
    assert found.shared_line_mm == pytest.approx((k - 1) * 20 if shared else 0.0)
    assert found.saw_line_mm == pytest.approx(80 * k - 20 * (k + 1) - 20 * (k - 1))


def test_further_apart_than_a_millimetre_and_a_half_every_side_is_sawn() -> None:
    job = job_of(Wanted("a", square(20), 2))
    found, _ = measure(job, [at("a", 0, 30, 20), at("a", 1, 51.51, 20)])
    assert found.saw_line_mm == pytest.approx(160)


def test_only_what_runs_side_by_side_is_sawn_once() -> None:
    """One square lies half its side higher than the other: 10 mm face each other."""
    job = job_of(Wanted("a", square(20), 2))
    found, _ = measure(job, [at("a", 0, 30, 20), at("a", 1, 51, 30)])
    assert found.saw_line_mm == pytest.approx(160 - 10)


@pytest.mark.parametrize("apart", [0.5, 1.0])
def test_two_by_two_tags_in_a_corner(apart: float) -> None:
    """Outlines 4 · 2 · (38 + 16) = 432; on edges 2 · 38 + 2 · 16 = 108; one cross between."""
    job = job_of(Wanted("tag", box(0, 0, 38, 16), 4))
    block = [
        at("tag", 2 * i + j, i * (38 + apart), j * (16 + apart)) for i in (0, 1) for j in (0, 1)
    ]
    assert faults(job, block) == ()
    found, _ = measure(job, block)
    assert found.free_edge_mm == pytest.approx(108)
    assert found.saw_line_mm == pytest.approx(432 - 108 - 108)


def test_two_discs_a_millimetre_apart_are_freed_by_one_cut_where_they_are_nearest() -> None:
    """Radius 10, middles 21 apart. A point of one rim at an angle t from the line between the
    middles is 1.5 from the other rim where cos t = (10² + 21² − 11.5²) / (2 · 10 · 21)."""
    job = job_of(Wanted("dot", Point(0, 0).buffer(10, quad_segs=90), 2))
    laid = [at("dot", 0, 50, 50), at("dot", 1, 71, 50)]
    assert faults(job, laid) == ()
    t = math.acos((100 + 441 - 11.5**2) / 420)
    found, _ = measure(job, laid)
    assert found.saw_line_mm == pytest.approx(40 * math.pi - 20 * t, abs=0.02)
    (cut,) = cuts(job, job.metal[0], laid).middle
    assert cut.own_mm == pytest.approx(20 * t, abs=0.01)
    assert cut.others_mm == pytest.approx(20 * t, abs=0.01)
    # it runs where both are equally near
    assert cut.line.distance(Point(60.5, 50)) < 1e-6
    assert cut.line.length == pytest.approx(2 * 10.75 * math.sin(math.atan2(2.15, 10.5)), abs=0.05)


def test_a_disc_in_a_round_window_is_freed_by_the_ring_half_way() -> None:
    ring = Polygon(
        Point(0, 0).buffer(30, quad_segs=90).exterior,
        [Point(0, 0).buffer(21, quad_segs=90).exterior],
    )
    job = job_of(Wanted("ring", ring), Wanted("dot", Point(0, 0).buffer(20, quad_segs=90)))
    laid = [at("ring", 0, 60, 60), at("dot", 0, 60, 60)]
    assert faults(job, laid) == ()
    found, _ = measure(job, laid)
    assert found.saw_line_mm == pytest.approx(2 * math.pi * (30 + 20.5), abs=0.02)
    (cut,) = cuts(job, job.metal[0], laid).middle
    assert cut.line.length == pytest.approx(2 * math.pi * 20.5, abs=0.02)


def test_a_curve_that_grazes_an_edge_is_sawn() -> None:
    job = job_of(Wanted("dot", disc(10)))
    assert measure(job, [at("dot", 0, 10, 10)])[0].free_edge_mm == 0.0
    assert measure(replace(job, hands=None), [at("dot", 0, 10, 10)])[0].free_edge_mm > 1.0


def test_an_edge_that_is_rough_is_sawn_and_the_rest_of_it_is_free() -> None:
    rough = MultiLineString([[(0, 0), (30, 0)]])
    job = job_of(Wanted("a", square(20)))
    job = replace(job, metal=(replace(job.metal[0], rough_edges=rough),))
    assert measure(job, [at("a", 0, 32, 0)])[0].free_edge_mm == pytest.approx(20)
    assert measure(job, [at("a", 0, 25, 0)])[0].free_edge_mm == pytest.approx(15)
    assert measure(job, [at("a", 0, 5, 0)])[0].free_edge_mm == 0.0


def test_a_pair_of_wedges_is_parted_by_one_slanting_cut() -> None:
    slant = math.hypot(30, 20)
    job = job_of(Wanted("t", triangle(30, 20), 2))
    dx, dy = 20 / slant, 30 / slant  # one millimetre across the slant
    pair = [at("t", 0, 0, 0), at("t", 1, 30 + dx, 20 + dy, turn=180.0)]
    found, _ = measure(job, pair)
    assert found.shared_line_mm == 0.0
    assert found.saw_line_mm == pytest.approx(2 * (50 + slant) - 50 - slant, abs=1e-6)


def test_three_pieces_in_a_row_of_slivers_save_no_stretch_twice() -> None:
    """A strip of 0.4 between two squares: what faces both is saved once."""
    job = job_of(Wanted("a", square(20), 2), Wanted("thin", box(0, 0, 0.4, 20)))
    laid = [at("a", 0, 30, 20), at("thin", 0, 50.3, 20), at("a", 1, 51.0, 20)]
    found, _ = measure(job, laid)
    rims = 160 + 40.8
    assert found.saw_line_mm >= rims / 2


def worth_of(job: Job, *laid: Placement) -> float:
    return sum(offcut.worth for offcut in measure(job, laid)[1])


def test_a_lone_disc_leaves_more_worth_in_a_corner_than_at_the_middle_of_the_short_side() -> None:
    """A sheet of 300 × 150 with a disc of 15 mm radius, 1 mm from the edge; with the kerf of 0.3
    it ends at 31.3. Right of it 268.7 × 150 are left, the first rectangle either way. Over the
    disc in the corner are 31.3 × 118.7 more, at the middle of the side 31.3 × 59.7 at best."""
    metal = box(0, 0, 300, 150)
    dot = Wanted("dot", Point(0, 0).buffer(15, quad_segs=45))
    job = job_of(dot, metal=metal, offcut_min_width_mm=0.5)
    corner, side = at("dot", 0, 16, 16), at("dot", 0, 16, 75)
    for place in (corner, side):
        assert faults(job, [place]) == ()
    one = replace(job, worth="one")
    areas = [measure(job, [place])[0].kept_mm2 for place in (corner, side)]
    first = 268.7 * 150
    for place, area, second in zip((corner, side), areas, (31.3 * 118.7, 31.3 * 59.7), strict=True):
        two_mm2 = first + 0.85 * second + 0.6 * (area - first - second)
        assert worth_of(job, place) == pytest.approx(0.0003 * two_mm2, rel=1e-3)
        one_mm2 = first + 0.6 * (area - first)
        assert worth_of(one, place) == pytest.approx(0.0003 * one_mm2, rel=1e-3)
    assert worth_of(job, corner) > worth_of(job, side)
    assert measure(job, [corner])[0].cost < measure(job, [side])[0].cost


@pytest.mark.parametrize(("least", "second"), [(4.0, 70 * 5), (6.0, 0.0)])
def test_a_second_rectangle_narrower_than_an_offcut_may_be_counts_for_nothing(
    least: float, second: float
) -> None:
    """Over a stepped bar are 100 × 55, and 70 × 5 more beside the step."""
    bar = Polygon([(0, 0), (100, 0), (100, 20), (30, 20), (30, 25), (0, 25)])
    job = job_of(Wanted("bar", bar), metal=box(0, 0, 100, 80), kerf_mm=0.0)
    job = replace(job, hands=Hands(0.0, 0.0), offcut_min_width_mm=least)
    (found,) = measure(job, [at("bar", 0, 0, 0)])[1]
    area = found.outline.area
    first = largest_rectangle(found.outline).area_mm2
    assert first == pytest.approx(100 * 55, rel=0.05)  # its corners are round
    weighed = first + 0.85 * second + 0.6 * (area - first - second)
    assert found.worth == pytest.approx(0.0003 * weighed, rel=2e-3)


def test_an_ell_counts_both_of_its_arms() -> None:
    """Metal of 100 × 100 without a square of 60: first 100 × 40, then 40 × 60 of the other arm."""
    job = job_of(Wanted("a", square(60)), metal=square(100), kerf_mm=0.0)
    job = replace(job, hands=Hands(0.0, 0.0), offcut_min_width_mm=0.2)
    assert worth_of(job, at("a", 0, 40, 40)) == pytest.approx(
        0.0003 * (4000 + 0.85 * 2400), rel=2e-3
    )


def test_the_frame_and_what_lies_in_it_share_a_straight_line() -> None:
    job = job_of(Wanted("frame", frame(50, 40, 5)), Wanted("in", square(20)))
    found, _ = measure(job, [at("frame", 0, 20, 10), at("in", 0, 25.5, 15.5)])
    assert found.shared_line_mm == pytest.approx(40)
    assert found.saw_line_mm == pytest.approx(180 + 140 + 80 - 40)


def test_mirrored_and_turned_the_figures_are_the_same() -> None:
    lean = Polygon([(0, 0), (20, 0), (17, 12), (4, 12)])
    job = job_of(Wanted("a", lean, 2, may_mirror=True))
    pair = [at("a", 0, 50, 50), at("a", 1, 71.2, 50, turn=0.0)]
    plain = measure(job, pair)[0].saw_line_mm
    about = [
        replace(
            p,
            mirror=True,
            turn_deg=p.turn_deg + 30.0,
            **dict(zip(("x_mm", "y_mm"), _mirrored(p.x_mm, p.y_mm, 30.0), strict=True)),
        )
        for p in pair
    ]
    assert measure(job, about)[0].saw_line_mm == pytest.approx(plain, abs=1e-9)


def _mirrored(x: float, y: float, turn: float) -> tuple[float, float]:
    point = affinity.rotate(Point(-x, y), turn, origin=(0, 0))
    return point.x + 200.0, point.y + 20.0
