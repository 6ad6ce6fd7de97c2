"""The teacher approves a pattern, or returns it with a remark."""

from __future__ import annotations

from typing import Any

import pytest

import studio.steps.patterns.answer
from classroom.refusals import Refused
from studio.models import Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.take_back import take_back
from tests.people import Cast
from tests.studio.patterns.making import bring, fresh, handed_in, make_project


def test_an_approved_pattern_is_placed_after_the_commit(
    cast: Cast, placed: list[list[Project]], django_capture_on_commit_callbacks: Any
) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    with django_capture_on_commit_callbacks(execute=True):
        approve_pattern(pattern, acting=cast.teacher, remark="Lovely.")
        assert placed == []
    assert placed == [[project]]
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.APPROVED
    assert (pattern.reviewed_by, pattern.remark) == (cast.teacher, "Lovely.")
    assert fresh(project).stage == Project.Stage.PATTERN_APPROVED


def test_placing_can_wait(
    cast: Cast, placed: list[list[Project]], django_capture_on_commit_callbacks: Any
) -> None:
    pattern = handed_in(make_project(cast))
    with django_capture_on_commit_callbacks(execute=True):
        approve_pattern(pattern, acting=cast.teacher, place_now=False)
    assert placed == []


def test_an_approval_stands_when_placing_cannot_start(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    def propose(projects: list[Project], **options: Any) -> None:
        raise Refused("The rack has none of this metal.")

    monkeypatch.setattr(studio.steps.patterns.answer, "propose", propose)
    project = make_project(cast)
    pattern = handed_in(project)
    with django_capture_on_commit_callbacks(execute=True):
        approval = approve_pattern(pattern, acting=cast.teacher)
    assert approval.not_placed == "The rack has none of this metal."
    assert fresh(project).stage == Project.Stage.PATTERN_APPROVED


def test_a_pattern_is_returned_with_a_remark(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    return_pattern(pattern, acting=cast.teacher, remark="  The tail is thin.  ")
    pattern.refresh_from_db()
    assert (pattern.state, pattern.remark) == (Pattern.State.RETURNED, "The tail is thin.")
    assert fresh(project).stage == Project.Stage.RETURNED


def test_returning_without_a_remark_is_refused(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    with pytest.raises(Refused, match="what the student should change"):
        return_pattern(pattern, acting=cast.teacher, remark="   ")


def test_deciding_twice_is_refused_the_second_time(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    stale = Pattern.objects.select_related("project").get(pk=pattern.pk)
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    with pytest.raises(Refused, match="approved already"):
        approve_pattern(stale, acting=cast.teacher, place_now=False)


def test_a_draft_is_not_decided_on(cast: Cast) -> None:
    pattern = bring(make_project(cast))
    with pytest.raises(Refused):
        approve_pattern(pattern, acting=cast.teacher, place_now=False)
    with pytest.raises(Refused):
        return_pattern(pattern, acting=cast.teacher, remark="No.")


def test_a_pattern_taken_back_meanwhile_is_not_approved(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    take_back(Pattern.objects.get(pk=pattern.pk), acting=cast.owner)
    with pytest.raises(Refused, match="taken this pattern back"):
        approve_pattern(pattern, acting=cast.teacher, place_now=False)
    assert fresh(project).stage == Project.Stage.DRAWING


def test_an_approved_pattern_can_be_returned_as_long_as_no_plan_holds_it(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    return_pattern(pattern, acting=cast.teacher, remark="I looked too fast.")
    assert fresh(project).stage == Project.Stage.RETURNED


def test_a_pattern_in_a_live_plan_is_not_returned(cast: Cast) -> None:
    from studio.models import CutPlan, PlanProject

    project = make_project(cast)
    pattern = handed_in(project)
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    assert project.metal is not None
    plan = CutPlan.objects.create(
        course=cast.course, metal=project.metal, job={}, created_by=cast.teacher
    )
    PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
    with pytest.raises(Refused, match="Drop the plan"):
        return_pattern(pattern, acting=cast.teacher, remark="Wait.")
    assert fresh(project).stage == Project.Stage.PATTERN_APPROVED
