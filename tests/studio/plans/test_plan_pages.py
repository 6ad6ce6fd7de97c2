"""Decisions in the browser: new plans, approval, refusals and their ways out."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from shapely.geometry import box

from inventory.models import StockPiece
from inventory.spending import ledger
from studio.models import CutPlan, Project
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from tests.people import Cast, signed_in

from . import making

State = CutPlan.State


def test_choosing_projects_begins_a_plan(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    one = making.approved_project(a_brief, cast.seat, metal)
    two = making.approved_project(a_brief, cast.classmate_seat, metal)
    client = signed_in(cast.teacher)
    url = reverse("plan_new", args=[cast.course.pk])
    answer = client.post(url, {"projects": [one.pk, two.pk], "seconds": "30"})
    made = CutPlan.objects.get()
    assert answer.url == reverse("plan", args=[made.pk])  # type: ignore[attr-defined]
    assert made.seconds == 30
    assert made.shares.count() == 2
    assert f"on plan {made.pk}, not approved yet" in client.get(url).content.decode()


@pytest.mark.parametrize("sent", [{}, {"projects": "9999"}, {"projects": "x"}, {"seconds": "1e9"}])
def test_unusable_choice_is_answered_on_the_form(cast: Cast, sent: dict[str, str]) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    making.approved_project(making.brief(cast, metal), cast.seat, metal)
    answer = signed_in(cast.teacher).post(reverse("plan_new", args=[cast.course.pk]), sent)
    assert answer.status_code == 422
    assert "<title>Error: New cut plan" in answer.content.decode()
    assert not CutPlan.objects.exists()


def test_stale_choice_of_a_project_whose_metal_is_reserved_is_refused(
    cast: Cast, plan: CutPlan
) -> None:
    approve_plan(plan, acting=cast.teacher)
    project = Project.objects.get()
    answer = signed_in(cast.teacher).post(
        reverse("plan_new", args=[cast.course.pk]), {"projects": project.pk}
    )
    assert answer.status_code == 422
    assert "not waiting to be placed any more" in answer.content.decode()


def test_project_on_a_plan_not_yet_approved_can_be_placed_together_with_others(
    cast: Cast, plan: CutPlan
) -> None:
    metal = making.copper(cast)
    other = making.approved_project(making.brief(cast, metal), cast.classmate_seat, metal)
    client = signed_in(cast.teacher)
    url = reverse("plan_new", args=[cast.course.pk])
    assert f"on plan {plan.pk}, not approved yet" in client.get(url).content.decode()
    first = plan.shares.get().project
    client.post(url, {"projects": [first.pk, other.pk]})
    plan.refresh_from_db()
    assert plan.state == State.DROPPED
    assert CutPlan.objects.exclude(pk=plan.pk).get().shares.count() == 2


def test_projects_of_another_course_cannot_be_chosen(cast: Cast, plan: CutPlan) -> None:
    outsider_page = signed_in(cast.outsider).post(
        reverse("plan_new", args=[cast.course.pk]), {"projects": Project.objects.get().pk}
    )
    assert outsider_page.status_code == 404


def test_plan_goes_from_proposed_to_the_bench_in_the_browser(cast: Cast, plan: CutPlan) -> None:
    client = signed_in(cast.teacher)
    page = reverse("plan", args=[plan.pk])
    assert client.post(reverse("plan_approve", args=[plan.pk])).url == page  # type: ignore[attr-defined]
    assert "set aside" in client.get(page).content.decode()
    assert client.post(reverse("plan_issue", args=[plan.pk])).url == page  # type: ignore[attr-defined]
    plan.refresh_from_db()
    assert plan.state == State.ISSUED
    assert "at the bench" in client.get(page).content.decode()


def test_price_above_the_budget_keeps_the_page_and_asks_for_a_reason(
    cast: Cast, plan: CutPlan
) -> None:
    ledger.allot(
        ledger.open_budget(cast.course), Decimal("-49.99"), acting=cast.teacher, reason="back"
    )
    client = signed_in(cast.teacher)
    url = reverse("plan_approve", args=[plan.pk])
    answer = client.post(url)
    assert answer.status_code == 409
    assert "Over budget" in answer.content.decode()
    assert 'name="overdraw_reason"' in answer.content.decode()
    client.post(url, {"overdraw_reason": "for the fair"})
    plan.refresh_from_db()
    assert plan.state == State.APPROVED


def test_too_long_a_reason_is_answered_on_the_page(cast: Cast, plan: CutPlan) -> None:
    answer = signed_in(cast.teacher).post(
        reverse("plan_approve", args=[plan.pk]), {"overdraw_reason": "x" * 500}
    )
    assert answer.status_code == 422
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED


def test_metal_that_is_gone_is_named_and_a_new_plan_offered(cast: Cast, plan: CutPlan) -> None:
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    making.stock(making.copper(cast), "CU-2")
    client = signed_in(cast.teacher)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "Somebody was first" in page
    assert "CU-1" in page
    assert reverse("plan_approve", args=[plan.pk]) not in page
    # a form that was open before is refused too
    client.post(reverse("plan_approve", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    client.post(reverse("plan_again", args=[plan.pk]))
    made = CutPlan.objects.exclude(pk=plan.pk).get()
    assert [metal["id"] for metal in made.job["metal"]] == ["CU-2"]


def test_pieces_without_a_place_are_named_with_the_reason_and_a_way_out(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 60, 60))
    a_brief = making.brief(cast, metal)
    making.approved_project(a_brief, cast.seat, metal, title="Harbour tag")
    making.approved_project(
        a_brief, cast.classmate_seat, metal, box(0, 0, 90, 90), title="Giant plate"
    )
    plan = making.placed(cast, *Project.objects.all())
    client = signed_in(cast.teacher)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "larger than any metal" in page
    assert "Make the plan without them" in page
    assert reverse("plan_approve", args=[plan.pk]) not in page
    listed = client.get(reverse("plans")).content.decode()
    assert "Not every piece has a place" in listed
    student = signed_in(cast.classmate).get(reverse("plan", args=[plan.pk])).content.decode()
    assert "found no place" in student
    client.post(reverse("plan_again", args=[plan.pk]), {"leave_out_unplaced": "on"})
    made = CutPlan.objects.exclude(pk=plan.pk).get()
    assert [str(share.project) for share in made.shares.all()] == ["Harbour tag"]


@pytest.mark.parametrize("seed", ["0", "-4", "x", "9" * 30])
def test_unusable_seed_is_refused_in_words(cast: Cast, plan: CutPlan, seed: str) -> None:
    page = reverse("plan", args=[plan.pk])
    answer = signed_in(cast.teacher).post(
        reverse("plan_again", args=[plan.pk]),
        {"seed": seed},
        headers={"referer": f"http://testserver{page}"},
        follow=True,
    )
    assert "whole number from 1" in answer.content.decode()
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED


def test_form_sent_twice_makes_one_plan(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    client = signed_in(cast.teacher)
    url = reverse("plan_new", args=[cast.course.pk])
    answers = [client.post(url, {"projects": project.pk}) for _ in range(2)]
    assert CutPlan.objects.count() == 1
    assert answers[0].url == answers[1].url  # type: ignore[attr-defined]


def test_second_try_sent_twice_makes_one_new_plan(cast: Cast, plan: CutPlan) -> None:
    client = signed_in(cast.teacher)
    url = reverse("plan_again", args=[plan.pk])
    client.post(url)
    answer = client.post(url)
    assert answer.status_code == 409
    assert "dropped already" in answer.content.decode()
    assert CutPlan.objects.exclude(pk=plan.pk).count() == 1


def test_closed_course_gets_no_new_plan(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    cast.course.closed_at = timezone.now()
    cast.course.save()
    answer = signed_in(cast.teacher).post(
        reverse("plan_new", args=[cast.course.pk]), {"projects": project.pk}
    )
    assert answer.status_code == 422
    assert "course is closed" in answer.content.decode()


def test_a_pattern_whose_earlier_plan_was_dropped_is_not_without_a_plan_any_more(
    cast: Cast,
) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    client = signed_in(cast.teacher)
    assert "1 approved pattern without a plan" in client.get(reverse("plans")).content.decode()
    drop_plan(making.placed(cast, project), acting=cast.teacher, why="")
    assert "1 approved pattern without a plan" in client.get(reverse("plans")).content.decode()
    making.placed(cast, project)
    assert "without a plan" not in client.get(reverse("plans")).content.decode()
