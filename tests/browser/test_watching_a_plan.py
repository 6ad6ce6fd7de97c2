"""A student watches the plan appear and improve, without touching the page."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from studio.core.cutting import job_from_json
from studio.core.placing import place
from studio.models import CutPlan, PlacingJob
from studio.running.placing import doing as running
from studio.steps.plans import lease
from studio.steps.plans import place as placing_step
from studio.steps.plans.place import propose
from tests.people import PASSPHRASE, make_cast
from tests.studio.plans import making

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_plan_appears_and_gets_better_on_the_open_page(
    visitor: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    # No worker runs: the test itself plays one, step by step.
    monkeypatch.setattr(
        placing_step, "place_plan", type("Queue", (), {"enqueue": lambda *sent: None})()
    )
    cast = make_cast()
    assert cast.owner.check_password(PASSPHRASE)
    metal = making.copper(cast)
    making.stock(metal, "CU-1", cost="31.40")
    making.allot(cast)
    a_brief = making.brief(cast, metal)
    project = making.approved_project(a_brief, cast.seat, metal, making.FISH, copies=3)
    plan = propose([project], acting=cast.teacher, seconds=5.0)

    page = visitor.come_in(cast.owner.username)
    page = visitor.go(f"/plans/{plan.pk}/")
    expect(page.get_by_text("Waiting for a worker")).to_be_visible()
    visitor.look("watching-1-waiting")

    assert lease.claim(plan.placing.pk, "the test")
    row = PlacingJob.objects.select_related("plan__course__school").get(plan=plan)
    job = job_from_json(plan.job)
    watch = running.Watch(row, job, "the test")
    found = place(job, rounds=2)
    assert watch.report(found)
    expect(page.get_by_text("3 of 3 pieces have a place")).to_be_visible()
    expect(page.locator("#placing .d-piece-mine")).to_have_count(3)
    visitor.look("watching-2-better")

    assert running.conclude(row, job, found, watch)
    expect(page.get_by_text("Your teacher decides next")).to_be_visible()
    expect(page.get_by_text("Within the allowance").first).to_be_visible()
    visitor.look("watching-3-proposed")
    assert CutPlan.objects.get().state == CutPlan.State.PROPOSED
