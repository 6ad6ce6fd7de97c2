"""The hub of one project, and beginning one."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from classroom.models import History, Seat, record
from classroom.refusals import Refused
from studio.models import CutPlan, PlanProject, Project, Quote, QuoteLine
from studio.steps.patterns.answer import return_pattern
from studio.steps.patterns.start_project import start_project
from studio.telling.today.stages import WORDS, trail
from tests.people import Cast, signed_in
from tests.studio.patterns.making import (
    THIN,
    bring,
    handed_in,
    make_brief,
    make_metal,
    make_project,
    words,
)


def hub(cast: Cast, project: Project, *, teacher: bool = False) -> str:
    person = cast.teacher if teacher else cast.owner
    return words(signed_in(person).get(reverse("project", args=[project.pk])))


def test_a_new_project_asks_for_a_pattern(cast: Cast) -> None:
    project = make_project(cast)
    page = hub(cast, project)
    assert "Bring your pattern" in page
    assert reverse("pattern_upload", args=[project.pk]) in page


def test_the_next_thing_to_do_follows_the_stage(cast: Cast) -> None:
    project = make_project(cast)
    bring(project, THIN)
    assert "Mend the stops" in hub(cast, project)
    pattern = handed_in(project)
    assert "Nothing to do now" in hub(cast, project)
    assert "Wren T is waiting for your answer." in hub(cast, project, teacher=True)
    return_pattern(pattern, acting=cast.teacher, remark="Rounder.")
    page = hub(cast, project)
    assert "Mend your pattern" in page
    assert "Rounder." in page


def test_what_happened_is_told_with_names_and_reasons(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    return_pattern(pattern, acting=cast.teacher, remark="The tail is thin.")
    page = hub(cast, project)
    for told in (
        "started the project",
        "uploaded pattern 1 (disc.svg)",
        "handed in pattern 1",
        "handed back pattern 1",
        "The tail is thin.",
        "Marit Quay",
    ):
        assert told in page


def test_plan_and_price_stand_on_the_hub_when_there(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    assert project.metal is not None
    plan = CutPlan.objects.create(
        course=cast.course, metal=project.metal, job={}, created_by=cast.teacher, state="proposed"
    )
    PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
    quote = Quote.objects.create(
        plan=plan,
        project=project,
        metal_total=Decimal("4.10"),
        total=Decimal("4.85"),
        allowance=Decimal("6.00"),
        piece_area_mm2=700,
        waste_area_mm2=100,
    )
    QuoteLine.objects.create(quote=quote, position=1, kind="metal", text="Metal", amount="4.10")
    page = hub(cast, project)
    assert f"Cut plan {plan.pk}" in page
    assert "4.85 USD" in page
    assert "Within the allowance of 6.00 USD" in page


def test_deeds_on_a_shared_plan_are_told_without_names_and_prices(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    assert project.metal is not None
    plan = CutPlan.objects.create(
        course=cast.course, metal=project.metal, job={}, created_by=cast.teacher
    )
    PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
    record(cast.teacher, "plan-asked", plan, "asked for a cut plan for Wren T and Odd F")
    record(cast.teacher, "plan-approved", plan, "approved the cut plan for 99.00 USD")
    page = hub(cast, project)
    assert "approved the cut plan" in page
    assert "99.00" not in page
    assert "Odd F" not in page


@pytest.mark.parametrize("stage", Project.Stage.values)
def test_every_stage_has_words_and_a_place_on_the_trail(cast: Cast, stage: str) -> None:
    project = make_project(cast)
    Project.objects.filter(pk=project.pk).update(stage=stage)
    project.refresh_from_db()
    for waits, state in ((False, "current"), (True, "waiting")):
        here = [step["state"] for step in trail(project, {}, waits=waits)]
        other = [one for one in here if one not in ("done", "locked")]
        assert other == ([] if stage == Project.Stage.CLOSED else [state])
    assert WORDS[stage].word in hub(cast, project)
    assert signed_in(cast.teacher).get(reverse("project", args=[project.pk])).status_code == 200


def test_the_hub_asks_the_same_number_of_times_however_long_its_history(
    cast: Cast, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    project = make_project(cast)
    bring(project)
    client = signed_in(cast.owner)
    address = reverse("project", args=[project.pk])
    with django_assert_max_num_queries(21) as few:
        client.get(address)
    for width in (20.0, 21.0, 22.0, 23.0):
        bring(project, width_mm=width)
    with django_assert_num_queries(len(few.captured_queries)):
        client.get(address)


def test_with_one_metal_the_project_has_it_from_the_start(cast: Cast) -> None:
    copper = make_metal(cast)
    assert make_project(cast, make_brief(cast, copper)).metal == copper


def test_with_two_metals_the_student_chooses_later(cast: Cast) -> None:
    brief = make_brief(cast, make_metal(cast), make_metal(cast, "C26000", "0.800"))
    assert make_project(cast, brief).metal is None


def test_a_student_who_left_the_course_starts_nothing(cast: Cast) -> None:
    brief = make_brief(cast)
    Seat.objects.filter(pk=cast.seat.pk).update(left_at=timezone.now())
    cast.seat.refresh_from_db()
    with pytest.raises(Refused):
        start_project(brief, cast.seat, acting=cast.owner)
    answer = signed_in(cast.owner).post(reverse("project_start", args=[brief.pk]))
    assert answer.status_code == 404
    assert Project.objects.count() == 0


def test_starting_twice_writes_one_row_of_history(cast: Cast) -> None:
    brief = make_brief(cast)
    first = start_project(brief, cast.seat, acting=cast.owner)
    assert start_project(brief, cast.seat, acting=cast.owner) == first
    assert History.objects.filter(verb="project-started").count() == 1
