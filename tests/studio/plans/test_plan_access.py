"""Who may see and do what with cut plans, and what each of them finds on the pages."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.models import CutPlan, PlacingSettings
from studio.steps.plans.approve import approve_plan
from tests.people import Cast, signed_in

from . import making
from .making import a_class, queries, shared_plan

State = CutPlan.State


@pytest.mark.parametrize("name", ["plan", "plan_progress"])
def test_plan_is_seen_by_its_teacher_and_its_students_only(
    cast: Cast, plan: CutPlan, name: str
) -> None:
    url = reverse(name, args=[plan.pk])
    seen = {
        person: signed_in(person).get(url, follow=True).status_code
        for person in (cast.teacher, cast.owner, cast.classmate, cast.other_teacher, cast.outsider)
    }
    assert seen == {
        cast.teacher: 200,
        cast.owner: 200,
        cast.classmate: 404,
        cast.other_teacher: 404,
        cast.outsider: 404,
    }


@pytest.mark.parametrize(
    "name", ["plan_stop", "plan_again", "plan_approve", "plan_drop", "plan_issue"]
)
def test_only_the_courses_teacher_decides_about_a_plan(
    cast: Cast, plan: CutPlan, name: str
) -> None:
    url = reverse(name, args=[plan.pk])
    for person, expected in (
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.other_teacher, 404),
        (cast.outsider, 404),
    ):
        assert signed_in(person).post(url).status_code == expected
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    assert signed_in(cast.teacher).get(url).status_code == 405


def test_new_plan_is_made_by_the_courses_teacher_only(cast: Cast) -> None:
    url = reverse("plan_new", args=[cast.course.pk])
    assert signed_in(cast.teacher).get(url).status_code == 200
    assert signed_in(cast.owner).get(url).status_code == 403
    assert signed_in(cast.other_teacher).get(url).status_code == 404
    assert signed_in(cast.outsider).get(url).status_code == 404


def test_list_shows_each_person_their_own_plans(cast: Cast, plan: CutPlan) -> None:
    link = reverse("plan", args=[plan.pk])
    for person, there in (
        (cast.teacher, True),
        (cast.owner, True),
        (cast.classmate, False),
        (cast.outsider, False),
    ):
        page = signed_in(person).get(reverse("plans")).content.decode()
        assert (link in page) is there


def test_student_sees_the_whole_metal_but_names_and_prices_of_own_project_only(cast: Cast) -> None:
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    plan = shared_plan(cast)
    theirs = plan.quotes.get(project__seat=cast.classmate_seat)
    own = plan.quotes.get(project__seat=cast.seat)
    page = signed_in(cast.owner).get(reverse("plan", args=[plan.pk])).content.decode()
    assert page.count("d-piece d-piece-mine") == 2  # the piece, and from closer
    assert page.count('class="d-piece"') == 1  # the key: a classmate has a colour
    assert page.count('class="d-piece hue-') == 2  # the piece, and from closer
    assert "Harbour tag" in page
    assert "Secret fish" not in page
    assert cast.classmate.display_name not in page
    assert f"{own.total} USD" in page
    assert f"{theirs.total} USD" not in page
    assert f"{own.total + theirs.total} USD" not in page
    assert "above the allowance" in page
    for word in ("plan_approve", "plan_drop", "plan_issue", "plan_again"):
        assert reverse(word, args=[plan.pk]) not in page


def test_teacher_sees_all_names_prices_and_the_budget(cast: Cast) -> None:
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    plan = shared_plan(cast)
    page = signed_in(cast.teacher).get(reverse("plan", args=[plan.pk])).content.decode()
    total = sum(quote.total for quote in plan.quotes.all())
    for words in ("Harbour tag", "Secret fish", f"{total} USD", "50.00 USD", "Free edge"):
        assert words in page
    assert "in proportion to the area of their pieces" in page


def test_every_state_of_a_plan_has_its_page(cast: Cast, plan: CutPlan) -> None:
    for state in State.values:
        if state == State.PLACING:
            continue
        CutPlan.objects.filter(pk=plan.pk).update(state=state)
        for person in (cast.teacher, cast.owner):
            url = reverse("plan", args=[plan.pk])
            assert signed_in(person).get(url).status_code == 200
        for show in ("", "?show=over"):
            assert signed_in(cast.teacher).get(reverse("plans") + show).status_code == 200


def test_pages_ask_the_database_as_often_for_many_projects_as_for_few(cast: Cast) -> None:
    metal = making.copper(cast)
    for number in range(4):
        making.stock(metal, f"CU-{number}")
    making.supplies(cast)
    making.allot(cast, "90.00")
    a_brief = making.brief(cast, metal)
    seats = a_class(cast, 12)
    client = signed_in(cast.teacher)

    def counts(plan: CutPlan) -> list[int]:
        urls = [
            reverse("plan", args=[plan.pk]),
            reverse("plans"),
            reverse("plan_new", args=[cast.course.pk]),
        ]
        return [queries(client, url) for url in urls]

    few = [making.approved_project(a_brief, seat, metal) for seat in seats[:4]]
    first = making.placed(cast, *few[:2])
    approve_plan(first, acting=cast.teacher)
    before = counts(first)
    many = [making.approved_project(a_brief, seat, metal) for seat in seats[4:]]
    making.placed(cast, few[2])
    second = making.placed(cast, *many[:6])
    approve_plan(second, acting=cast.teacher)
    assert counts(second) == before


def test_list_is_paged(cast: Cast, plan: CutPlan) -> None:
    CutPlan.objects.bulk_create(
        CutPlan(
            course=cast.course,
            metal=plan.metal,
            job=plan.job,
            state=State.DROPPED,
            created_by=cast.teacher,
        )
        for _ in range(45)
    )
    page = signed_in(cast.teacher).get(f"{reverse('plans')}?show=over&page=2").content.decode()
    assert "Page 2 of 3" in page
    assert "show=over" in page
