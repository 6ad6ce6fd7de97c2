"""One tap takes another way, and one leads back."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack.stock import SomebodyWasFirst
from studio.models import CutPlan, PlanProject, Quote
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.choose_way import choose_way
from studio.steps.plans.quote import planned_total
from tests.people import Cast, signed_in

from .making import try_of, work_out

Way, State = CutPlan.Way, CutPlan.State


@pytest.fixture
def worked_out(parted: CutPlan) -> CutPlan:
    """The parted plan, with what passing on comes to."""
    assert work_out(parted, Way.PASSED)
    return parted


def whose(plan: CutPlan) -> list[int]:
    return sorted(plan.shares.filter(live=True).values_list("project_id", flat=True))


def test_another_way_takes_the_plans_place_and_one_tap_leads_back(
    cast: Cast, worked_out: CutPlan
) -> None:
    projects = whose(worked_out)
    passed = choose_way(worked_out, Way.PASSED, acting=cast.teacher)
    worked_out.refresh_from_db()
    assert (passed.state, passed.way, worked_out.state) == (
        State.PROPOSED,
        Way.PASSED,
        State.DROPPED,
    )
    assert (whose(passed), whose(worked_out)) == (projects, [])
    assert passed.asked.parting is None
    assert planned_total(passed) == try_of(passed, Way.PASSED).money
    assert passed.quotes.filter(kind=Quote.Kind.PLANNED).count() == 2
    assert {row.way for row in passed.way_tries.all()} == {Way.PARTED, Way.SAWN, Way.PASSED}
    back = choose_way(passed, Way.PARTED, acting=cast.teacher)
    assert back.way == Way.PARTED
    assert back.answer is not None
    assert worked_out.answer is not None
    for name in ("placements", "cuts", "blanks"):
        assert back.answer[name] == worked_out.answer[name]
    assert planned_total(back) == planned_total(worked_out)
    assert back.engine_version == worked_out.engine_version


def test_chosen_twice_is_chosen_once(cast: Cast, worked_out: CutPlan) -> None:
    made = choose_way(worked_out, Way.PASSED, acting=cast.teacher)
    again = choose_way(CutPlan.objects.get(pk=worked_out.pk), Way.PASSED, acting=cast.teacher)
    assert again == made
    assert choose_way(made, Way.PASSED, acting=cast.teacher) == made
    assert CutPlan.objects.filter(state=State.PROPOSED).count() == 1


def test_another_way_than_the_one_that_was_chosen_is_refused(
    cast: Cast, worked_out: CutPlan
) -> None:
    choose_way(worked_out, Way.PASSED, acting=cast.teacher)
    with pytest.raises(Refused, match="dropped already"):
        choose_way(CutPlan.objects.get(pk=worked_out.pk), Way.SAWN, acting=cast.teacher)


@pytest.mark.parametrize("way", [Way.SAWN, "torn", "alone", ""])
def test_what_was_not_worked_out_cannot_be_chosen(
    cast: Cast, worked_out: CutPlan, way: str
) -> None:
    with pytest.raises(Refused, match="not been worked out"):
        choose_way(worked_out, way, acting=cast.teacher)
    worked_out.refresh_from_db()
    assert worked_out.state == State.PROPOSED


def test_an_approved_plan_keeps_its_way(cast: Cast, worked_out: CutPlan) -> None:
    approve_plan(worked_out, acting=cast.teacher, overdraw_reason="")
    with pytest.raises(Refused, match="waits for a decision"):
        choose_way(worked_out, Way.PASSED, acting=cast.teacher)
    assert PlanProject.objects.filter(live=True).count() == 2


def test_metal_that_somebody_took_is_refused_at_approval(cast: Cast, worked_out: CutPlan) -> None:
    made = choose_way(worked_out, Way.PASSED, acting=cast.teacher)
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    with pytest.raises(SomebodyWasFirst):
        approve_plan(made, acting=cast.teacher)


def test_an_answer_that_does_not_pass_the_judge_is_not_taken(
    cast: Cast, worked_out: CutPlan
) -> None:
    row = try_of(worked_out, Way.PASSED)
    answer: dict[str, Any] = row.answer or {}
    answer["placements"][0]["x_mm"] += 500.0
    row.save()
    with pytest.raises(Refused, match="does not pass the check"):
        choose_way(worked_out, Way.PASSED, acting=cast.teacher)


def test_only_the_courses_teachers_choose(cast: Cast, worked_out: CutPlan) -> None:
    url = reverse("plan_way", args=[worked_out.pk])
    people = (cast.owner, cast.classmate, cast.outsider)
    codes = [signed_in(one).post(url, {"way": "passed"}).status_code for one in people]
    assert codes == [403, 403, 404]
    answer = signed_in(cast.teacher).post(url, {"way": "passed"})
    made = CutPlan.objects.get(state=State.PROPOSED)
    assert answer.url == reverse("plan", args=[made.pk])
    assert made.way == Way.PASSED
