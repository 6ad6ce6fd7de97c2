"""Changing a brief measures open patterns anew; what was approved stays approved."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.urls import reverse

from studio.models import Brief, Pattern, Project
from studio.steps.briefs.write import change_brief, close_brief, open_brief
from studio.steps.patterns.answer import approve_pattern
from tests.people import Cast, signed_in
from tests.studio.patterns.making import (
    BAR,
    bring,
    fresh,
    handed_in,
    make_brief,
    make_metal,
    make_project,
)


def narrowed(brief: Brief) -> Brief:
    """The brief with room for 20 by 20 mm; BAR is 40 mm long."""
    brief.max_width_mm = brief.max_height_mm = Decimal(20)
    return brief


def test_a_draft_is_checked_against_the_new_limits(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project, BAR)
    assert not pattern.stops
    brief = narrowed(project.brief)
    assert change_brief(brief, brief.metals.all(), acting=cast.teacher) == 1
    pattern.refresh_from_db()
    assert pattern.stops


def test_wider_limits_free_a_draft_of_its_stops(cast: Cast) -> None:
    brief = make_brief(cast, max_width_mm=Decimal(20), max_height_mm=Decimal(20))
    pattern = bring(make_project(cast, brief), BAR)
    assert pattern.stops
    brief.max_width_mm = Decimal(60)
    change_brief(brief, brief.metals.all(), acting=cast.teacher)
    pattern.refresh_from_db()
    assert not pattern.stops


def test_a_waiting_pattern_stays_waiting_with_its_new_findings(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project, BAR)
    brief = narrowed(project.brief)
    change_brief(brief, brief.metals.all(), acting=cast.teacher)
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.HANDED_IN
    assert pattern.stops


def test_an_approved_pattern_keeps_what_was_approved(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project, BAR)
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    before = (pattern.drawing_json, pattern.findings_json)
    brief = narrowed(project.brief)
    assert change_brief(brief, brief.metals.all(), acting=cast.teacher) == 0
    pattern.refresh_from_db()
    assert (pattern.drawing_json, pattern.findings_json) == before
    assert fresh(project).stage == Project.Stage.PATTERN_APPROVED


def test_a_change_of_words_alone_checks_nothing_again(cast: Cast) -> None:
    project = make_project(cast)
    bring(project, BAR)
    brief = project.brief
    brief.text = "Bring a pencil."
    assert change_brief(brief, brief.metals.all(), acting=cast.teacher) == 0


def test_saving_a_stale_form_does_not_open_a_brief_that_was_closed_meanwhile(cast: Cast) -> None:
    brief = make_brief(cast)
    stale = Brief.objects.get(pk=brief.pk)
    close_brief(brief, acting=cast.teacher)
    stale.text = "One more thing."
    change_brief(stale, stale.metals.all(), acting=cast.teacher)
    assert Brief.objects.get(pk=brief.pk).closed_at is not None


def test_a_metal_taken_from_the_brief_must_be_chosen_anew(cast: Cast) -> None:
    copper, brass = make_metal(cast), make_metal(cast, "C26000", "0.800")
    brief = make_brief(cast, copper, brass)
    pattern = bring(make_project(cast, brief), BAR, metal=copper)
    change_brief(brief, [brass], acting=cast.teacher)
    client = signed_in(cast.owner)
    hand_in = reverse("pattern_hand_in", args=[pattern.pk])
    assert client.post(hand_in).status_code == 409
    client.post(reverse("pattern_metal", args=[pattern.pk]), {"metal": brass.pk, "copies": "1"})
    assert client.post(hand_in).status_code == 302


def test_closing_twice_is_closing_once_and_it_can_be_opened_again(
    cast: Cast, django_assert_num_queries: Any
) -> None:
    brief = make_brief(cast)
    close_brief(brief, acting=cast.teacher)
    first = Brief.objects.get(pk=brief.pk).closed_at
    close_brief(brief, acting=cast.teacher)
    assert Brief.objects.get(pk=brief.pk).closed_at == first
    open_brief(brief, acting=cast.teacher)
    assert Brief.objects.get(pk=brief.pk).closed_at is None


def test_a_closed_brief_refuses_its_students_in_words(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project, BAR)
    close_brief(project.brief, acting=cast.teacher)
    answer = signed_in(cast.owner).post(reverse("pattern_hand_in", args=[pattern.pk]))
    assert answer.status_code == 409
    assert b"This brief is closed" in answer.content
    for name, key in (("project", project.pk), ("pattern", pattern.pk)):
        page = signed_in(cast.owner).get(reverse(name, args=[key]))
        assert b"This brief is closed" in page.content
    answer = signed_in(cast.classmate).post(reverse("project_start", args=[project.brief_id]))
    assert answer.status_code == 409
