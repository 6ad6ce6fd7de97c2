"""The demo tells its whole story where the clock runs far faster than the work is done."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from studio.core.cutting import plan_from_json
from studio.demo import story
from studio.demo.placing import ROUNDS, place_here
from studio.demo.show import run_main_job
from studio.models import CutPlan
from tests.people import Cast
from tests.racing import race
from tests.studio.plans import making


def test_a_plan_of_the_demo_has_all_its_rounds_whatever_the_clock_says(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    race(monkeypatch)
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    outlines = (making.FISH, making.SAIL, making.WINDOW_TAG)
    project = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, *outlines, copies=2
    )
    plan = place_here([project], acting=cast.teacher)
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.answer is not None
    assert plan.answer["rounds"] == ROUNDS
    assert plan.quotes.count() == 1


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("pango")
def test_the_demo_does_not_break_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    race(monkeypatch)
    # as in the app: queued for a worker, and done here before one comes
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": []}}
    story.tell()
    told = list(run_main_job(tmp_path))
    assert any(line.startswith("priced") for line in told)
    for plan in CutPlan.objects.all():
        assert plan.answer is not None
        assert not plan_from_json(plan.answer).unplaced
    assert CutPlan.objects.count() == 19
