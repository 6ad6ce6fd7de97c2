"""A place that is chosen is found without a fault where there is one; the judge alone decides."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from shapely.geometry import Polygon, box

from studio.core.cutting import Hands, Job, Placement, Stock, Wanted
from studio.core.laying_out.places import (
    At,
    Beside,
    Corner,
    Edge,
    Free,
    Place,
    corners_of,
    edges_of,
    find,
    turned,
)
from studio.core.verifying import cuts, faults

ELL = Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
SAIL = Polygon([(0, 0), (30, 0), (0, 40)])
TAG = box(0, 0, 24, 14)


def pebble(chance: random.Random) -> Polygon:
    """Curved all around: it has no straight side."""
    at, wide, high = chance.uniform(0, 6), chance.uniform(5, 11), chance.uniform(5, 9)
    return Polygon(
        [
            ((wide + math.sin(3 * a + at)) * math.cos(a), high * math.sin(a))
            for a in (2 * math.pi * k / 60 for k in range(60))
        ]
    )


def a_job(chance: random.Random) -> Job:
    shapes = [ELL, SAIL, TAG, pebble(chance), pebble(chance)]
    offcut = Polygon([(0, 0), (60, 0), (80, 40), (30, 70), (0, 60)])
    return Job(
        (
            Stock("S", box(0, 0, chance.uniform(90, 140), chance.uniform(70, 100))),
            Stock("O", offcut, clean_edges=chance.random() < 0.5),
        ),
        tuple(
            Wanted(str(k), shape, 2, may_mirror=k == 0, grain_deg=90.0 if k == 2 else None)
            for k, shape in enumerate(shapes)
        ),
        kerf_mm=0.3,
        hands=Hands(*chance.choice([(0.3, 0.3), (1.0, 0.5), (2.0, 0.7)])),
        edge_margin_mm=2.0,
    )


@pytest.mark.parametrize("seed", range(4))
def test_what_is_found_as_good_is_good_by_the_judge_and_keeps_others_good(seed: int) -> None:
    chance = random.Random(seed)
    job = a_job(chance)
    laid: list[Placement] = []
    for wanted in job.pieces:
        for copy in range(wanted.count):
            places: list[Place] = [
                Corner("S", chance.randrange(4)),
                Edge("S", chance.randrange(4)),
                Corner("O", chance.randrange(5)),
                Free("O"),
            ]
            if laid:
                places.append(Beside(laid[-1].piece, laid[-1].copy))
            place = chance.choice(places)
            found = find(job, laid, wanted.id, copy, place)
            if found is None or found.faults:
                if found is not None:  # whatever is told is what the judge says
                    assert faults(job, [*laid, found.placement])
                found = find(job, laid, wanted.id, copy, Free())
            if found is None:
                continue
            assert not found.faults
            laid.append(found.placement)
            assert faults(job, laid) == ()
    assert len(laid) >= 8


def sheet(*wanted: Wanted, hands: Hands | None = None) -> Job:
    return Job((Stock("S", box(0, 0, 100, 60)),), wanted, hands=hands or Hands(1.0, 0.5))


def number_of(job: Job, x: float, y: float) -> int:
    """Of the corner there."""
    corners = corners_of(job.metal[0])
    return next(k for k, (_, out) in enumerate(corners) if math.dist(out[:2], (x, y)) < 0.1)


@pytest.mark.parametrize(("x", "y"), [(0, 0), (100, 0), (0, 60), (100, 60)])
def test_a_piece_lies_in_the_corner_with_its_longest_side_on_an_edge(x: float, y: float) -> None:
    job = sheet(Wanted("e", ELL))
    found = find(job, [], "e", 0, Corner("S", number_of(job, x, y)))
    assert found is not None
    assert not found.faults
    outline = found.placement.lay(ELL)
    assert outline.distance(shapely.Point(x, y)) < 1e-6
    free = cuts(job, job.metal[0], [found.placement]).free
    assert sum(one.line.length for one in free) == pytest.approx(70, abs=0.01)


def test_a_piece_without_straight_sides_keeps_the_gap_in_a_corner() -> None:
    job = sheet(Wanted("p", pebble(random.Random(1))))
    found = find(job, [], "p", 0, Corner("S", number_of(job, 0, 0)))
    assert found is not None
    assert not found.faults
    x0, y0, _, _ = found.placement.lay(job.pieces[0].outline).bounds
    assert (x0, y0) == pytest.approx((1.0, 1.0), abs=0.01)


def test_a_second_piece_slides_along_the_edge_to_the_first_good_spot() -> None:
    job = sheet(Wanted("t", TAG, 3))
    lower = next(k for k, e in enumerate(edges_of(job, job.metal[0])) if e[1] == e[3] == 0)
    laid: list[Placement] = []
    for copy in range(3):
        found = find(job, laid, "t", copy, Edge("S", lower))
        assert found is not None
        assert not found.faults
        laid.append(found.placement)
    lefts = sorted(p.lay(TAG).bounds[0] for p in laid)
    assert lefts[0] == pytest.approx(0.0, abs=1e-6)
    assert lefts[2] == pytest.approx(76.0, abs=1e-6)  # in the other corner
    assert {round(p.lay(TAG).bounds[1], 6) for p in laid} == {0.0}


def test_beside_another_piece_two_straight_sides_share_a_line() -> None:
    job = sheet(Wanted("t", TAG, 2))
    first = Placement("t", 0, "S", False, 0.0, 30.0, 20.0)
    found = find(job, [first], "t", 1, Beside("t", 0))
    assert found is not None
    assert not found.faults
    shared = cuts(job, job.metal[0], [first, found.placement]).shared
    assert sum(one.line.length for one in shared) == pytest.approx(24, abs=0.01)


def test_numbers_are_taken_as_they_are_and_faults_are_told() -> None:
    job = sheet(Wanted("t", TAG))
    found = find(job, [], "t", 0, At("S", -3.0, 5.0, 90.0))
    assert found is not None
    assert found.placement.lay(TAG).bounds == pytest.approx((-3, 5, 11, 29))
    assert [fault.code for fault in found.faults] == ["outside-metal"]


def test_a_place_that_is_not_there_or_has_no_room_is_none() -> None:
    job = sheet(Wanted("t", box(0, 0, 90, 50), 2))
    first = find(job, [], "t", 0, Free())
    assert first is not None
    assert find(job, [first.placement], "t", 1, Free()) is None
    for place in (Corner("S", 9), Corner("X", 0), Edge("S", 9), Beside("t", 1), At("X", 0, 0, 0)):
        assert find(job, [first.placement], "t", 1, place) is None


def test_a_turn_is_about_the_middle_of_the_piece() -> None:
    job = sheet(Wanted("t", TAG))
    lies = Placement("t", 0, "S", False, 350.0, 30.0, 20.0)
    x0, y0, x1, y1 = lies.lay(TAG).bounds
    a0, b0, a1, b1 = turned(job, lies, 90.0).lay(TAG).bounds
    assert (a0 + a1, b0 + b1) == pytest.approx((x0 + x1, y0 + y1))
    assert turned(job, lies, 90.0).turn_deg == pytest.approx(80.0)
