"""What a plan's row says is read once, and never told of an older state of the row."""

from __future__ import annotations

from typing import Any

import pytest

from studio.models import CutPlan, PlacingJob
from tests.people import Cast

from . import making


def job(kerf_mm: float = 0.3) -> dict[str, Any]:
    metal = {"id": "CU-1", "outline": making.TAG.wkt, "clean_edges": True}
    piece = {"id": "p1", "outline": making.SAIL.wkt}
    return {"version": 1, "kerf_mm": kerf_mm, "metal": [metal], "pieces": [piece]}


def answer(*unplaced: str, seed: int = 1) -> dict[str, Any]:
    areas = ("piece_area", "consumed", "kept", "scrap", "largest_offcut")
    lengths = ("saw_line", "shared_line", "free_edge", "strip_length")
    return {
        "placements": [],
        "unplaced": [{"piece": name, "copy": 0, "why": "no room"} for name in unplaced],
        "measures": {
            **{f"{name}_mm2": 0.0 for name in areas},
            **{f"{name}_mm": 0.0 for name in lengths},
            "largest_rectangle_mm": [0.0, 0.0],
            "cost": 0.0,
        },
        "offcuts": [],
        "seed": seed,
        "seconds": 1.0,
        "rounds": 1,
    }


def test_a_row_is_read_once_and_anew_when_it_says_something_else() -> None:
    plan = CutPlan(job=job(), answer=answer(seed=1))
    assert plan.asked is plan.asked
    assert plan.laid is plan.laid
    plan.job, plan.answer = job(kerf_mm=0.5), answer(seed=2)
    assert plan.asked.kerf_mm == 0.5
    assert plan.laid is not None
    assert plan.laid.seed == 2


def test_a_plan_that_is_not_placed_has_nothing_laid() -> None:
    plan = CutPlan(job=job())
    assert plan.laid is None
    assert not plan.is_whole
    assert plan.touched_codes == []
    plan.answer = answer("p1")
    assert plan.laid is not None
    assert not plan.is_whole
    plan.answer = answer()
    assert plan.is_whole
    plan.answer = None
    assert plan.laid is None


def test_the_best_so_far_follows_the_progress() -> None:
    placing = PlacingJob()
    assert placing.best is None
    placing.progress = {"plan": answer(seed=3)}
    assert placing.best is not None
    assert placing.best is placing.best
    placing.progress = {"plan": answer(seed=4)}
    assert placing.best.seed == 4
    placing.progress = {"plan": None}
    assert placing.best is None


@pytest.mark.django_db
def test_a_row_that_is_loaded_again_is_read_again(cast: Cast) -> None:
    metal = making.copper(cast)
    plan = CutPlan.objects.create(
        course=cast.course, metal=metal, job=job(), answer=answer(seed=1), created_by=cast.teacher
    )
    assert plan.asked.kerf_mm == 0.3
    assert plan.laid is not None
    CutPlan.objects.filter(pk=plan.pk).update(job=job(kerf_mm=0.5), answer=answer(seed=2))
    plan.refresh_from_db()
    assert plan.asked.kerf_mm == 0.5
    assert plan.laid.seed == 2
    CutPlan.objects.filter(pk=plan.pk).update(answer=None)
    plan.refresh_from_db(fields=["answer"])
    assert plan.laid is None
