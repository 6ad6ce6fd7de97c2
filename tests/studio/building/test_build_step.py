"""A recipe is kept on one draft, read like every file, and never lost to a second window."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from classroom.models import History, subject_of
from classroom.refusals import Refused
from studio.core.building import Draft, Recipe, RecipeError
from studio.models import Pattern, Project
from studio.steps.build import ChangedMeanwhile, base_of, draft_of, keep
from studio.steps.hand_in import hand_in
from studio.steps.read_in import current_pattern
from studio.steps.relabel import relabel
from studio.steps.review_pattern import approve_pattern, return_pattern
from tests.core.building.recipes import recipe
from tests.people import Cast
from tests.studio.patterns.making import bring, fresh, make_project

pytestmark = pytest.mark.django_db

DISC = {"kind": "circle", "diameter": 30}
HOLE = {"kind": "hole"}


def build(project: Project, *steps: dict[str, Any]) -> Pattern:
    """As the page does it: the newest draft, changed and kept."""
    current = current_pattern(project)
    draft = draft_of(current).changed(recipe(*steps))
    return keep(project, draft, acting=project.student, base=base_of(current))[0]


def again(pattern: Pattern) -> Pattern:
    return Pattern.objects.get(pk=pattern.pk)


def test_a_built_pattern_is_read_checked_and_ready_to_hand_in(cast: Cast) -> None:
    project = make_project(cast)
    pattern = build(project, DISC, HOLE)
    assert pattern.number == 1
    (piece,) = pattern.drawing.pieces
    assert piece.drill_marks[0].diameter_mm == 1.6
    assert not pattern.findings
    with pattern.file.open() as file:
        assert file.read().startswith(b"<?xml")
    hand_in(pattern, acting=cast.owner)
    assert again(pattern).state == Pattern.State.HANDED_IN


def test_many_small_changes_stay_one_revision_with_one_file_and_one_row(
    cast: Cast, evidence: Path, django_capture_on_commit_callbacks: Any
) -> None:
    project = make_project(cast)
    with django_capture_on_commit_callbacks(execute=True):
        for size in range(20, 30):
            pattern = build(project, {**DISC, "diameter": size})
    assert [one.pk for one in Pattern.objects.all()] == [pattern.pk]
    assert len([path for path in evidence.rglob("*") if path.is_file()]) == 1
    assert Path(evidence, str(again(pattern).file.name)).read_bytes()
    verbs = History.objects.filter(subject=subject_of(project)).values_list("verb", flat=True)
    assert sorted(verbs) == ["pattern-built", "project-started"]
    assert again(pattern).drawing.bounds_mm[2] - again(pattern).drawing.bounds_mm[0] > 28


def test_the_later_window_is_refused_when_it_started_from_an_older_state(cast: Cast) -> None:
    project = make_project(cast)
    build(project, DISC)
    current = current_pattern(project)
    draft, base = draft_of(current), base_of(current)
    first = draft.changed(recipe(DISC, HOLE))
    second = draft.changed(recipe({"kind": "heart"}))
    kept, _ = keep(project, first, acting=cast.owner, base=base)
    with pytest.raises(ChangedMeanwhile, match="another window"):
        keep(project, second, acting=cast.owner, base=base)
    assert draft_of(again(kept)).recipe == first.recipe


def test_two_windows_that_both_begin_do_not_make_two_patterns(cast: Cast) -> None:
    project = make_project(cast)
    draft = Draft().changed(recipe(DISC))
    keep(project, draft, acting=cast.owner, base="0")
    with pytest.raises(ChangedMeanwhile):
        keep(project, draft, acting=cast.owner, base="0")
    assert Pattern.objects.count() == 1


def test_building_after_an_uploaded_file_begins_a_version_beside_it(
    cast: Cast, evidence: Path
) -> None:
    project = make_project(cast)
    uploaded = bring(project, copies=3)
    built = build(project, DISC)
    assert built.number == 2
    assert built.copies == 3
    assert again(uploaded).state == Pattern.State.REPLACED
    assert Path(evidence, str(uploaded.file.name)).exists()


def test_a_returned_pattern_is_opened_again_and_its_remark_stays(
    cast: Cast, evidence: Path, django_capture_on_commit_callbacks: Any
) -> None:
    project = make_project(cast)
    pattern = build(project, DISC)
    hand_in(pattern, acting=cast.owner)
    return_pattern(pattern, acting=cast.teacher, remark="Give it a window.")
    project = fresh(project)
    current = current_pattern(project)
    assert draft_of(current).recipe == recipe(DISC)
    with django_capture_on_commit_callbacks(execute=True):
        newer = build(project, DISC, {"kind": "circle", "diameter": 9, "role": "window"})
    older = again(pattern)
    assert (newer.number, newer.state) == (2, Pattern.State.DRAFT)
    assert (older.state, older.remark) == (Pattern.State.REPLACED, "Give it a window.")
    assert Path(evidence, str(older.file.name)).exists()
    assert fresh(project).stage == Project.Stage.DRAWING


def test_a_file_that_a_returned_version_shares_is_kept_as_evidence(
    cast: Cast, evidence: Path, django_capture_on_commit_callbacks: Any
) -> None:
    """Naming a line of a returned pattern begins a revision with the same file and recipe."""
    project = make_project(cast)
    steps = (DISC, {"kind": "hole", "purpose": "rivet", "found": "here", "diameter": 3})
    pattern = build(project, *steps)
    hand_in(pattern, acting=cast.owner)
    return_pattern(pattern, acting=cast.teacher, remark="Is this drilled?")
    named = relabel(again(pattern), {"2": "window"}, acting=cast.owner)
    assert named.recipe == again(pattern).recipe
    with django_capture_on_commit_callbacks(execute=True):
        changed = build(fresh(project), DISC)
    assert changed.pk == named.pk
    assert changed.relabels == {}
    assert Path(evidence, str(again(pattern).file.name)).exists()


def test_nothing_is_left_of_a_recipe_that_cannot_be_built(cast: Cast, evidence: Path) -> None:
    project = make_project(cast)
    with pytest.raises(RecipeError, match="no letter"):
        build(project, {"kind": "letters", "text": "漢"})
    assert not Pattern.objects.exists()
    assert not [path for path in evidence.rglob("*") if path.is_file()]


def test_an_empty_paper_is_kept_but_cannot_be_handed_in(cast: Cast) -> None:
    project = make_project(cast)
    build(project, DISC)
    empty = build(project)
    assert [finding.code for finding in empty.findings] == ["no-pieces"]
    with pytest.raises(Refused):
        hand_in(empty, acting=cast.owner)


def test_what_is_handed_in_or_approved_can_no_longer_be_built(cast: Cast) -> None:
    project = make_project(cast)
    pattern = build(project, DISC)
    hand_in(pattern, acting=cast.owner)
    with pytest.raises(Refused, match="handed in"):
        build(fresh(project), DISC, HOLE)
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    with pytest.raises(Refused, match="approved already"):
        build(fresh(project), DISC, HOLE)


def test_the_brief_decides_how_far_a_hole_lies_from_the_edge(cast: Cast) -> None:
    from tests.studio.patterns.making import make_brief

    project = make_project(cast, make_brief(cast, least_hole_edge_mm="3.50"))
    (piece,) = build(project, DISC, HOLE).drawing.pieces
    (mark,) = piece.drill_marks
    assert 3.5 <= piece.outline.exterior.distance(mark.centre) - 0.8 < 3.6


def test_a_stored_draft_remembers_what_can_be_undone(cast: Cast) -> None:
    project = make_project(cast)
    build(project, DISC)
    pattern = again(build(project, DISC, HOLE))
    draft = draft_of(pattern)
    assert draft.undone().recipe == recipe(DISC)
    assert isinstance(pattern.recipe, dict)
    assert Recipe.from_json(pattern.recipe) == recipe(DISC, HOLE)
