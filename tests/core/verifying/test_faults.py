"""The judge finds what is wrong with placements, and nothing where nothing is wrong."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Job, Placement, Stock, Wanted
from studio.core.verifying import faults
from tests.core.placing.jobs import at, frame, sheet, square
from tests.core.verifying.dissections import (
    DUIJVESTIJN,
    MORON_33_CODE,
    MORON_65_CODE,
    job_of,
    layout,
)


def codes(job: Job, *placements: Placement) -> list[str]:
    return [fault.code for fault in faults(job, placements)]


TWO = Job(metal=(sheet(box(0, 0, 100, 60)),), pieces=(Wanted("a", square(20), 2),))


def test_two_squares_exactly_one_kerf_apart_have_no_fault() -> None:
    assert codes(TWO, at("a", 0, 0, 0), at("a", 1, 20.3, 0)) == []


def test_two_squares_closer_than_the_kerf_by_two_thousandths_are_a_fault() -> None:
    assert codes(TWO, at("a", 0, 0, 0), at("a", 1, 20.298, 0)) == ["too-near-piece"]


def test_a_square_within_a_thousandth_of_the_kerf_passes() -> None:
    assert codes(TWO, at("a", 0, 0, 0), at("a", 1, 20.2995, 0)) == []


@pytest.mark.parametrize("kerf", [0.0, 0.3])
def test_a_piece_on_top_of_another_is_a_fault(kerf: float) -> None:
    job = replace(TWO, kerf_mm=kerf)
    assert codes(job, at("a", 0, 5, 5), at("a", 1, 5, 5)) == ["too-near-piece"]


@pytest.mark.parametrize("kerf", [0.0, 0.3])
def test_bars_that_cross_with_no_corner_inside_each_other_are_a_fault(kerf: float) -> None:
    job = Job((sheet(),), (Wanted("bar", box(0, 0, 60, 5), 2),), kerf_mm=kerf)
    crossed = [at("bar", 0, 20, 50), at("bar", 1, 55, 20, turn=90.0)]
    assert codes(job, *crossed) == ["too-near-piece"]


def test_a_small_piece_wholly_inside_another_is_a_fault() -> None:
    job = Job((sheet(),), (Wanted("big", square(50)), Wanted("small", square(5))))
    assert codes(job, at("big", 0, 0, 0), at("small", 0, 20, 20)) == ["too-near-piece"]


def test_a_piece_in_the_window_of_another_has_no_fault_while_it_keeps_the_kerf() -> None:
    job = Job((sheet(),), (Wanted("frame", frame(50, 40, 5)), Wanted("in", box(0, 0, 39.4, 29.4))))
    assert codes(job, at("frame", 0, 0, 0), at("in", 0, 5.3, 5.3)) == []
    assert codes(job, at("frame", 0, 0, 0), at("in", 0, 5.2, 5.3)) == ["too-near-piece"]


def test_a_piece_may_lie_on_a_clean_edge_but_not_over_it() -> None:
    assert codes(TWO, at("a", 0, 80, 40)) == []
    assert codes(TWO, at("a", 0, 80.002, 40)) == ["outside-metal"]


def test_a_piece_keeps_one_kerf_from_an_edge_that_is_not_clean() -> None:
    job = replace(TWO, metal=(sheet(box(0, 0, 100, 60), clean=False),))
    assert codes(job, at("a", 0, 0.3, 0.3)) == []
    assert codes(job, at("a", 0, 0.2, 0.3)) == ["too-near-edge"]


def test_a_piece_over_a_hole_in_the_metal_is_a_fault_even_when_its_corners_are_not() -> None:
    holed = Polygon(box(0, 0, 100, 60).exterior, [box(8, 8, 12, 12).exterior])
    job = replace(TWO, metal=(sheet(holed),))
    assert codes(job, at("a", 0, 0, 0)) == ["outside-metal"]
    assert codes(job, at("a", 0, 12, 0)) == []


def test_a_window_may_lie_over_a_hole_in_the_metal() -> None:
    holed = Polygon(box(0, 0, 100, 60).exterior, [box(20, 20, 25, 25).exterior])
    job = Job((sheet(holed),), (Wanted("frame", frame(50, 40, 5)),))
    assert codes(job, at("frame", 0, 0, 0)) == []


def test_a_piece_across_the_gap_of_metal_in_two_parts_is_a_fault() -> None:
    parts = MultiPolygon([box(0, 0, 30, 30), box(40, 0, 70, 30)])
    job = Job((Stock("S1", parts),), (Wanted("a", square(20), 2),))
    assert codes(job, at("a", 0, 0, 0), at("a", 1, 45, 0)) == []
    assert codes(job, at("a", 0, 25, 0)) == ["outside-metal"]


def test_only_listed_turns_are_allowed_and_whole_rounds_count_as_none() -> None:
    job = replace(TWO, pieces=(Wanted("a", square(20), turns_deg=(0.0, 90.0)),))
    assert codes(job, at("a", 0, 40, 10, turn=90.0)) == []
    assert codes(job, at("a", 0, 40, 10, turn=450.0)) == []
    assert codes(job, at("a", 0, 40, 10, turn=45.0)) == ["turn-not-allowed"]


def test_a_mirrored_piece_needs_leave() -> None:
    mirrored = Placement("a", 0, "S1", mirror=True, turn_deg=0.0, x_mm=20, y_mm=0)
    assert codes(TWO, mirrored) == ["mirror-not-allowed"]
    job = replace(TWO, pieces=(Wanted("a", square(20), may_mirror=True),))
    assert codes(job, mirrored) == []


def test_unknown_pieces_metals_and_copies_and_doubles_are_faults() -> None:
    assert codes(TWO, at("z", 0, 0, 0)) == ["unknown-piece"]
    assert codes(TWO, at("a", 0, 0, 0, metal="S9")) == ["unknown-metal"]
    assert codes(TWO, at("a", 2, 0, 0)) == ["unknown-copy"]
    assert codes(TWO, at("a", 0, 0, 0), at("a", 0, 40, 0)) == ["placed-twice"]


def test_a_shift_that_is_not_a_number_is_a_fault() -> None:
    assert codes(TWO, at("a", 0, float("nan"), 0)) == ["not-a-number"]
    assert codes(TWO, at("a", 0, 0, 0, turn=float("inf"))) == ["not-a-number"]


DISSECTIONS = {
    "Moroń 33 × 32": (33, 32, MORON_33_CODE),
    "Moroń 65 × 47": (65, 47, MORON_65_CODE),
    "Duijvestijn 112 × 112": DUIJVESTIJN,
}


@pytest.mark.parametrize("name", DISSECTIONS)
def test_the_published_dissections_have_no_fault(name: str) -> None:
    width, height, code = DISSECTIONS[name]
    assert faults(job_of(width, height, code), layout(width, code)) == ()


@pytest.mark.parametrize("name", DISSECTIONS)
def test_a_dissection_is_faulted_when_any_square_moves_by_a_tenth(name: str) -> None:
    width, height, code = DISSECTIONS[name]
    job, right = job_of(width, height, code), layout(width, code)
    for k, placement in enumerate(right):
        for dx, dy in ((0.1, 0.0), (-0.1, 0.0), (0.0, 0.1), (0.0, -0.1)):
            moved = replace(placement, x_mm=placement.x_mm + dx, y_mm=placement.y_mm + dy)
            assert faults(job, [*right[:k], moved, *right[k + 1 :]])
