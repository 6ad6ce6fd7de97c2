"""The pages of cut plans: who may see and do what, and what each of them finds there."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from shapely.geometry import box

from classroom.models import Role, Seat, User
from inventory import ledger
from inventory.models import StockPiece
from studio.models import CutPlan, PlacingJob, Project
from studio.placing_jobs import lease, running
from studio.steps.approve import approve_plan
from studio.steps.place import propose
from tests.people import Cast

from . import making

State = CutPlan.State


def visit(person: User) -> Client:
    client = Client()
    client.force_login(person, backend="classroom.signin.PassphraseBackend")
    return client


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    """A proposed plan that holds one project of the owner."""
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 90, 70), cost="9.00")
    making.supplies(cast)
    making.allot(cast, "50.00")
    project = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, title="Harbour tag"
    )
    return making.placed(cast, project)


def shared_plan(cast: Cast) -> CutPlan:
    """A proposed plan that the owner and the classmate share."""
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 120, 90), cost="12.00")
    making.supplies(cast)
    making.allot(cast, "50.00")
    a_brief = making.brief(cast, metal, allowance=Decimal("0.50"))
    return making.placed(
        cast,
        making.approved_project(a_brief, cast.seat, metal, title="Harbour tag"),
        making.approved_project(
            a_brief, cast.classmate_seat, metal, making.FISH, title="Secret fish"
        ),
    )


@pytest.mark.parametrize("name", ["plan", "plan_progress"])
def test_plan_is_seen_by_its_teacher_and_its_students_only(
    cast: Cast, plan: CutPlan, name: str
) -> None:
    url = reverse(name, args=[plan.pk])
    seen = {
        person: visit(person).get(url, follow=True).status_code
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
        assert visit(person).post(url).status_code == expected
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    assert visit(cast.teacher).get(url).status_code == 405


def test_new_plan_is_made_by_the_courses_teacher_only(cast: Cast) -> None:
    url = reverse("plan_new", args=[cast.course.pk])
    assert visit(cast.teacher).get(url).status_code == 200
    assert visit(cast.owner).get(url).status_code == 403
    assert visit(cast.other_teacher).get(url).status_code == 404
    assert visit(cast.outsider).get(url).status_code == 404


def test_list_shows_each_person_their_own_plans(cast: Cast, plan: CutPlan) -> None:
    link = reverse("plan", args=[plan.pk])
    for person, there in (
        (cast.teacher, True),
        (cast.owner, True),
        (cast.classmate, False),
        (cast.outsider, False),
    ):
        page = visit(person).get(reverse("plans")).content.decode()
        assert (link in page) is there


def test_student_sees_the_whole_metal_but_names_and_prices_of_own_project_only(cast: Cast) -> None:
    plan = shared_plan(cast)
    theirs = plan.quotes.get(project__seat=cast.classmate_seat)
    own = plan.quotes.get(project__seat=cast.seat)
    page = visit(cast.owner).get(reverse("plan", args=[plan.pk])).content.decode()
    assert page.count("d-piece d-piece-mine") == 2  # the piece, and the key
    assert page.count('class="d-piece"') == 2  # the classmate's, and the key
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
    plan = shared_plan(cast)
    page = visit(cast.teacher).get(reverse("plan", args=[plan.pk])).content.decode()
    total = sum(quote.total for quote in plan.quotes.all())
    for words in ("Harbour tag", "Secret fish", f"{total} USD", "50.00 USD", "Free edge"):
        assert words in page
    assert "in proportion to the area of their pieces" in page


def test_choosing_projects_begins_a_plan(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    one = making.approved_project(a_brief, cast.seat, metal)
    two = making.approved_project(a_brief, cast.classmate_seat, metal)
    client = visit(cast.teacher)
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
    answer = visit(cast.teacher).post(reverse("plan_new", args=[cast.course.pk]), sent)
    assert answer.status_code == 422
    assert "No plan was begun" in answer.content.decode()
    assert not CutPlan.objects.exists()


def test_stale_choice_of_a_project_whose_metal_is_reserved_is_refused(
    cast: Cast, plan: CutPlan
) -> None:
    approve_plan(plan, acting=cast.teacher)
    project = Project.objects.get()
    answer = visit(cast.teacher).post(
        reverse("plan_new", args=[cast.course.pk]), {"projects": project.pk}
    )
    assert answer.status_code == 422
    assert "not waiting to be placed any more" in answer.content.decode()


def test_project_on_a_plan_not_yet_approved_can_be_placed_together_with_others(
    cast: Cast, plan: CutPlan
) -> None:
    metal = making.copper(cast)
    other = making.approved_project(making.brief(cast, metal), cast.classmate_seat, metal)
    client = visit(cast.teacher)
    url = reverse("plan_new", args=[cast.course.pk])
    assert f"on plan {plan.pk}, not approved yet" in client.get(url).content.decode()
    first = plan.shares.get().project
    client.post(url, {"projects": [first.pk, other.pk]})
    plan.refresh_from_db()
    assert plan.state == State.DROPPED
    assert CutPlan.objects.exclude(pk=plan.pk).get().shares.count() == 2


def test_projects_of_another_course_cannot_be_chosen(cast: Cast, plan: CutPlan) -> None:
    outsider_page = visit(cast.outsider).post(
        reverse("plan_new", args=[cast.course.pk]), {"projects": Project.objects.get().pk}
    )
    assert outsider_page.status_code == 404


def test_plan_goes_from_proposed_to_the_bench_in_the_browser(cast: Cast, plan: CutPlan) -> None:
    client = visit(cast.teacher)
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
    client = visit(cast.teacher)
    url = reverse("plan_approve", args=[plan.pk])
    answer = client.post(url)
    assert answer.status_code == 409
    assert "Over budget" in answer.content.decode()
    assert 'name="overdraw_reason"' in answer.content.decode()
    client.post(url, {"overdraw_reason": "for the fair"})
    plan.refresh_from_db()
    assert plan.state == State.APPROVED


def test_too_long_a_reason_is_answered_on_the_page(cast: Cast, plan: CutPlan) -> None:
    answer = visit(cast.teacher).post(
        reverse("plan_approve", args=[plan.pk]), {"overdraw_reason": "x" * 500}
    )
    assert answer.status_code == 422
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED


def test_metal_that_is_gone_is_named_and_a_new_plan_offered(cast: Cast, plan: CutPlan) -> None:
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    making.stock(making.copper(cast), "CU-2")
    client = visit(cast.teacher)
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
    client = visit(cast.teacher)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "larger than any metal" in page
    assert "Make the plan without them" in page
    assert reverse("plan_approve", args=[plan.pk]) not in page
    listed = client.get(reverse("plans")).content.decode()
    assert "Not every piece has a place" in listed
    student = visit(cast.classmate).get(reverse("plan", args=[plan.pk])).content.decode()
    assert "found no place" in student
    client.post(reverse("plan_again", args=[plan.pk]), {"leave_out_unplaced": "on"})
    made = CutPlan.objects.exclude(pk=plan.pk).get()
    assert [str(share.project) for share in made.shares.all()] == ["Harbour tag"]


@pytest.mark.parametrize("seed", ["0", "-4", "x", "9" * 30])
def test_unusable_seed_is_refused_in_words(cast: Cast, plan: CutPlan, seed: str) -> None:
    page = reverse("plan", args=[plan.pk])
    answer = visit(cast.teacher).post(
        reverse("plan_again", args=[plan.pk]),
        {"seed": seed},
        headers={"referer": f"http://testserver{page}"},
        follow=True,
    )
    assert "whole number from 1" in answer.content.decode()
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED


def being_placed(cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    return propose([project], acting=cast.teacher)


def asked(client: Client, plan: CutPlan, n: str = "1") -> Any:
    return client.get(
        f"{reverse('plan_progress', args=[plan.pk])}?n={n}", headers={"hx-request": "true"}
    )


def with_progress(plan: CutPlan) -> None:
    """A worker is in the middle: it holds the lease and has reported a plan."""
    from studio.core.placing import job_from_json

    assert lease.claim(plan.placing.pk, "worker")
    row = PlacingJob.objects.select_related("plan").get(plan=plan)
    watch = running.Watch(row, job_from_json(plan.job), "worker")
    found = running.place(job_from_json(plan.job), seconds=0.3)
    watch.report(found)


def test_page_asks_for_progress_by_itself_and_ever_more_slowly(cast: Cast) -> None:
    plan = being_placed(cast)
    client = visit(cast.owner)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert 'hx-trigger="load delay:1s"' in page
    assert "Waiting for a worker" in page
    assert ">Look again</a>" in page  # without scripts
    assert 'hx-trigger="load delay:2s"' in asked(client, plan, "1").content.decode()
    assert 'hx-trigger="load delay:8s"' in asked(client, plan, "8").content.decode()
    for nonsense in ("99999", "-1", "x<script>", ""):
        assert 'hx-trigger="load delay:2s"' in asked(client, plan, nonsense).content.decode()


def test_best_plan_so_far_is_shown_as_a_picture(cast: Cast) -> None:
    plan = being_placed(cast)
    with_progress(plan)
    for person in (cast.owner, cast.teacher):
        part = asked(visit(person), plan).content.decode()
        assert "<svg" in part
        assert "1 of 1 piece has a place" in " ".join(part.split())


def test_asking_ends_with_a_reload_when_the_plan_is_there(cast: Cast) -> None:
    plan = being_placed(cast)
    making.run(plan)
    answer = asked(visit(cast.owner), plan)
    assert answer.headers["HX-Refresh"] == "true"


def test_looking_at_a_plan_takes_a_lost_job_up_again(cast: Cast) -> None:
    plan = being_placed(cast)
    with_progress(plan)
    past = timezone.now() - dt.timedelta(seconds=1)
    PlacingJob.objects.update(lease_until=past)
    page = visit(cast.owner).get(reverse("plan", args=[plan.pk])).content.decode()
    assert PlacingJob.objects.get().state == PlacingJob.State.QUEUED
    assert "another one takes the pieces up again" in " ".join(page.split())


def test_job_that_was_given_up_says_so_and_its_best_plan_can_be_kept(cast: Cast) -> None:
    plan = being_placed(cast)
    with_progress(plan)
    PlacingJob.objects.update(attempts=3, lease_until=timezone.now() - dt.timedelta(seconds=1))
    client = visit(cast.teacher)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "Placing did not come to its end" in page
    assert "Keep this one" in page
    client.post(reverse("plan_stop", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    assert plan.quotes.count() == 1


def test_stop_is_refused_in_words_once_the_plan_is_there(cast: Cast, plan: CutPlan) -> None:
    answer = visit(cast.teacher).post(reverse("plan_stop", args=[plan.pk]))
    assert answer.status_code == 409
    assert "not being placed any more" in answer.content.decode()


def test_every_state_of_a_plan_has_its_page(cast: Cast, plan: CutPlan) -> None:
    for state in State.values:
        if state == State.PLACING:
            continue
        CutPlan.objects.filter(pk=plan.pk).update(state=state)
        for person in (cast.teacher, cast.owner):
            url = reverse("plan", args=[plan.pk])
            assert visit(person).get(url).status_code == 200
        for show in ("", "?show=over"):
            assert visit(cast.teacher).get(reverse("plans") + show).status_code == 200


def queries(client: Client, url: str, **headers: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert client.get(url, headers=headers).status_code == 200
    return len(seen)


def a_class(cast: Cast, count: int) -> list[Seat]:
    seats = []
    for number in range(count):
        name = f"student-{number}"
        person = User.objects.create_user(
            name, None, display_name=name, role=Role.STUDENT, school=cast.school
        )
        seats.append(Seat.objects.create(course=cast.course, student=person))
    return seats


def test_pages_ask_the_database_as_often_for_many_projects_as_for_few(cast: Cast) -> None:
    metal = making.copper(cast)
    for number in range(4):
        making.stock(metal, f"CU-{number}")
    making.supplies(cast)
    making.allot(cast, "90.00")
    a_brief = making.brief(cast, metal)
    seats = a_class(cast, 12)
    client = visit(cast.teacher)

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


def test_progress_asks_the_database_as_often_for_many_projects_as_for_few(cast: Cast) -> None:
    metal = making.copper(cast)
    for number in range(4):
        making.stock(metal, f"CU-{number}")
    a_brief = making.brief(cast, metal)
    projects = [making.approved_project(a_brief, seat, metal) for seat in a_class(cast, 8)]
    client = visit(cast.teacher)
    found = []
    for group in (projects[:1], projects[1:]):
        plan = propose(group, acting=cast.teacher)
        with_progress(plan)
        url = reverse("plan_progress", args=[plan.pk])
        found.append(queries(client, url, **{"hx-request": "true"}))
    assert found[0] == found[1]


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
    page = visit(cast.teacher).get(f"{reverse('plans')}?show=over&page=2").content.decode()
    assert "Page 2 of 3" in page
    assert "show=over" in page
