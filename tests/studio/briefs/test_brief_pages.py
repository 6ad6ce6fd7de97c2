"""The list of briefs, and one brief for its teacher and for its students."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone

from classroom.models import Role, Seat, User
from studio.models import Brief, CutPlan, PlanProject, Project, Quote
from tests.people import Cast, signed_in
from tests.studio.patterns.making import bring, handed_in, make_brief, make_project, words


def more_students(cast: Cast, count: int, first: int = 0) -> list[Seat]:
    seats = []
    for number in range(first, first + count):
        student = User.objects.create_user(
            f"hand.{number}", display_name=f"Hand {number}", role=Role.STUDENT, school=cast.school
        )
        seats.append(Seat.objects.create(course=cast.course, student=student))
    return seats


def test_the_class_table_names_every_student_and_where_each_stands(cast: Cast) -> None:
    brief = make_brief(cast)
    handed_in(make_project(cast, brief))
    page = words(signed_in(cast.teacher).get(reverse("brief", args=[brief.pk])))
    assert "Wren T" in page
    assert "Odd F" in page
    assert "To be looked at" in page
    assert "Not started" in page
    assert "1 pattern waits for your look" in page


def test_the_table_narrows_to_one_stage(cast: Cast) -> None:
    brief = make_brief(cast)
    handed_in(make_project(cast, brief))
    client = signed_in(cast.teacher)
    address = reverse("brief", args=[brief.pk])

    def names(stage: str) -> list[str]:
        rows = client.get(address, {"stage": stage}).context["rows"]
        return [row["seat"].student.display_name for row in rows]

    assert names("handed_in") == ["Wren T"]
    assert names("not_started") == ["Odd F"]
    assert names("bench") == []
    assert names("nonsense") == ["Odd F", "Wren T"]


def test_a_student_who_left_is_shown_only_with_work_on_the_brief(cast: Cast) -> None:
    brief = make_brief(cast)
    make_project(cast, brief)
    Seat.objects.filter(course=cast.course).update(left_at=timezone.now())
    page = words(signed_in(cast.teacher).get(reverse("brief", args=[brief.pk])))
    assert "Wren T" in page
    assert "left the course" in page
    assert "Odd F" not in page


def test_plan_and_price_stand_in_the_table_when_there(cast: Cast) -> None:
    brief = make_brief(cast)
    project = make_project(cast, brief)
    pattern = handed_in(project)
    assert project.metal is not None
    plan = CutPlan.objects.create(
        course=cast.course, metal=project.metal, job={}, created_by=cast.teacher, state="proposed"
    )
    PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
    Quote.objects.create(
        plan=plan,
        project=project,
        metal_total=Decimal("6.10"),
        total=Decimal("7.25"),
        allowance=Decimal("6.00"),
        piece_area_mm2=700,
        waste_area_mm2=100,
    )
    page = words(signed_in(cast.teacher).get(reverse("brief", args=[brief.pk])))
    assert "7.25 USD" in page
    assert "over the allowance" in page
    assert f"plan {plan.pk}" in page


def test_the_table_is_paged_and_asks_the_same_number_of_times_for_any_class(
    cast: Cast, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    brief = make_brief(cast)
    for seat in more_students(cast, 2):
        bring(make_project(cast, brief, seat))
    client = signed_in(cast.teacher)
    address = reverse("brief", args=[brief.pk])
    with django_assert_max_num_queries(20) as few:
        client.get(address)
    for seat in more_students(cast, 36, first=2):
        bring(make_project(cast, brief, seat))
    with django_assert_num_queries(len(few.captured_queries)):
        answer = client.get(address)
    assert len(answer.context["rows"]) == 30
    assert "Page 1 of 2" in words(answer)


def test_the_list_of_briefs_asks_the_same_number_of_times_for_any_number(
    cast: Cast, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    make_brief(cast)
    for person in (cast.teacher, cast.owner):
        client = signed_in(person)
        with django_assert_max_num_queries(14) as few:
            client.get("/briefs/")
        for number in range(5):
            Brief.objects.create(
                course=cast.course, title=f"Tag {number}", allowance=1, created_by=cast.teacher
            )
        with django_assert_num_queries(len(few.captured_queries)):
            client.get("/briefs/")


def test_a_student_reads_what_to_make_and_within_which_limits(cast: Cast) -> None:
    brief = make_brief(cast, text="A thing from the sea.")
    page = words(signed_in(cast.owner).get(reverse("brief", args=[brief.pk])))
    assert "A thing from the sea." in page
    assert "60.0 mm wide, 60.0 mm high" in page
    assert "6.00 USD" in page
    assert "Start this project" in page
    assert "Odd F" not in page


def test_the_text_of_a_brief_is_text_and_no_markup(cast: Cast) -> None:
    brief = make_brief(cast, text="<script>alert(1)</script>")
    for person in (cast.owner, cast.teacher):
        answer = signed_in(person).get(reverse("brief", args=[brief.pk]))
        assert b"<script>alert(1)" not in answer.content


def test_starting_twice_leads_to_the_one_project(cast: Cast) -> None:
    brief = make_brief(cast)
    client = signed_in(cast.owner)
    first = client.post(reverse("project_start", args=[brief.pk]))
    second = client.post(reverse("project_start", args=[brief.pk]))
    assert first.headers["Location"] == second.headers["Location"]
    assert Project.objects.count() == 1
    assert "To my project" in words(client.get(reverse("brief", args=[brief.pk])))


def test_closed_briefs_stand_apart(cast: Cast) -> None:
    brief = make_brief(cast)
    client = signed_in(cast.teacher)
    client.post(reverse("brief_close", args=[brief.pk]))
    assert "Harbour pendant" not in words(client.get("/briefs/"))
    assert "Harbour pendant" in words(client.get("/briefs/", {"show": "closed"}))
    client.post(reverse("brief_open", args=[brief.pk]))
    assert "Harbour pendant" in words(client.get("/briefs/"))
