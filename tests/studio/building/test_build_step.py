"""The builder keeps a draft of its own; its drawing becomes a version when the student says so."""

from __future__ import annotations

from pathlib import Path

import pytest

from classroom.models import History, subject_of
from classroom.refusals import Refused
from studio.core.building import Draft, Recipe, RecipeError
from studio.core.correcting import Diameter
from studio.models import BuilderDraft, Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.build import ChangedMeanwhile, draft_of, keep, opened, use
from studio.steps.patterns.correct import correct
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.relabel import relabel
from tests.core.building.recipes import recipe
from tests.people import Cast
from tests.studio.patterns.making import bring, files_in, fresh, make_project

from .making import DISC, HOLE, build, shape

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("evidence")]


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


def test_trying_the_builder_takes_nothing_away(cast: Cast, evidence: Path) -> None:
    """A photographed and mended pattern stays what it was, and current, until another is used."""
    project = make_project(cast)
    uploaded = bring(project, copies=3)
    mended = correct(uploaded, [Diameter("2", 2.0)], acting=cast.owner)
    before = Pattern.objects.filter(pk=mended.pk).values().get()
    shape(project, DISC)
    shape(project)
    shape(project, {"kind": "heart"})
    assert Pattern.objects.filter(project=project).values().get() == before
    hand_in(again(uploaded), acting=cast.owner)
    assert [step["kind"] for step in opened(project).draft.recipe.to_json()["steps"]] == ["heart"]
    assert len(files_in(evidence)) == 1


def test_a_drawing_that_is_used_stands_beside_what_was_there(cast: Cast, evidence: Path) -> None:
    project = make_project(cast)
    uploaded = bring(project, copies=3)
    built = build(project, DISC)
    assert (built.number, built.copies, built.state) == (2, 3, Pattern.State.DRAFT)
    assert again(uploaded).state == Pattern.State.ASIDE
    assert not BuilderDraft.objects.exists()
    assert Path(evidence, str(uploaded.file.name)).exists()


def test_many_small_changes_make_no_version_no_file_and_no_history(
    cast: Cast, evidence: Path
) -> None:
    project = make_project(cast)
    for size in range(20, 30):
        now = shape(project, {**DISC, "diameter": size})
    assert not Pattern.objects.exists()
    assert not files_in(evidence)
    verbs = History.objects.filter(subject=subject_of(project)).values_list("verb", flat=True)
    assert list(verbs) == ["project-started"]
    pattern = use(project, acting=cast.owner, base=now.base)
    assert pattern.drawing.bounds_mm[2] - pattern.drawing.bounds_mm[0] > 28
    assert len(files_in(evidence)) == 1


def test_using_twice_is_using_once(cast: Cast) -> None:
    project = make_project(cast)
    base = shape(project, DISC).base
    one = use(project, acting=cast.owner, base=base)
    assert use(project, acting=cast.owner, base=base) == one
    assert Pattern.objects.count() == 1


def test_after_use_the_next_change_begins_from_that_version(cast: Cast) -> None:
    project = make_project(cast)
    first = build(project, DISC)
    now = opened(project)
    assert (now.begun_from, now.unused, now.draft.recipe) == (first, False, recipe(DISC))
    assert now.draft.undone().recipe == Recipe()
    second = build(project, DISC, HOLE)
    assert (second.number, again(first).state) == (2, Pattern.State.ASIDE)
    assert draft_of(again(first)).recipe == recipe(DISC)


def test_the_later_window_is_refused_when_it_started_from_an_older_state(cast: Cast) -> None:
    project = make_project(cast)
    now = shape(project, DISC)
    first = now.draft.changed(recipe(DISC, HOLE))
    second = now.draft.changed(recipe({"kind": "heart"}))
    keep(project, first, base=now.base)
    with pytest.raises(ChangedMeanwhile, match="another window"):
        keep(project, second, base=now.base)
    with pytest.raises(ChangedMeanwhile):
        use(project, acting=cast.owner, base=now.base)
    assert opened(project).draft.recipe == first.recipe


def test_two_windows_that_both_begin_do_not_keep_two_drafts(cast: Cast) -> None:
    project = make_project(cast)
    draft = Draft().changed(recipe(DISC))
    keep(project, draft, base="0")
    with pytest.raises(ChangedMeanwhile):
        keep(project, draft, base="0")
    assert BuilderDraft.objects.count() == 1


def test_a_returned_pattern_is_opened_again_and_its_remark_stays(
    cast: Cast, evidence: Path
) -> None:
    project = make_project(cast)
    pattern = build(project, DISC)
    hand_in(pattern, acting=cast.owner)
    return_pattern(pattern, acting=cast.teacher, remark="Give it a window.")
    project = fresh(project)
    assert opened(project).draft.recipe == recipe(DISC)
    shape(project, DISC, {"kind": "circle", "diameter": 9, "role": "window"})
    assert fresh(project).stage == Project.Stage.RETURNED
    newer = use(project, acting=cast.owner, base=opened(project).base)
    older = again(pattern)
    assert (newer.number, newer.state) == (2, Pattern.State.DRAFT)
    assert (older.state, older.remark) == (Pattern.State.ASIDE, "Give it a window.")
    assert Path(evidence, str(older.file.name)).exists()
    assert fresh(project).stage == Project.Stage.DRAWING


def test_corrected_lines_stay_on_their_version_when_shapes_change(cast: Cast) -> None:
    """Naming a line of a returned pattern begins a version with the same file and recipe."""
    project = make_project(cast)
    steps = (DISC, {"kind": "hole", "purpose": "rivet", "found": "here", "diameter": 3})
    pattern = build(project, *steps)
    hand_in(pattern, acting=cast.owner)
    return_pattern(pattern, acting=cast.teacher, remark="Is this drilled?")
    named = relabel(again(pattern), {"2": "window"}, acting=cast.owner)
    assert named.recipe == again(pattern).recipe
    changed = build(fresh(project), DISC)
    assert changed.number == 3
    assert again(named).relabels == {"2": "window"}


def test_nothing_is_left_of_a_recipe_that_cannot_be_built(cast: Cast, evidence: Path) -> None:
    project = make_project(cast)
    with pytest.raises(RecipeError, match="no letter"):
        build(project, {"kind": "letters", "text": "漢"})
    assert not Pattern.objects.exists()
    assert not BuilderDraft.objects.exists()
    assert not files_in(evidence)


def test_an_empty_paper_is_kept_but_is_no_pattern(cast: Cast) -> None:
    project = make_project(cast)
    shape(project, DISC)
    base = shape(project).base
    with pytest.raises(Refused, match="Nothing is on the paper"):
        use(project, acting=cast.owner, base=base)
    assert opened(project).draft.undone().recipe == recipe(DISC)


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
    shape(project, DISC)
    pattern = again(build(project, DISC, HOLE))
    assert draft_of(pattern).undone().recipe == recipe(DISC)
    assert isinstance(pattern.recipe, dict)
    assert Recipe.from_json(pattern.recipe) == recipe(DISC, HOLE)
