"""Two people, or one with two windows, press a button at the same moment."""

from __future__ import annotations

import pytest

from studio.models import Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.take_back import take_back
from tests.at_once import told_at_once
from tests.people import Cast

from .making import BAR, DISC, bring, fresh, handed_in, make_project, mine

pytestmark = pytest.mark.django_db(transaction=True)


def test_two_uploads_at_once_leave_one_current_pattern(cast: Cast) -> None:
    project = make_project(cast)
    one, two = fresh(project), fresh(project)
    told_at_once(lambda: bring(one, DISC), lambda: bring(two, BAR))
    states = sorted(project.patterns.values_list("state", flat=True))
    assert states == ["aside", "draft"]
    assert sorted(project.patterns.values_list("number", flat=True)) == [1, 2]


def test_the_same_upload_pressed_twice_at_once_is_one_pattern(cast: Cast) -> None:
    project = make_project(cast)
    one, two = fresh(project), fresh(project)
    assert told_at_once(lambda: bring(one), lambda: bring(two)) == ["done", "done"]
    assert project.patterns.count() == 1


def test_taking_back_and_approving_at_once_cannot_both_win(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    one, two = mine(pattern), mine(pattern)
    answers = told_at_once(
        lambda: approve_pattern(one, acting=cast.teacher, place_now=False),
        lambda: take_back(two, acting=cast.owner),
    )
    assert answers.count("done") == 1
    state = Pattern.objects.get(pk=pattern.pk).state
    stage = fresh(project).stage
    assert (state, stage) in {
        (Pattern.State.APPROVED, Project.Stage.PATTERN_APPROVED),
        (Pattern.State.DRAFT, Project.Stage.DRAWING),
    }


def test_two_teachers_deciding_at_once_leave_one_decision_or_the_later_return(
    cast: Cast,
) -> None:
    pattern = handed_in(make_project(cast))
    one, two = mine(pattern), mine(pattern)
    told_at_once(
        lambda: approve_pattern(one, acting=cast.teacher, place_now=False),
        lambda: return_pattern(two, acting=cast.teacher, remark="Rounder."),
    )
    after = mine(pattern)
    assert after.state == Pattern.State.RETURNED  # approved first, it was returned after
    assert after.project.stage == Project.Stage.RETURNED
    assert after.remark == "Rounder."


def test_handing_in_and_uploading_at_once_agree_in_the_end(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project)
    one, two = mine(first), fresh(project)
    told_at_once(lambda: hand_in(one, acting=cast.owner), lambda: bring(two, BAR))
    current = project.patterns.current().get()
    expected = (
        Project.Stage.HANDED_IN
        if current.state == Pattern.State.HANDED_IN
        else Project.Stage.DRAWING
    )
    assert fresh(project).stage == expected
