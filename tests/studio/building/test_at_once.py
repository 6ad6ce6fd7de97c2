"""Two windows change the same shapes, or take or hand in the drawing, at the same moment."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from studio.core.building import Draft
from studio.models import Pattern, Project
from studio.steps.patterns.build import draft_of, keep, opened, use
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.versions import current_pattern, use_again
from tests.at_once import told_at_once
from tests.core.building.recipes import recipe
from tests.people import Cast
from tests.studio.patterns.making import bring, files_in, fresh, make_project, mine

from .making import DISC, HOLE, build, shape

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("evidence")]

OTHER = "The shapes were changed in another window"


def keep_from(project: Project, draft: Draft, base: str) -> Any:
    return keep(project, draft, base=base)


def test_of_two_changes_at_once_one_is_kept_and_one_refused(cast: Cast) -> None:
    project = make_project(cast)
    now = shape(project, DISC)
    one, two = fresh(project), fresh(project)
    answers = told_at_once(
        lambda: keep_from(one, now.draft.changed(recipe(DISC, HOLE)), now.base),
        lambda: keep_from(two, now.draft.changed(recipe({"kind": "heart"})), now.base),
    )
    assert sorted(answer[: len(OTHER)] for answer in answers) == sorted(["done", OTHER])
    assert opened(fresh(project)).draft.stamp == 2


def test_two_first_changes_at_once_begin_one_draft(cast: Cast) -> None:
    project = make_project(cast)
    one, two = fresh(project), fresh(project)
    draft = Draft().changed(recipe(DISC))
    answers = told_at_once(lambda: keep_from(one, draft, "0"), lambda: keep_from(two, draft, "0"))
    assert sorted(answer[: len(OTHER)] for answer in answers) == sorted(["done", OTHER])
    assert opened(fresh(project)).draft.stamp == 1


def test_taking_the_drawing_twice_at_once_makes_one_version(cast: Cast, evidence: Path) -> None:
    project = make_project(cast)
    base = shape(project, DISC).base
    one, two = fresh(project), fresh(project)
    told_at_once(
        lambda: use(one, acting=project.student, base=base),
        lambda: use(two, acting=project.student, base=base),
    )
    assert project.patterns.count() == 1
    assert len(files_in(evidence)) == 1


def test_using_building_and_uploading_at_once_leave_one_current_pattern(cast: Cast) -> None:
    project = make_project(cast)
    old = bring(project, copies=2)
    build(project, DISC)
    base = shape(project, DISC, HOLE).base
    one, two, again = fresh(project), fresh(project), mine(old)
    told_at_once(
        lambda: use(one, acting=project.student, base=base),
        lambda: bring(two),
        lambda: use_again(again, acting=project.student),
    )
    assert project.patterns.current().count() == 1
    assert project.patterns.count() == 4


def test_what_is_handed_in_is_not_changed_at_the_same_moment(cast: Cast) -> None:
    """Whoever is first: the handed-in pattern is exactly one of the two drawings, whole."""
    project = make_project(cast)
    current = build(project, DISC)
    base = shape(project, DISC, HOLE).base
    one, pattern = fresh(project), mine(current)
    told_at_once(
        lambda: use(one, acting=project.student, base=base),
        lambda: hand_in(pattern, acting=project.student),
    )
    after = current_pattern(project)
    assert after is not None
    holes = sum(len(piece.drill_marks) for piece in after.drawing.pieces)
    assert holes == len(draft_of(after).recipe.steps) - 1
    first = Pattern.objects.get(pk=current.pk)
    assert (after.state == Pattern.State.HANDED_IN) == (after == first)
