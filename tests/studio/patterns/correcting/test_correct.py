"""Correcting lines: put on, taken off in order, checked again at once, and nobody's loss."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection

from classroom.models import History
from classroom.refusals import Refused
from studio.core.correcting import (
    MAX_CHANGES,
    Change,
    Diameter,
    Join,
    MovePoint,
    Name,
    NewHole,
    Redraw,
    RemovePoint,
)
from studio.models import Pattern, Project
from studio.steps.patterns import ahead as ahead_step
from studio.steps.patterns import correct as correct_step
from studio.steps.patterns.answer import return_pattern
from studio.steps.patterns.correct import correct, undo, undo_all, version_of
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.recheck import Checked, look_again
from studio.steps.patterns.relabel import as_read, relabel
from studio.steps.patterns.versions import use_again
from tests.at_once import told_at_once
from tests.people import Cast
from tests.studio.patterns.making import (
    BAR,
    OPEN,
    RINGED,
    bring,
    fresh,
    handed_in,
    make_project,
    mine,
    svg,
)

CLOSE = Join("1", "first", "1", "last")
TWO_ENDS = svg('<path d="M5 5H45V25H5Z"/><path d="M10 10H20"/><path d="M20.5 10V20H10V10.5"/>')
"""A bar, and a window in two open lines, 2 and 3."""


def history(pattern: Pattern) -> list[str]:
    rows = History.objects.about(pattern.project).filter(verb="pattern-corrected")
    return list(rows.values_list("text", flat=True))


def test_an_outline_that_was_open_is_closed_and_can_be_handed_in(cast: Cast) -> None:
    pattern = bring(make_project(cast), OPEN)
    read = pattern.tracing
    assert pattern.stops
    after = correct(pattern, [CLOSE], acting=cast.owner)
    after.refresh_from_db()
    assert after.pk == pattern.pk
    assert not after.stops
    assert after.drawing.area_mm2 == pytest.approx(40 * 20, abs=0.01)
    assert after.tracing == read
    hand_in(after, acting=cast.owner)
    assert fresh(pattern.project).stage == Project.Stage.HANDED_IN


def test_undo_takes_back_the_newest_first_whatever_it_was(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    as_brought = pattern.drawing_json
    correct(pattern, [Diameter("2", 2.0)], acting=cast.owner)
    relabel(pattern, {"2": "window"}, acting=cast.owner)
    after = undo(pattern, acting=cast.owner)
    assert after.relabels == {}
    assert after.drawing.pieces[0].drill_marks[0].diameter_mm == 2.0
    after = undo(pattern, acting=cast.owner)
    assert after.drawing_json == as_brought
    assert after.changes == []
    with pytest.raises(Refused, match="nothing to undo"):
        undo(pattern, acting=cast.owner)


def test_undo_gives_the_name_before_back(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    relabel(pattern, {"2": "window"}, acting=cast.owner)
    relabel(pattern, {"2": "ignore"}, acting=cast.owner)
    assert undo(pattern, acting=cast.owner).relabels == {"2": "window"}
    as_read(pattern, acting=cast.owner)
    assert undo(pattern, acting=cast.owner).relabels == {"2": "window"}


def test_changes_put_on_together_come_off_together(cast: Cast) -> None:
    pattern = bring(make_project(cast), TWO_ENDS)
    both = [Join("2", "last", "3", "first"), Join("2", "first", "2", "last")]
    after = correct(pattern, both, acting=cast.owner, text="closed a window of pattern 1")
    assert after.drawing.window_count == 1
    assert [line.id for line in after.traced.lines] == ["1", "2"]
    assert history(pattern) == ["closed a window of pattern 1"]
    assert undo(pattern, acting=cast.owner).changes == []


def test_a_joined_lines_name_is_gone_with_it_and_comes_back_with_undo(cast: Cast) -> None:
    pattern = bring(make_project(cast), TWO_ENDS)
    relabel(pattern, {"3": "ignore"}, acting=cast.owner)
    after = correct(pattern, [Join("2", "last", "3", "first")], acting=cast.owner)
    assert after.relabels == {}
    assert "relabel-unknown" not in [finding.code for finding in after.findings]
    assert undo(pattern, acting=cast.owner).relabels == {"3": "ignore"}


def test_everything_goes_back_to_as_it_was_read(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    before = (pattern.drawing_json, pattern.findings_json)
    correct(pattern, [Diameter("2", 2.0), NewHole((25.0, 25.0), 1.0)], acting=cast.owner)
    relabel(pattern, {"2": "window"}, acting=cast.owner)
    after = undo_all(pattern, acting=cast.owner)
    after.refresh_from_db()
    assert (after.drawing_json, after.findings_json) == before
    assert (after.changes, after.relabels) == ([], {})


def test_a_window_of_the_past_is_refused_and_nothing_is_lost(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    seen = version_of(pattern)
    correct(pattern, [Diameter("2", 2.0)], acting=cast.owner, seen=seen)
    with pytest.raises(Refused, match="changed meanwhile"):
        correct(pattern, [Diameter("2", 3.0)], acting=cast.owner, seen=seen)
    with pytest.raises(Refused, match="changed meanwhile"):
        undo(pattern, acting=cast.owner, seen=seen)
    pattern.refresh_from_db()
    assert pattern.drawing.pieces[0].drill_marks[0].diameter_mm == 2.0


def test_as_many_changes_do_not_make_the_same_version(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    one = version_of(correct(pattern, [Diameter("2", 2.0)], acting=cast.owner))
    undo(pattern, acting=cast.owner)
    other = version_of(correct(pattern, [Diameter("2", 2.5)], acting=cast.owner))
    assert one != other


def test_the_same_sending_counts_once(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    seen = version_of(pattern)
    for _ in range(2):
        after = correct(
            pattern, [NewHole((25.0, 25.0), 1.0)], acting=cast.owner, seen=seen, key="k1"
        )
    assert len(after.changes) == 1


REFUSED: list[tuple[list[Change], str]] = [
    ([Diameter("9", 2.0)], "not in this pattern"),
    ([Name((("9", "window"),))], "not in this pattern"),
    ([RemovePoint("1", 0), Diameter("9", 2.0)], "not in this pattern"),
    ([Redraw("1", (), closed=True)], "three points"),
    ([Diameter("2", 2.0)] * (MAX_CHANGES + 1), "bring the file"),
]


@pytest.mark.parametrize(("changes", "why"), REFUSED, ids=[why for _, why in REFUSED])
def test_what_cannot_be_is_refused_whole(cast: Cast, changes: list[Change], why: str) -> None:
    pattern = bring(make_project(cast), RINGED)
    with pytest.raises(Refused, match=why):
        correct(pattern, changes, acting=cast.owner)
    pattern.refresh_from_db()
    assert pattern.changes == []


def test_a_scribble_is_refused(cast: Cast) -> None:
    pattern = bring(make_project(cast), BAR)
    zigzag = tuple((float(n % 2 * 30), n * 0.05) for n in range(400))
    across = tuple((n * 0.05, float(n % 2 * 30)) for n in range(400))
    lines: list[Change] = [Redraw("1", zigzag, closed=True), Redraw("2", across, closed=False)]
    with pytest.raises(Refused, match="cross each other far too often"):
        correct(pattern, lines, acting=cast.owner)


def test_a_handed_in_pattern_is_not_corrected(cast: Cast) -> None:
    pattern = handed_in(make_project(cast), RINGED)
    with pytest.raises(Refused, match="Take it back"):
        correct(pattern, [Diameter("2", 2.0)], acting=cast.owner)
    with pytest.raises(Refused, match="Take it back"):
        undo(pattern, acting=cast.owner)
    with pytest.raises(Refused, match="Take it back"):
        undo_all(pattern, acting=cast.owner)


def test_correcting_a_returned_pattern_begins_a_new_version_that_carries_all(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project, RINGED)
    correct(pattern, [Diameter("2", 2.0)], acting=cast.owner)
    hand_in(pattern, acting=cast.owner)
    pattern.refresh_from_db()
    return_pattern(pattern, acting=cast.teacher, remark="The hole is too small.")
    after = correct(pattern, [Diameter("2", 2.5)], acting=cast.owner, seen=version_of(pattern))
    pattern.refresh_from_db()
    assert (after.number, after.state) == (2, Pattern.State.DRAFT)
    assert [change["diameter_mm"] for change in after.changes] == [2.0, 2.5]
    assert pattern.state == Pattern.State.ASIDE
    assert [change["diameter_mm"] for change in pattern.changes] == [2.0]
    assert undo(after, acting=cast.owner).drawing.pieces[0].drill_marks[0].diameter_mm == 2.0


def test_a_sitting_of_small_changes_is_one_row_of_history(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    for size in (1.0, 1.5, 2.0):
        correct(pattern, [Diameter("2", size)], acting=cast.owner)
    assert history(pattern) == ["corrected lines of pattern 1"]
    relabel(pattern, {"2": "window"}, acting=cast.owner)
    assert history(pattern)[0] == "named lines of pattern 1"


def test_the_same_file_brought_again_after_correcting_is_a_new_version(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project, RINGED)
    correct(pattern, [Diameter("2", 2.0)], acting=cast.owner)
    assert bring(project, RINGED).number == 2


@pytest.mark.django_db(transaction=True)
def test_two_corrections_at_once_from_one_state_leave_one(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    seen = version_of(pattern)
    one, two = mine(pattern), mine(pattern)

    def drill(row: Pattern, size: float) -> Any:
        return correct(row, [Diameter("2", size)], acting=cast.owner, seen=seen)

    answers = told_at_once(lambda: drill(one, 1.0), lambda: drill(two, 2.0))
    assert sorted(answer == "done" for answer in answers) == [False, True]
    pattern.refresh_from_db()
    assert len(pattern.changes) == 1


@pytest.mark.django_db(transaction=True)
def test_handing_in_and_correcting_at_once_never_hands_in_something_else(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    one, two = mine(pattern), mine(pattern)
    told_at_once(
        lambda: hand_in(one, acting=cast.owner),
        lambda: correct(two, [MovePoint("1", 0, (36.0, 20.0))], acting=cast.owner),
    )
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.HANDED_IN
    assert look_again(pattern).drawing.to_json() == pattern.drawing_json


@pytest.mark.django_db(transaction=True)
def test_nobody_waits_for_a_row_while_a_drawing_is_worked_out(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A large drawing takes seconds, and on SQLite a held row is the whole school's database."""
    held: list[bool] = []

    def watched(row: Pattern) -> Checked:
        held.append(connection.in_atomic_block)
        return look_again(row)

    monkeypatch.setattr(ahead_step, "look_again", watched)
    pattern = mine(bring(make_project(cast), RINGED))
    pattern = mine(correct(pattern, [Diameter("2", 2.0)], acting=cast.owner))
    pattern = mine(relabel(pattern, {"2": "window"}, acting=cast.owner))
    pattern = mine(as_read(pattern, acting=cast.owner))
    pattern = mine(undo(pattern, acting=cast.owner))
    pattern = mine(undo_all(pattern, acting=cast.owner))
    bring(pattern.project, BAR)
    use_again(mine(pattern), acting=cast.owner)
    hand_in(mine(pattern), acting=cast.owner)
    assert held == [False] * 7


def test_what_was_worked_out_for_an_older_state_does_not_count(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    older = mine(pattern)
    correct(pattern, [Diameter("2", 2.0)], acting=cast.owner)
    after = correct(older, [NewHole((10.0, 10.0), 1.5)], acting=cast.owner)
    assert [entry["do"] for entry in after.changes] == ["diameter", "new-hole"]
    assert look_again(after).drawing.to_json() == after.drawing_json


def test_so_many_redrawn_points_are_kept_and_no_more(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(correct_step, "MOST_KEPT", 10)
    pattern = bring(make_project(cast), BAR)
    corners = ((5.0, 5.0), (45.0, 5.0), (45.0, 25.0), (5.0, 25.0))
    correct(pattern, [Redraw("1", corners, closed=True)], acting=cast.owner)
    correct(pattern, [Redraw("1", corners[::-1], closed=True)], acting=cast.owner)
    with pytest.raises(Refused, match="no more can be kept"):
        correct(pattern, [Redraw("1", corners, closed=True)], acting=cast.owner)
    pattern.refresh_from_db()
    assert len(pattern.changes) == 2
