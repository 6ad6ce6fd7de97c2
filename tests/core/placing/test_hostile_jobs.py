"""Nothing may be wrong with any plan; `manage.py prove_placing` runs thousands of jobs."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Placement, Plan, Stock, Wanted
from studio.core.placing import place
from studio.core.placing.trials.hostile import KINDS, hostile_job, kind_of
from studio.core.placing.trials.proof import broken_promises, sliver_of
from studio.core.verifying import measure


@pytest.mark.parametrize("number", range(len(KINDS)), ids=kind_of)
def test_every_kind_of_hostile_job_has_a_plan_without_fault(number: int) -> None:
    job = hostile_job(number)
    plan = place(job, rounds=2, seed=number)
    assert broken_promises(job, plan) == []


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6))
def test_random_hostile_jobs_have_plans_without_fault(number: int) -> None:
    job = hostile_job(number)
    assert broken_promises(job, place(job, rounds=1, seed=number)) == []


@pytest.mark.slow
def test_the_command_proves_the_compiled_search_too() -> None:
    out = StringIO()
    call_command("prove_placing", "--jobs", str(len(KINDS)), "--first", "9000", stdout=out)
    assert "0 jobs at fault" in out.getvalue()


def test_the_command_wants_numbers_that_make_sense() -> None:
    with pytest.raises(CommandError, match="--jobs"):
        call_command("prove_placing", "--jobs", "0")


def a_plan() -> tuple[Job, Plan]:
    job = Job((Stock("S1", box(0, 0, 150, 100), 0.0003),), (Wanted("a", box(0, 0, 40, 20), 2),))
    laid = (
        Placement("a", 0, "S1", mirror=False, turn_deg=0.0, x_mm=0.0, y_mm=0.0),
        Placement("a", 1, "S1", mirror=False, turn_deg=0.0, x_mm=40.3, y_mm=0.0),
    )
    measures, offcuts = measure(job, laid)
    return job, Plan(laid, (), measures, offcuts, 1, 0.0, 0)


def test_a_sound_plan_keeps_every_promise() -> None:
    assert broken_promises(*a_plan()) == []


def test_the_proof_finds_what_is_wrong() -> None:
    job, plan = a_plan()
    moved = replace(plan.placements[1], x_mm=40.1)
    wrong = replace(plan, placements=(plan.placements[0], moved))
    assert "too-near-piece" in broken_promises(job, wrong)[0]
    dearer = replace(plan, measures=replace(plan.measures, saw_line_mm=1.0))
    assert any("figures" in sentence for sentence in broken_promises(job, dearer))
    lost = replace(plan, placements=plan.placements[:1])
    assert any("not the pieces wanted" in sentence for sentence in broken_promises(job, lost))
    into_a_piece = replace(plan.offcuts[0], outline=box(30, 0, 150, 100))
    spoilt = replace(plan, offcuts=(into_a_piece,))
    assert any("from a piece" in sentence for sentence in broken_promises(job, spoilt))


def test_a_finger_is_a_sliver_and_a_corner_is_none() -> None:
    fingered = Polygon([(0, 0), (40, 0), (40, 30), (0.5, 30), (0.5, 60), (0, 60)])
    assert sliver_of(fingered, 1.0) == pytest.approx(0.5 * 30, rel=0.1)
    assert sliver_of(box(0, 0, 40, 30), 1.0) == pytest.approx(0.0, abs=1e-6)
