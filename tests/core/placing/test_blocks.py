"""Copies joined into blocks: what is joined lies one kerf apart and comes apart again."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Placement, Stock, Wanted
from studio.core.placing import place
from studio.core.placing.laying.blocks import joined_at_random, units_of
from studio.core.placing.trials.samples import class_jobs
from studio.core.verifying import faults, measure
from studio.core.verifying.rectangles import _most_within, largest_rectangle

SHEET = Stock("s", box(0, 0, 305, 150), 0.0003)
WEDGE = Polygon([(0, 0), (34, 0), (0, 24)])


def test_two_right_triangles_make_a_rectangle() -> None:
    job = Job((SHEET,), (Wanted("wedge", WEDGE, 8),))
    unit = units_of(job)[0]
    assert len(unit.spots) == 2
    # the legs, each longer by a kerf across the slope (0.3 mm along the normal (24, 34)/41.62)
    assert sorted(unit.sides) == pytest.approx([24.245, 34.173], abs=1e-3)


def test_a_triangle_that_may_not_turn_about_is_not_joined() -> None:
    job = Job((SHEET,), (Wanted("wedge", WEDGE, 8, (0.0, 90.0)),))
    assert units_of(job) == {}


def test_round_pieces_are_not_joined() -> None:
    jobs = class_jobs()
    assert units_of(jobs["fish and leaves"]) == {}


def test_pieces_with_a_grain_are_not_joined() -> None:
    assert units_of(Job((SHEET,), (Wanted("tag", box(0, 0, 30, 10), 8, grain_deg=0.0),))) == {}


@pytest.mark.parametrize("name", ["straight tags", "triangles", "up and down only"])
def test_a_form_holds_every_copy_once_and_its_blocks_come_apart_without_fault(name: str) -> None:
    job = class_jobs()[name]
    units = units_of(job)
    rng = np.random.default_rng(5)
    wide = Stock("wide", box(-9e4, -9e4, 9e4, 9e4))
    room = Job((wide,), job.pieces, kerf_mm=job.kerf_mm)
    for _ in range(30):
        form = joined_at_random(job, units, rng)
        if form is None:
            continue
        laid = [
            Placement(wanted.id, copy, "wide", False, turn, 2e3 * i, 2e3 * copy)
            for i, wanted in enumerate(form.job.pieces)
            for copy in range(wanted.count)
            for turn in [(wanted.turns_deg or (33.3,))[-1]]
        ]
        apart = form.taken_apart(laid)
        wanted = {(wanted.id, copy) for wanted in job.pieces for copy in range(wanted.count)}
        assert {(p.piece, p.copy) for p in apart} == wanted
        assert len(apart) == len(wanted)
        assert faults(room, apart) == ()


def test_a_mirrored_single_copy_stays_mirrored_when_blocks_come_apart() -> None:
    job = Job((SHEET,), (Wanted("tag", box(0, 0, 30, 10), 3, may_mirror=True),))
    units = units_of(job)
    rng = np.random.default_rng(1)
    for _ in range(40):
        form = joined_at_random(job, units, rng)
        if form is None:
            continue
        for wanted in form.job.pieces:
            if wanted.may_mirror:
                laid = [Placement(wanted.id, 0, "s", True, 0.0, 50.0, 0.0)]
                assert form.taken_apart(laid)[0].mirror
                return
    pytest.fail("no form with a single copy came up")


def test_sixteen_triangles_share_their_slopes_and_most_of_their_legs() -> None:
    # hand-counted: eight rectangles share eight slopes of 41.62 mm, 332.9 mm; in a row of eight
    # along the lower edge 8 x 34 mm lie free and 7 x 24 mm are shared
    job = Job((SHEET,), (Wanted("wedge", WEDGE, 16),))
    plan = place(job, rounds=30, seed=1)
    assert not plan.unplaced
    assert plan.measures.shared_line_mm + plan.measures.free_edge_mm >= 332.9 + 272.0 + 168.0 - 1.0
    assert measure(job, plan.placements)[0] == plan.measures


def test_a_plan_of_blocks_can_be_made_again() -> None:
    job = class_jobs()["triangles"]
    first = place(job, rounds=14, seed=3)
    again = place(job, rounds=14, seed=3, workers=2)
    assert first.placements == again.placements


@pytest.mark.parametrize("turn", [5, 40, 45, 60, 85])
def test_no_turned_rectangle_is_missed_by_the_bound_on_its_area(turn: int) -> None:
    sides = (10.0, 4.0)
    upright = affinity.rotate(box(0, 0, *sides), turn, origin=(0, 0))
    assert _most_within(upright.bounds, turn) >= 40.0 - 1e-9
    assert largest_rectangle(upright).area_mm2 == pytest.approx(40.0, abs=1e-6)
