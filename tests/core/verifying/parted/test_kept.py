"""What the watch keeps of one layout is used in the next only where it still holds."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import MultiLineString, Polygon, box

from studio.core.cutting import Cut, Job, Placement, Stock
from studio.core.verifying import Judgement, Watch, faults, measure
from tests.core.placing.jobs import at
from tests.core.verifying.parted.jobs import across, parted_job, upright, with_metal

NOTCHED = box(0, 0, 200, 100).difference(box(62.5, 40, 200, 100))
ANGLE = Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
MISSES = Cut("S1", 0, (300, 0), (300, 100))
DIAGONAL = Cut("S1", 0, (0, 0), (200, 100))
BACK = Cut("S1", 0, (200, 100), (0, 0))


def notched(*, rough: bool) -> Job:
    assert isinstance(NOTCHED, Polygon)
    edge = MultiLineString([[(62.5, 40), (62.5, 100)]]) if rough else None
    metal = Stock("S1", NOTCHED, 0.001, rough_edges=edge)
    return with_metal(parted_job(margin=0.2, least=1.0), metal)


def told(found: Judgement) -> list[tuple[str, int | None, int | None]]:
    return [(fault.code, fault.cut, fault.part) for fault in found.faults]


# The job, a piece, and cuts before and after, each with what is wrong.
CASES: dict[str, tuple[Job, list[Placement], list[tuple[list[Cut], list[object]]]]] = {
    "a rough edge that a cut has parted from the piece": (
        notched(rough=True),
        [at("a", 0, 41, 60)],
        [([], [("too-near-edge", None, None)]), ([upright(62.1)], [])],
    ),
    "a clean one, nearer than the gap": (
        notched(rough=False),
        [at("a", 0, 41.9, 60)],
        [([], [("too-near-edge", None, None)]), ([upright(62.2)], [])],
    ),
    "two clean ones, of which a cut has parted the nearer": (
        notched(rough=False),
        [at("a", 0, 41.9, 79.2)],
        [
            ([], [("too-near-edge", None, None)]),
            ([upright(62.2)], [("too-near-edge", None, None)]),
        ],
    ),
    "the two parts of a cut turned round": (
        parted_job(),
        [at("a", 0, 20, 60)],
        [([DIAGONAL], []), ([BACK], []), ([DIAGONAL], [])],
    ),
    "the number of a part that is too narrow": (
        parted_job(),
        [],
        [
            ([upright(10)], [("strip-too-narrow", 0, 1)]),
            ([MISSES, upright(10)], [("cut-not-through", 0, 0), ("strip-too-narrow", 1, 3)]),
        ],
    ),
    "the number of a cut that is out of reach": (
        parted_job("saw", throat=49.0),
        [],
        [
            ([upright(100)], [("out-of-reach", 0, 0)]),
            ([MISSES, upright(100)], [("cut-not-through", 0, 0), ("out-of-reach", 1, 0)]),
        ],
    ),
    "the part that a cut out of reach goes through": (
        parted_job("shear", longest=101.0),
        [],
        [
            ([upright(20), across(50, 20, 200, part=2)], [("out-of-reach", 1, 2)]),
            (
                [MISSES, upright(20), across(50, 20, 200, part=4)],
                [("cut-not-through", 0, 0), ("out-of-reach", 2, 4)],
            ),
        ],
    ),
    "cuts that change places": (
        parted_job(),
        [at("a", 0, 60, 30)],
        [
            ([upright(50), across(20, 50, 200, part=2)], []),
            ([upright(50), across(20, 0, 50, part=1)], []),
            ([across(20, 0, 200), upright(50, part=1)], []),
            ([across(49, 0, 200), upright(50, part=1)], [("cut-through-piece", 0, None)]),
        ],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_fault_is_told_anew_where_the_cuts_are_others(name: str) -> None:
    job, laid, steps = CASES[name]
    watch = Watch(job)
    for cuts, expected in steps:
        found = watch.judge(laid, cuts)
        assert told(found) == expected
        assert found.faults == faults(job, laid, cuts)
        assert (found.measures, found.offcuts) == measure(job, laid, cuts)


def test_an_edge_that_the_saw_has_taken_is_free_no_longer() -> None:
    """A square on the inner edge of an angle, in whose line a saw then cuts."""
    job = parted_job("saw", metal=ANGLE)
    watch, laid, cut = Watch(job), [at("a", 0, 60, 20)], across(40, 0, 100)
    assert watch.judge(laid).measures.free_edge_mm == pytest.approx(20)
    assert watch.judge(laid, [cut]).measures.free_edge_mm == 0.0
    assert watch.judge(laid).measures.free_edge_mm == pytest.approx(20)


def test_offcuts_of_a_part_are_not_those_of_the_stock_piece() -> None:
    job = replace(parted_job(), offcut_min_area_mm2=100.0)
    watch = Watch(job)
    laid = [at("a", 0, 0, 0)]
    for cuts in ([], [upright(50)], [upright(60)], [], [upright(60), upright(120, part=2)]):
        found = watch.judge(laid, cuts)
        assert (found.measures, found.offcuts) == measure(job, laid, cuts)
        assert len(found.offcuts) == 1 + len(cuts)
