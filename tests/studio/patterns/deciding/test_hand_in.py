"""Handing a pattern in, and taking it back before the teacher has decided."""

from __future__ import annotations

import pytest

from classroom.refusals import Refused
from studio.models import Brief, Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.take_back import take_back
from tests.people import Cast
from tests.studio.patterns.making import (
    BAR,
    DISC,
    THIN,
    bring,
    fresh,
    handed_in,
    make_brief,
    make_metal,
    make_project,
)


def test_a_clean_draft_waits_for_the_teacher(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    assert pattern.state == Pattern.State.HANDED_IN
    assert pattern.handed_in_at is not None
    assert fresh(project).stage == Project.Stage.HANDED_IN


def test_handing_in_twice_is_the_same_as_once(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    first = pattern.handed_in_at
    hand_in(pattern, acting=cast.owner)
    pattern.refresh_from_db()
    assert pattern.handed_in_at == first


def test_a_pattern_with_a_stop_is_refused(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project, THIN)
    with pytest.raises(Refused, match="stop"):
        hand_in(pattern, acting=cast.owner)
    assert fresh(project).stage == Project.Stage.DRAWING


def test_limits_that_changed_meanwhile_count_at_the_moment_of_handing_in(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project, DISC)
    Brief.objects.filter(pk=project.brief_id).update(max_width_mm=20)
    stale = Pattern.objects.select_related("project__brief__course").get(pk=pattern.pk)
    with pytest.raises(Refused, match="stop"):
        hand_in(stale, acting=cast.owner)


def test_a_version_set_aside_says_so(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project)
    bring(project, BAR)
    with pytest.raises(Refused, match="Use this one again"):
        hand_in(first, acting=cast.owner)


def test_a_returned_pattern_is_not_handed_in_again_as_it_is(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    return_pattern(pattern, acting=cast.teacher, remark="Rounder, please.")
    with pytest.raises(Refused, match="handed this pattern back"):
        hand_in(pattern, acting=cast.owner)


def test_without_a_metal_it_is_refused(cast: Cast) -> None:
    two = make_brief(cast, make_metal(cast), make_metal(cast, "C26000", "0.800"))
    project = make_project(cast, two)
    pattern = bring(project)
    with pytest.raises(Refused, match="metals"):
        hand_in(pattern, acting=cast.owner)


def test_taking_back_makes_it_a_draft_again(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    take_back(pattern, acting=cast.owner)
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.DRAFT
    assert pattern.handed_in_at is None
    assert fresh(project).stage == Project.Stage.DRAWING
    take_back(pattern, acting=cast.owner)  # a second press changes nothing


def test_nothing_is_taken_back_once_the_teacher_was_first(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    stale = Pattern.objects.get(pk=pattern.pk)
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    with pytest.raises(Refused):
        take_back(stale, acting=cast.owner)
    assert fresh(project).stage == Project.Stage.PATTERN_APPROVED


def test_limits_changed_since_the_page_was_made_count(cast: Cast) -> None:
    pattern = bring(make_project(cast))
    wide = pattern.drawing.pieces[0].size_mm[0]
    Brief.objects.update(max_width_mm=round(wide - 1, 2))
    assert not pattern.stops
    with pytest.raises(Refused, match="stop is left"):
        hand_in(pattern, acting=cast.owner)
    assert fresh(pattern.project).stage == Project.Stage.DRAWING
