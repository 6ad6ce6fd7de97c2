"""Grain, margins along rough edges, and the job format that says so."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, JobError, Stock, Wanted, job_from_json, job_to_json
from studio.core.cutting.job import allowed_turns
from studio.core.placing import place
from studio.core.verifying import faults
from tests.core.placing.jobs import at, sheet, square

from .judging import judged

HOOK = Polygon([(0, 0), (30, 0), (30, 8), (8, 8), (8, 20), (0, 20)])


def grained(degrees: float | None) -> Stock:
    return Stock("S1", box(0, 0, 120, 60), 0.0003, grain_deg=degrees)


@pytest.mark.parametrize(
    ("piece", "metal", "mirror", "turns"),
    [
        (0.0, 0.0, False, {0.0, 180.0}),
        (0.0, 90.0, False, {90.0, 270.0}),
        (90.0, 0.0, False, {90.0, 270.0}),
        (30.0, 0.0, False, {150.0, 330.0}),
        (30.0, 0.0, True, {30.0, 210.0}),  # mirrored, its grain points to 150°
    ],
)
def test_the_grain_leaves_two_turns(
    piece: float, metal: float, mirror: bool, turns: set[float]
) -> None:
    order = Wanted("h", HOOK, may_mirror=True, grain_deg=piece)
    assert set(allowed_turns(order, grained(metal), mirror=mirror) or ()) == turns


def test_a_grain_that_nobody_knows_or_asks_for_leaves_every_turn() -> None:
    assert allowed_turns(Wanted("h", HOOK), grained(0.0), mirror=False) is None
    assert allowed_turns(Wanted("h", HOOK, grain_deg=0.0), grained(None), mirror=False) is None


def test_listed_turns_that_all_lie_against_the_grain_leave_none() -> None:
    order = Wanted("h", HOOK, turns_deg=(90.0,), grain_deg=0.0)
    assert allowed_turns(order, grained(0.0), mirror=False) == ()
    plan = judged(Job((grained(0.0),), (order,)))
    assert plan.status == "partial"


@pytest.mark.parametrize("degrees", [0.0, 37.5, 90.0])
def test_pieces_are_placed_along_the_grain_and_the_judge_agrees(degrees: float) -> None:
    job = Job((grained(degrees),), (Wanted("h", HOOK, 5, may_mirror=True, grain_deg=90.0),))
    plan = judged(job, rounds=8)
    assert plan.placements
    for p in plan.placements:
        off = (p.turn_deg + 90.0 - degrees) % 180.0
        assert min(off, 180.0 - off) < 1e-6


def test_the_judge_faults_a_piece_against_the_grain() -> None:
    job = Job((grained(0.0),), (Wanted("h", HOOK, grain_deg=0.0),))
    assert faults(job, [at("h", 0, 10, 10)]) == ()
    assert [f.code for f in faults(job, [at("h", 0, 40, 10, turn=90.0)])] == ["against-the-grain"]


def test_the_margin_stays_free_along_rough_edges_only() -> None:
    pieces = (Wanted("a", square(20), 1),)
    clean = Job((sheet(square(21)),), pieces, edge_margin_mm=1.0)
    assert judged(clean).status == "complete"
    rough = Job((sheet(square(21.9), clean=False),), pieces, edge_margin_mm=1.0)
    assert judged(rough).status == "partial"
    room = Job((sheet(square(22.1), clean=False),), pieces, edge_margin_mm=1.0)
    assert judged(room).status == "complete"


def test_the_judge_faults_a_piece_in_the_margin() -> None:
    job = Job((sheet(square(40), clean=False),), (Wanted("a", square(20)),), edge_margin_mm=1.0)
    assert [f.code for f in faults(job, [at("a", 0, 0.9, 5)])] == ["too-near-edge"]
    assert faults(job, [at("a", 0, 1.0, 5)]) == ()


def test_a_margin_narrower_than_the_kerf_changes_nothing() -> None:
    job = Job((sheet(square(40), clean=False),), (Wanted("a", square(20)),), edge_margin_mm=0.1)
    assert job.edge_gap_mm == job.kerf_mm


def test_grain_and_margin_are_written_in_version_1_1_and_only_then() -> None:
    plain = Job((sheet(),), (Wanted("a", square(20)),))
    assert job_to_json(plain)["version"] == 1
    assert "grain_deg" not in job_to_json(plain)["pieces"][0]
    more = Job((grained(12.0),), (Wanted("a", square(20), grain_deg=5.0),), edge_margin_mm=0.7)
    written = job_to_json(more)
    assert written["version"] == 1.1
    assert job_from_json(written) == more


def test_version_1_knows_neither() -> None:
    data = job_to_json(Job((sheet(),), (Wanted("a", square(20)),)))
    with pytest.raises(JobError, match="unknown field"):
        job_from_json(data | {"edge_margin_mm": 1.0})
    data["pieces"][0]["grain_deg"] = 0.0
    with pytest.raises(JobError, match="unknown field"):
        job_from_json(data)


def test_a_rough_offcut_that_is_all_margin_takes_nothing_and_does_no_harm() -> None:
    job = Job(
        (sheet(square(9), "O1", clean=False), sheet()),
        (Wanted("a", square(5), 2),),
        edge_margin_mm=5.0,
    )
    plan = place(job, rounds=8)
    assert faults(job, plan.placements) == ()
    assert {p.metal for p in plan.placements} == {"S1"}
