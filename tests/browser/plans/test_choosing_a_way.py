"""A teacher sees the ways of a shared plan come in by themselves, and takes one with one tap."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect
from shapely.geometry import box

from studio.models import CutPlan
from studio.steps.plans import place as placing_step
from studio.steps.plans.ways import ask
from tests.people import make_cast
from tests.studio.plans import making
from tests.studio.plans.ways.making import shear, work_out

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Way, State = CutPlan.Way, CutPlan.State
TAKE = '#ways form:has(input[value="%s"]) button'


def test_ways_come_in_on_the_open_page_and_one_is_taken(
    visitor: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    # No worker runs: the test itself plays one, way by way.
    nobody = type("Queue", (), {"enqueue": lambda *sent: None})()
    monkeypatch.setattr(placing_step, "place_plan", nobody)
    monkeypatch.setattr(ask, "queue", lambda row: None)
    cast = make_cast()
    shear(cast)
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 152.4, 150), cost="16.00")
    making.supplies(cast)
    making.allot(cast, "50.00")
    brief = making.brief(cast, metal)
    seats = [cast.seat, cast.classmate_seat, *making.a_class(cast, 2)]
    plan = making.placed(
        cast,
        *(making.approved_project(brief, seat, metal, making.FISH, making.SAIL) for seat in seats),
        rounds=1,
    )
    assert (plan.way, plan.state) == (Way.PARTED, State.PROPOSED)

    visitor.come_in(cast.teacher.username)
    page = visitor.go(f"/plans/{plan.pk}/")
    ways = page.locator("#ways")
    expect(ways.get_by_text("Being worked out", exact=True)).to_have_count(2)
    visitor.look("ways-1-worked-out")
    assert work_out(plan, Way.SAWN)
    assert work_out(plan, Way.PASSED)
    expect(ways.get_by_role("button", name="Take this way")).to_have_count(2)
    visitor.look("ways-2-side-by-side")

    page.locator(TAKE % Way.PASSED.value).click()
    expect(page.get_by_text("Order of sawing")).to_be_visible()
    made = CutPlan.objects.get(state=State.PROPOSED)
    assert made.way == Way.PASSED
    visitor.look("ways-3-passed-on")
    page.locator(TAKE % Way.PARTED.value).click()
    expect(page.get_by_text("What the metal is parted into")).to_be_visible()

    visitor.come_in(cast.owner.username)
    visitor.go(f"/plans/{CutPlan.objects.get(state=State.PROPOSED).pk}/")
    expect(page.get_by_text("Your blank is")).to_be_visible()
    visitor.look("ways-4-student")
