"""The compiled search: what it promises beside what every plan must hold.

Slow at first: the loops are compiled once, and kept where the cache can be written.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from studio.core.cutting import Job, Stock, Wanted
from studio.core.placing import place
from studio.core.placing.trials.peers import raster_fill, shelves
from studio.core.placing.trials.samples import class_jobs
from studio.core.verifying import faults, measure
from tests.core.placing.jobs import class_job, sheet, square, triangle
from tests.core.verifying.dissections import MORON_33, MORON_65, job_of

from .judging import jobs, judged

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("warm")]


def test_the_same_job_seed_and_rounds_give_the_same_plan_on_one_thread_or_two() -> None:
    job = class_job()
    one = place(job, rounds=16, seed=3, workers=1)
    two = place(job, rounds=16, seed=3, workers=2)
    assert one.rounds == two.rounds == 16
    assert one.placements == two.placements


def test_a_search_that_is_cut_short_can_be_repeated_by_its_rounds() -> None:
    job = class_job()
    cut = place(job, seconds=1e9, seed=2, workers=2, on_progress=lambda plan: plan.rounds < 9)
    again = place(job, seed=2, rounds=cut.rounds)
    assert cut.rounds >= 9
    assert again.placements == cut.placements


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(), st.integers(8, 14))
def test_random_jobs_have_no_fault_and_their_areas_add_up(job: Job, rounds: int) -> None:
    judged(job, rounds=rounds)


@pytest.mark.parametrize("name", class_jobs())
def test_class_jobs_are_cheaper_than_a_raster_fill_and_than_shelves(name: str) -> None:
    job = class_jobs()[name]
    plan = judged(job, rounds=30)
    for placements in (raster_fill(job), shelves(job)):
        assert faults(job, placements) == ()
        assert len(plan.placements) >= len(placements)
        if len(placements) == job.copies:
            assert plan.measures.cost < measure(job, placements)[0].cost


@pytest.mark.parametrize(("width", "height", "sizes"), [MORON_33, MORON_65])
def test_perfect_rectangles_are_nearly_filled_in_a_strip(
    width: int, height: int, sizes: tuple[int, ...]
) -> None:
    job = job_of(3 * width, height, sizes)
    plan = judged(replace(job, goal="strip"), rounds=60)
    # the perfect packing is the bound; a tolerance on both sides
    assert width - 1e-2 <= plan.measures.strip_length_mm <= 1.12 * width


def test_the_tangrams_square_is_nearly_filled() -> None:
    side = 80.0
    half, small = side / math.sqrt(2), side / math.sqrt(8)
    pieces = (
        Wanted("large", triangle(half, half), 2),
        Wanted("middle", triangle(side / 2, side / 2)),
        Wanted("small", triangle(small, small), 2),
        Wanted("square", square(small)),
    )
    metal = (Stock("S1", box(0, 0, 3 * side, side)),)
    plan = judged(Job(metal, pieces, kerf_mm=0.0, goal="strip"), rounds=40)
    area = sum(wanted.outline.area * wanted.count for wanted in pieces)
    assert area / side <= plan.measures.strip_length_mm + 1e-3
    assert plan.measures.strip_length_mm <= 1.15 * side


def test_a_row_of_squares_reaches_the_hand_counted_saw_line() -> None:
    # eight squares in two rows of four in the metal's corner, or one row along its edge
    job = Job((sheet(),), (Wanted("a", square(20), 8),))
    plan = judged(job, rounds=30)
    one_row = 4 * 8 * 20 - 7 * 20 - 9 * 20
    assert plan.measures.saw_line_mm <= one_row + 0.5
