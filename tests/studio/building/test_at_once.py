"""Two windows change the same shapes, or hand them in, at the same moment."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from studio.core.building import Draft
from studio.core.correcting import Diameter
from studio.models import Pattern, Project
from studio.steps.build import ChangedMeanwhile, base_of, draft_of, keep
from studio.steps.correct import correct, version_of
from studio.steps.hand_in import hand_in
from studio.steps.read_in import current_pattern
from tests.core.building.recipes import recipe
from tests.people import Cast
from tests.studio.patterns.making import bring, fresh, make_project
from tests.studio.patterns.test_at_once import at_once, mine

from .test_build_step import DISC, HOLE, build

pytestmark = pytest.mark.django_db(transaction=True)

OTHER = "The shapes were changed in another window"


def keep_from(project: Project, draft: Draft, base: str) -> Any:
    return keep(project, draft, acting=project.student, base=base)


def test_of_two_changes_at_once_one_is_kept_and_one_refused(cast: Cast, evidence: Path) -> None:
    project = make_project(cast)
    current = build(project, DISC)
    draft, base = draft_of(current), base_of(current)
    one, two = fresh(project), fresh(project)
    answers = at_once(
        lambda: keep_from(one, draft.changed(recipe(DISC, HOLE)), base),
        lambda: keep_from(two, draft.changed(recipe({"kind": "heart"})), base),
    )
    assert sorted(answer[: len(OTHER)] for answer in answers) == sorted(["done", OTHER])
    newest = Pattern.objects.get()
    assert draft_of(newest).stamp == 2
    assert len([path for path in evidence.rglob("*") if path.is_file()]) == 1
    assert Path(evidence, str(newest.file.name)).exists()


def test_two_first_changes_at_once_begin_one_pattern(cast: Cast) -> None:
    project = make_project(cast)
    one, two = fresh(project), fresh(project)
    draft = Draft().changed(recipe(DISC))
    answers = at_once(lambda: keep_from(one, draft, "0"), lambda: keep_from(two, draft, "0"))
    assert sorted(answer[: len(OTHER)] for answer in answers) == sorted(["done", OTHER])
    assert project.patterns.count() == 1


def test_building_and_uploading_at_once_leave_one_current_pattern(cast: Cast) -> None:
    project = make_project(cast)
    one, two = fresh(project), fresh(project)
    draft = Draft().changed(recipe(DISC))
    at_once(lambda: keep_from(one, draft, "0"), lambda: bring(two))
    assert project.patterns.exclude(state=Pattern.State.REPLACED).count() == 1


def test_what_is_handed_in_is_not_changed_at_the_same_moment(cast: Cast) -> None:
    """Whoever is first: the handed-in pattern is exactly one of the two drawings, whole."""
    project = make_project(cast)
    current = build(project, DISC)
    draft, base = draft_of(current).changed(recipe(DISC, HOLE)), base_of(current)
    one, pattern = fresh(project), mine(current)
    at_once(lambda: keep_from(one, draft, base), lambda: hand_in(pattern, acting=project.student))
    after = current_pattern(project)
    assert after is not None
    holes = sum(len(piece.drill_marks) for piece in after.drawing.pieces)
    assert holes == len(draft_of(after).recipe.steps) - 1
    assert after.state == Pattern.State.HANDED_IN


def test_lines_corrected_in_another_window_are_not_built_over_unseen(cast: Cast) -> None:
    project = make_project(cast)
    current = build(project, DISC, HOLE)
    draft, base = draft_of(current).changed(recipe(DISC)), base_of(current)
    one, pattern = fresh(project), mine(current)
    answers = at_once(
        lambda: keep_from(one, draft, base),
        lambda: correct(
            pattern, [Diameter("2", 3.0)], acting=project.student, seen=version_of(current)
        ),
    )
    after = current_pattern(project)
    assert after is not None
    assert "done" in answers
    if after.changes:
        assert answers[0].startswith(OTHER)
        with pytest.raises(ChangedMeanwhile):
            keep_from(fresh(project), draft, base)
        keep_from(fresh(project), draft, base_of(after))  # who has seen them may go on
    assert current_pattern(project).changes == []  # type: ignore[union-attr]
