"""Each rule for parted metal, by cases that can be counted by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import MultiLineString, MultiPolygon, Polygon, box

from studio.core.cutting import Cut, Stock, Wanted
from studio.core.verifying import faults, parts_of
from tests.core.placing.jobs import at
from tests.core.verifying.parted.jobs import across, parted_job, upright, with_metal

APART = [at("a", 0, 0, 0), at("a", 1, 0, 21), at("b", 0, 60, 0), at("b", 1, 60, 21)]


def codes(*found: object) -> list[str]:
    return [fault.code for fault in faults(*found)]  # type: ignore[arg-type]


def test_two_students_apart_on_their_own_blanks_are_without_fault() -> None:
    assert faults(parted_job(), APART, [upright(40)]) == ()
    assert faults(parted_job("saw"), APART, [upright(40)]) == ()


def test_two_groups_on_metal_that_no_cut_parts() -> None:
    (fault,) = faults(parted_job(), APART)
    assert (fault.code, fault.metal, fault.part) == ("two-groups-in-part", "S1", 0)
    assert (fault.piece, fault.copy, fault.other, fault.other_copy) == ("b", 0, "a", 0)
    assert codes(parted_job(), APART, [across(60, 0, 200)]) == ["two-groups-in-part"]


def test_pieces_without_a_group_are_one_group() -> None:
    square = box(0, 0, 20, 20)
    alone = parted_job("shear", Wanted("a", square, 2), Wanted("b", square, 2))
    assert faults(alone, APART) == ()
    mixed = parted_job("shear", Wanted("a", square, 2), Wanted("b", square, 2, group="B"))
    assert codes(mixed, APART) == ["two-groups-in-part"]


def test_without_parting_cuts_are_passed_over() -> None:
    job = replace(parted_job(), parting=None)
    assert faults(job, APART, [upright(10), Cut("?", 9, (0, 0), (0, 0))]) == ()
    assert parts_of(job, "S1", [upright(40)]) == {0: job.metal[0].outline}


@pytest.mark.parametrize(
    ("cut", "why"),
    [
        (Cut("S9", 0, (0, 0), (9, 9)), 'no metal "S9"'),
        (upright(100, part=5), "part 5 is none"),
        (upright(100, part=0), "part 0 was cut before"),
        (upright(20, part=2), "misses"),
        (upright(40, part=2), "misses"),  # along its edge
        (Cut("S1", 2, (100, 50), (100, 50)), "one point"),
        (Cut("S1", 2, (float("nan"), 50), (100, 50)), "one point"),
        (upright(100, part=2, high=99.98), "0.02 mm short"),
        (Cut("S1", 2, (100, 0.02), (100, 100)), "0.02 mm short"),
    ],
)
def test_cuts_that_part_nothing(cut: Cut, why: str) -> None:
    (fault,) = faults(parted_job(), APART, [upright(40), cut])
    assert fault.code == "cut-not-through"
    assert why in fault.message
    assert (fault.metal, fault.piece) == (cut.metal, "")
    assert fault.cut == (0 if cut.metal == "S9" else 1)


def test_ends_may_lie_outside_the_metal_and_a_hundredth_inside() -> None:
    assert faults(parted_job(), APART, [Cut("S1", 0, (40, -7), (40, 107))]) == ()
    assert faults(parted_job(), APART, [Cut("S1", 0, (40, 0.009), (40, 99.991))]) == ()


def test_a_cut_runs_through_all_of_a_part_that_has_a_notch() -> None:
    """Two legs of 40 mm with 20 mm between: a cut through the left leg alone is none."""
    legs = box(0, 0, 100, 100).difference(box(40, 40, 60, 100))
    assert isinstance(legs, Polygon)
    job = parted_job(metal=legs)
    (fault,) = faults(job, [], [across(70, 0, 40)])
    assert (fault.code, "60.00 mm short" in fault.message) == ("cut-not-through", True)
    assert faults(job, [], [across(70, 0, 100)]) == ()
    assert {n: p.area for n, p in parts_of(job, "S1", [across(70, 0, 100)]).items()} == {
        1: 2 * 40 * 30,
        2: 100 * 100 - 20 * 60 - 2 * 40 * 30,
    }


def test_numbers_of_parts_count_cuts_that_were_not_made_too() -> None:
    """The second cut misses; the third makes parts 5 and 6 of part 2."""
    cuts = [upright(40), upright(20, part=2), across(50, 40, 200, part=2)]
    assert {n: p.bounds for n, p in parts_of(parted_job(), "S1", cuts).items()} == {
        1: (0, 0, 40, 100),
        5: (40, 50, 200, 100),
        6: (40, 0, 200, 50),
    }


def test_cuts_of_each_stock_piece_are_counted_by_themselves() -> None:
    job = with_metal(parted_job(), Stock("S1", box(0, 0, 200, 100)), Stock("S2", box(0, 0, 80, 80)))
    cuts = [upright(40), upright(30, metal="S2", high=80), upright(100, part=2)]
    assert sorted(parts_of(job, "S1", cuts)) == [1, 3, 4]
    assert sorted(parts_of(job, "S2", cuts)) == [1, 2]


def test_a_cut_through_a_piece() -> None:
    (fault,) = faults(parted_job(), APART, [upright(70)])[:1]
    assert (fault.code, fault.piece, fault.copy, fault.cut) == ("cut-through-piece", "b", 0, 0)
    assert fault.at == (70.0, 10.0)
    assert "cut-through-piece" not in codes(parted_job(), APART, [upright(40)])


def test_a_piece_in_the_kerf_of_a_saw_cut_is_cut_too() -> None:
    """The kerf is 0.3: it takes 20.85 to 21.15."""
    job = parted_job("saw", least=5.0)
    laid = [at("a", 0, 1, 0)]
    assert codes(job, laid, [upright(21)]) == ["cut-through-piece"]
    assert codes(parted_job("saw", margin=0.0), laid, [upright(21.15)]) == []
    assert codes(parted_job("saw", margin=0.0), laid, [upright(21.14)]) == ["cut-through-piece"]


def test_a_piece_that_is_cut_through_is_told_of_that_alone() -> None:
    """It lies half a millimetre from a clean edge too, which asks for one."""
    laid = [at("a", 0, 30, 0.5)]
    assert codes(parted_job(), laid) == ["too-near-edge"]
    assert codes(parted_job(), laid, [upright(40)]) == ["cut-through-piece"]


def test_a_saw_cut_less_than_half_a_kerf_from_the_edge_leaves_nothing_there() -> None:
    """At 0.14 mm the kerf of 0.3 takes all that is left of the line."""
    (fault,) = faults(parted_job("saw"), [], [upright(0.14)])
    assert (fault.code, "no metal" in fault.message) == ("cut-not-through", True)
    assert faults(parted_job("saw"), [], [upright(0.16)])[0].code == "strip-too-narrow"


@pytest.mark.parametrize(("way", "edge"), [("shear", 0.0), ("saw", 0.15)])
def test_the_margin_from_a_cut_is_kept_exactly(way: str, edge: float) -> None:
    """A saw takes half its kerf, so its edge lies that much beside the line."""
    job = parted_job(way, margin=2.0)  # type: ignore[arg-type]
    assert faults(job, APART[:2], [upright(22.0 + edge)]) == ()
    first, second = faults(job, APART[:2], [upright(21.99 + edge)])
    assert (first.code, first.piece, first.copy) == ("too-near-cut", "a", 0)
    assert (first.value_mm, first.limit_mm) == (pytest.approx(1.99), 2.0)
    assert (second.piece, second.copy, second.cut) == ("a", 1, 0)


def test_the_edge_of_a_cut_is_no_free_edge_and_asks_for_no_gap_beyond_the_margin() -> None:
    """A margin of 0.4 is less than the gap of 1.0, and it is all that is asked for."""
    job = parted_job(margin=0.4)
    assert faults(job, APART[:2], [upright(20.4)]) == ()
    assert codes(job, APART[:2], [upright(20.39)]) == ["too-near-cut"] * 2


def test_a_rough_edge_keeps_its_margin_on_its_own_part_only() -> None:
    """The notch's rough edge is 1.5 mm from the piece, across a cut that parts them."""
    notched = box(0, 0, 200, 100).difference(box(62.5, 40, 200, 100))
    assert isinstance(notched, Polygon)
    rough = MultiLineString([[(62.5, 40), (62.5, 100)]])
    metal = Stock("S1", notched, 0.001, rough_edges=rough)
    job = with_metal(parted_job(least=1.0), metal)
    laid = [at("a", 0, 41, 60)]
    assert codes(job, laid) == ["too-near-edge"]
    assert codes(job, laid, [across(58.9, 0, 62.5)]) == ["too-near-edge"]
    assert faults(job, laid, [upright(62.1)]) == ()


def test_between_two_parts_there_is_no_rule_but_the_margin() -> None:
    """Two squares 0.8 mm apart, which is less than the gap, with a cut half way."""
    job = parted_job(margin=0.4)
    laid = [at("a", 0, 20, 40), at("b", 0, 40.8, 40)]
    assert faults(job, laid, [upright(40.4)]) == ()
    same = [at("a", 0, 20, 40), at("a", 1, 40.8, 40)]
    assert codes(job, same, [upright(100)]) == ["too-near-piece"]


def test_a_strip_narrower_than_the_least() -> None:
    (fault,) = faults(parted_job(), [], [upright(14.99)])
    assert (fault.code, fault.part, fault.cut) == ("strip-too-narrow", 1, 0)
    assert (fault.value_mm, fault.limit_mm) == (pytest.approx(14.99), 15.0)
    assert faults(parted_job(), [], [upright(15)]) == ()


def test_the_width_of_a_part_is_measured_across_it_at_any_turn() -> None:
    """A corner cut off at 45°, 21.2 mm along both edges: its height is 21.2 / √2 = 14.99."""
    (fault,) = faults(parted_job(), [], [Cut("S1", 0, (0, 21.2), (21.2, 0))])
    assert fault.value_mm == pytest.approx(21.2 / 2**0.5)
    assert faults(parted_job(), [], [Cut("S1", 0, (0, 21.3), (21.3, 0))]) == ()


def test_a_narrow_part_of_metal_that_no_cut_touches_was_so_before() -> None:
    both = MultiPolygon([box(0, 0, 100, 100), box(110, 0, 120, 100)])
    assert faults(parted_job(metal=both), [], [upright(50)]) == ()
    (fault,) = faults(parted_job(metal=both), [], [across(50, 0, 120)])[:1]
    assert (fault.code, fault.value_mm) == ("strip-too-narrow", pytest.approx(10))


def test_a_cut_longer_than_the_shear() -> None:
    assert faults(parted_job(longest=100.0), [], [upright(40)]) == ()
    (fault,) = faults(parted_job(longest=99.9), [], [upright(40)])
    assert (fault.code, fault.value_mm, fault.limit_mm) == ("out-of-reach", 100.0, 99.9)
    assert fault.cut == 0
    assert faults(parted_job("saw", longest=99.9), [], [upright(40)]) == ()


def test_the_blade_of_a_shear_spans_notches_but_not_what_lies_apart() -> None:
    legs = box(0, 0, 100, 100).difference(box(40, 40, 60, 100))
    assert isinstance(legs, Polygon)
    assert codes(parted_job(metal=legs, longest=90.0), [], [across(70, 0, 100)]) == ["out-of-reach"]
    both = MultiPolygon([box(0, 0, 40, 100), box(60, 0, 100, 100)])
    assert faults(parted_job(metal=both, longest=40.0), [], [across(70, 0, 100)]) == ()


def test_a_saw_frame_reaches_in_from_every_side() -> None:
    """Up the middle of the sheet the lower and the upper edge are 50 mm away at most; along it
    nothing is nearer than 30 mm beside a cut at a height of 30, once it is 30 mm in."""
    assert faults(parted_job("saw", throat=50.0), [], [upright(100)]) == ()
    (fault,) = faults(parted_job("saw", throat=49.9), [], [upright(100)])
    assert (fault.code, fault.limit_mm) == ("out-of-reach", 49.9)
    assert fault.value_mm == pytest.approx(50.0)
    assert fault.at == pytest.approx((100.0, 50.0))
    assert faults(parted_job("saw", throat=30.0), [], [across(30, 0, 200)]) == ()
    assert codes(parted_job("saw", throat=29.9), [], [across(30, 0, 200)]) == ["out-of-reach"]
    assert faults(parted_job("shear", throat=1.0), [], [upright(100)]) == ()


def test_the_frame_reaches_in_from_the_part_that_is_cut_not_from_the_stock_piece() -> None:
    """When the sheet is halved, a cut up its half is still 50 mm from both ends; across the half
    it is 50 mm from the edge that the first cut made."""
    cuts = [upright(100), across(50, 0, 100, part=1)]
    assert faults(parted_job("saw", throat=50.0), [], cuts) == ()
    # the other way round the second cut is through metal that is 100 mm wide and 50 high
    cuts = [across(50, 0, 200), upright(100, part=2, high=50)]
    assert codes(parted_job("saw", throat=49.0), [], cuts) == ["out-of-reach"]
    assert faults(parted_job("saw", throat=49.0), [], cuts)[0].cut == 0


def test_a_window_does_not_let_the_frame_in() -> None:
    pierced = Polygon(box(0, 0, 200, 100).exterior, [box(80, 45, 120, 55).exterior])
    assert codes(parted_job("saw", metal=pierced, throat=44.0), [], [upright(100)]) == [
        "out-of-reach"
    ]
    assert faults(parted_job("saw", metal=pierced, throat=45.0), [], [upright(100)]) == ()


def test_a_blank_is_metal_of_one_piece() -> None:
    """A cut through both legs leaves their upper ends, which are two pieces, for one group."""
    legs = box(0, 0, 100, 100).difference(box(40, 40, 60, 100))
    assert isinstance(legs, Polygon)
    laid = [at("a", 0, 0, 80), at("a", 1, 80, 80)]
    (fault,) = faults(parted_job(metal=legs), laid, [across(70, 0, 100)])
    assert (fault.code, fault.part, fault.cut) == ("cut-not-through", 1, 0)
    assert faults(parted_job(metal=legs), laid, []) == ()
    both = MultiPolygon([box(0, 0, 40, 100), box(60, 0, 100, 100)])
    (fault,) = faults(parted_job(metal=both), [at("a", 0, 0, 0)], [])
    assert (fault.code, fault.part, fault.cut) == ("cut-not-through", 0, None)


def test_what_lies_off_the_metal_is_told_of_that_alone() -> None:
    laid = [at("a", 0, -10, 0), at("b", 0, 300, 0)]
    assert codes(parted_job(), laid, [upright(40)]) == ["outside-metal", "outside-metal"]


def test_fixed_pieces_of_two_groups_on_one_part_are_not_told_again() -> None:
    job = replace(parted_job(), fixed=(APART[0], APART[2]))
    assert faults(job, [APART[0], APART[2]]) == ()
    (fault,) = faults(job, [APART[0], APART[2], APART[3]])
    assert (fault.code, fault.piece, fault.copy) == ("two-groups-in-part", "b", 1)


def test_a_cut_keeps_its_distance_from_fixed_pieces() -> None:
    job = replace(parted_job(), fixed=(APART[0],))
    assert codes(job, [APART[0]], [upright(20.5)]) == ["too-near-cut"]
    assert codes(job, [APART[0]], [upright(19)]) == ["cut-through-piece"]
