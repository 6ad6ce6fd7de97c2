"""A student says what a line is, and the pattern is checked again at once."""

from __future__ import annotations

import pytest

from classroom.refusals import Refused
from studio.models import Pattern, Project
from studio.steps.patterns.answer import return_pattern
from studio.steps.patterns.relabel import as_read, change_metal, relabel
from tests.people import Cast
from tests.studio.patterns.making import (
    BAR,
    RINGED,
    THIN,
    bring,
    fresh,
    handed_in,
    make_brief,
    make_metal,
    make_project,
)

REMARK = "Is the middle a hole or a window?"


def line_called(pattern: Pattern, element: str, nth: int = 0) -> str:
    lines = [line["id"] for line in pattern.tracing["lines"] if line["element"] == element]
    return str(lines[nth])


def test_a_circle_read_as_a_drill_mark_can_be_a_window(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    small = line_called(pattern, "circle", 1)
    assert len(pattern.drawing.pieces[0].drill_marks) == 1
    after = relabel(pattern, {small: "window"}, acting=cast.owner)
    assert after.pk == pattern.pk
    assert after.drawing.pieces[0].drill_marks == ()
    assert after.drawing.window_count == 1


def test_leaving_a_line_out_checks_again(cast: Cast) -> None:
    pattern = bring(make_project(cast), THIN)
    assert pattern.stops
    window = line_called(pattern, "rect", 1)
    after = relabel(pattern, {window: "ignore"}, acting=cast.owner)
    after.refresh_from_db()
    assert not after.stops
    assert after.drawing.window_count == 1


def test_undo_goes_back_to_as_read(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    drawing = pattern.drawing_json
    small = line_called(pattern, "circle", 1)
    relabel(pattern, {small: "window"}, acting=cast.owner)
    after = as_read(pattern, acting=cast.owner)
    assert after.relabels == {}
    assert after.drawing_json == drawing


def test_one_name_is_taken_back_with_the_empty_choice_and_others_stay(cast: Cast) -> None:
    pattern = bring(make_project(cast), THIN)
    one, two = line_called(pattern, "rect", 0), line_called(pattern, "rect", 1)
    relabel(pattern, {one: "ignore", two: "ignore"}, acting=cast.owner)
    after = relabel(pattern, {one: ""}, acting=cast.owner)
    assert after.relabels == {two: "ignore"}


@pytest.mark.parametrize("labels", [{"999": "window"}, {"1": "nonsense"}, {"1": "open"}])
def test_lines_and_names_that_do_not_exist_are_refused(cast: Cast, labels: dict[str, str]) -> None:
    pattern = bring(make_project(cast), BAR)
    with pytest.raises(Refused):
        relabel(pattern, labels, acting=cast.owner)
    pattern.refresh_from_db()
    assert pattern.relabels == {}


def test_an_impossible_name_is_a_finding_and_not_a_crash(cast: Cast) -> None:
    pattern = bring(make_project(cast), BAR)
    open_line = next(line["id"] for line in pattern.tracing["lines"] if not line["closed"])
    after = relabel(pattern, {open_line: "window"}, acting=cast.owner)
    assert "relabel-impossible" in [finding.code for finding in after.findings]


def test_a_handed_in_pattern_is_not_changed(cast: Cast) -> None:
    pattern = handed_in(make_project(cast), RINGED)
    with pytest.raises(Refused, match="Take it back"):
        relabel(pattern, {"1": "ignore"}, acting=cast.owner)


def test_a_version_set_aside_says_so(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project, RINGED)
    bring(project, BAR)
    with pytest.raises(Refused, match="Use this one again"):
        relabel(first, {"1": "ignore"}, acting=cast.owner)


def test_naming_lines_of_a_returned_pattern_begins_a_new_version(cast: Cast) -> None:
    project = make_project(cast)
    returned = handed_in(project, RINGED)
    return_pattern(returned, acting=cast.teacher, remark=REMARK)
    small = line_called(returned, "circle", 1)
    after = relabel(returned, {small: "window"}, acting=cast.owner)
    returned.refresh_from_db()
    assert after.number == 2
    assert after.state == Pattern.State.DRAFT
    assert after.remark == ""
    assert (returned.state, returned.remark) == (Pattern.State.ASIDE, REMARK)
    assert returned.relabels == {}
    assert fresh(project).stage == Project.Stage.DRAWING
    with after.file.open("rb") as kept:
        assert kept.read() == RINGED


def test_metal_and_number_change_without_a_new_file(cast: Cast) -> None:
    copper, brass = make_metal(cast), make_metal(cast, "C26000", "0.800")
    project = make_project(cast, make_brief(cast, copper, brass))
    pattern = bring(project, metal=copper)
    change_metal(pattern, brass, 3, acting=cast.owner)
    pattern.refresh_from_db()
    assert fresh(project).metal == brass
    assert pattern.copies == 3


def test_a_metal_that_the_brief_does_not_allow_is_refused(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project)
    with pytest.raises(Refused, match="metal"):
        change_metal(pattern, make_metal(cast, "C26000", "0.800"), 1, acting=cast.owner)
