"""Another try beside a plan: both stay until a teacher chooses, and nothing is held twice."""

from __future__ import annotations

import pytest
from django.urls import reverse

from classroom.models import Seat
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.spending import ledger
from studio.models import CutPlan, PlanProject, Project
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.place import place_again
from studio.steps.plans.rivals import choose, rival_beside, try_beside
from tests.people import Cast, signed_in

from . import making

pytestmark = pytest.mark.django_db
State = CutPlan.State


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-0.81-001")
    brief = making.brief(cast, metal)
    making.allot(cast)
    return making.placed(
        cast,
        making.approved_project(brief, cast.seat, metal, making.FISH),
        making.approved_project(brief, cast.classmate_seat, metal, making.SAIL, copies=2),
    )


def tried(plan: CutPlan, cast: Cast) -> CutPlan:
    rival = try_beside(plan, acting=cast.teacher)
    making.run(rival)
    rival.refresh_from_db()
    return rival


def live_plans(seat: Seat) -> set[int]:
    shares = PlanProject.objects.filter(project__seat=seat, live=True)
    return set(shares.values_list("plan_id", flat=True))


def test_another_try_has_its_own_seed_and_leaves_the_first_plan_alone(
    plan: CutPlan, cast: Cast
) -> None:
    rival = tried(plan, cast)
    plan.refresh_from_db()
    assert (plan.state, rival.state) == (State.PROPOSED, State.PROPOSED)
    assert rival.seed != plan.seed
    assert rival_beside(plan) == rival
    assert live_plans(cast.seat) == {plan.pk}


def test_the_other_try_chosen_takes_the_projects_and_the_first_is_dropped(
    plan: CutPlan, cast: Cast
) -> None:
    rival = choose(tried(plan, cast), acting=cast.teacher)
    plan.refresh_from_db()
    assert (plan.state, rival.rival_of) == (State.DROPPED, None)
    assert live_plans(cast.seat) == live_plans(cast.classmate_seat) == {rival.pk}
    assert choose(rival, acting=cast.teacher) == rival  # a second press changes nothing
    approve_plan(rival, acting=cast.teacher)
    assert set(Project.objects.values_list("stage", flat=True)) == {Project.Stage.PLANNED}


def test_approving_the_first_drops_the_other(plan: CutPlan, cast: Cast) -> None:
    rival = tried(plan, cast)
    approve_plan(plan, acting=cast.teacher)
    rival.refresh_from_db()
    assert rival.state == State.DROPPED
    assert live_plans(cast.seat) == {plan.pk}
    assert ledger.open_budget(cast.course).committed > 0
    drop_plan(plan, acting=cast.teacher)
    assert ledger.open_budget(cast.course).committed == 0
    assert not StockPiece.objects.exclude(state=StockPiece.State.RACK).exists()


def test_the_other_try_cannot_be_approved_before_it_is_chosen(plan: CutPlan, cast: Cast) -> None:
    rival = tried(plan, cast)
    with pytest.raises(Refused, match="choose it first"):
        approve_plan(rival, acting=cast.teacher)
    assert ledger.open_budget(cast.course).committed == 0


def test_dropping_the_first_drops_the_other_too(plan: CutPlan, cast: Cast) -> None:
    rival = tried(plan, cast)
    drop_plan(plan, acting=cast.teacher)
    rival.refresh_from_db()
    assert rival.state == State.DROPPED
    assert live_plans(cast.seat) == set()
    with pytest.raises(Refused):
        choose(rival, acting=cast.teacher)


def test_dropping_the_other_leaves_the_first(plan: CutPlan, cast: Cast) -> None:
    drop_plan(tried(plan, cast), acting=cast.teacher)
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    assert live_plans(cast.seat) == {plan.pk}
    approve_plan(plan, acting=cast.teacher)


def test_one_other_try_at_a_time_and_none_beside_another_try(plan: CutPlan, cast: Cast) -> None:
    rival = tried(plan, cast)
    with pytest.raises(Refused, match="already"):
        try_beside(plan, acting=cast.teacher)
    with pytest.raises(Refused, match="another try already"):
        try_beside(rival, acting=cast.teacher)
    with pytest.raises(Refused, match="another try beside"):
        place_again(rival, acting=cast.teacher)
    drop_plan(rival, acting=cast.teacher)
    again = try_beside(plan, acting=cast.teacher)
    assert again.seed not in (plan.seed, rival.seed)


def test_a_plan_that_is_decided_is_not_compared(plan: CutPlan, cast: Cast) -> None:
    approve_plan(plan, acting=cast.teacher)
    with pytest.raises(Refused, match="waits for a decision"):
        try_beside(plan, acting=cast.teacher)


def test_the_comparison_shows_both_and_marks_the_better_figure(plan: CutPlan, cast: Cast) -> None:
    browser = signed_in(cast.teacher)
    assert browser.post(reverse("plan_beside", args=[plan.pk])).status_code == 302
    rival = rival_beside(plan)
    assert rival is not None
    address = reverse("plan_compare", args=[plan.pk])
    waiting = browser.get(address).content.decode()
    assert "Keep A, stop looking" in waiting
    making.run(rival)
    CutPlan.objects.filter(pk=rival.pk).update(answer=_with_more_to_saw(rival))
    page = browser.get(address).content.decode()
    assert "Keep A, drop B" in page
    assert "Take B, drop A" in page
    assert page.count('class="plan-better"') == 1
    assert browser.get(reverse("plan_compare", args=[rival.pk])).content.decode().count("A, plan")


def _with_more_to_saw(rival: CutPlan) -> dict[str, object]:
    """The first plan's answer but for 100 mm more to saw: one figure differs."""
    assert rival.rival_of is not None
    answer = rival.rival_of.answer
    assert answer is not None
    measures = answer["measures"] | {"saw_line_mm": answer["measures"]["saw_line_mm"] + 100.0}
    return dict(answer) | {"measures": measures}


def test_by_its_page_the_teacher_chooses(plan: CutPlan, cast: Cast) -> None:
    rival = tried(plan, cast)
    browser = signed_in(cast.teacher)
    assert "Compare the two" in browser.get(reverse("plan", args=[rival.pk])).content.decode()
    browser.post(reverse("plan_choose", args=[rival.pk]))
    rival.refresh_from_db()
    assert rival.rival_of_id is None
    assert browser.get(reverse("plan_compare", args=[rival.pk])).status_code == 302


def test_students_see_the_plan_that_holds_their_pieces_and_not_the_other_try(
    plan: CutPlan, cast: Cast
) -> None:
    rival = tried(plan, cast)
    browser = signed_in(cast.owner)
    assert browser.get(reverse("plan", args=[plan.pk])).status_code == 200
    assert browser.get(reverse("plan", args=[rival.pk])).status_code == 404
    listed = browser.get(reverse("plans")).content.decode()
    assert f"Plan {rival.pk}" not in listed
    teachers = signed_in(cast.teacher).get(reverse("plans")).content.decode()
    assert f"Plan {plan.pk}" in teachers
    assert f"Plan {rival.pk}<" not in teachers


def test_the_price_still_to_come_counts_one_of_the_two_plans(plan: CutPlan, cast: Cast) -> None:
    page = signed_in(cast.owner).get(reverse("statement"))
    before = page.content.decode()
    tried(plan, cast)
    after = signed_in(cast.owner).get(reverse("statement")).content.decode()
    price = str(plan.quotes.get(project__seat=cast.seat).total)
    assert price in before
    assert after.count(price) == before.count(price)


def test_two_larger_plans_are_compared_in_as_many_queries(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-0.81-001")
    client = signed_in(cast.teacher)

    def asked(*seats: Seat) -> int:
        brief = making.brief(cast, metal, f"Brief of {len(seats)}")
        shapes = (making.FISH, making.SAIL)
        projects = [
            making.approved_project(brief, seat, metal, shape)
            for seat, shape in zip(seats, shapes, strict=False)
        ]
        plan = making.placed(cast, *projects)
        tried(plan, cast)
        address = reverse("plan_compare", args=[plan.pk])
        client.get(address)  # once, so that what is remembered for long is there
        return making.queries(client, address)

    assert asked(cast.seat) == asked(cast.seat, cast.classmate_seat)
