"""Pieces are laid, moved and put back; everything can be undone; nothing is half done."""

from __future__ import annotations

import math
from typing import Any

import pytest
from shapely.geometry import box

from classroom.models import History, User, subject_of
from classroom.refusals import Refused
from studio.core.cutting import Placement, job_from_json
from studio.models import Brief, Layout, Pattern, Project, TrialLayout
from studio.steps.layouts import change, tries
from studio.steps.layouts.begin import MOST_TRIES, begin, begin_from_plan
from studio.steps.layouts.change import Move, pin, put, redo, undo, use_stock
from studio.steps.layouts.may_lay import Closed
from studio.steps.layouts.stock import Chosen, used_by
from tests.people import Cast
from tests.studio.plans.making import copper, stock

from .making import begun, drafted, fresh, lay, piece, spots


def test_a_first_try_has_all_pieces_in_the_tray_on_the_piece_that_holds_them(cast: Cast) -> None:
    project = drafted(cast)
    stock(copper(cast), "CU-9", box(0, 0, 60, 30), kind="offcut")
    stock(copper(cast), "CU-8", box(0, 0, 90, 60), kind="offcut")
    made = begin(project, acting=cast.owner)
    assert (made.placements, made.version, made.chosen, made.number) == ([], 0, True, 1)
    assert [entry["id"] for entry in made.job["metal"]] == ["CU-8"]
    assert begin(project, acting=cast.owner).chosen is False


def test_moves_are_undone_and_done_again_over_another_window(cast: Cast) -> None:
    one = begun(cast)
    put(one, [lay(one, 0, 0, 0), lay(one, 1, 50, 0)], acting=cast.owner, seen=0)
    after = put(one, [lay(one, 0, 0, 60)], acting=cast.owner, seen=1)
    assert spots(after) == {"1": (0, 60), "2": (50, 0)}
    other_window = fresh(one, cast.owner)
    assert spots(undo(other_window, acting=cast.owner, seen=2)) == {"1": (0, 0), "2": (50, 0)}
    assert spots(undo(other_window, acting=cast.owner)) == {}
    with pytest.raises(Refused, match="nothing to undo"):
        undo(one, acting=cast.owner)
    redo(one, acting=cast.owner)
    last = redo(one, acting=cast.owner)
    assert (spots(last), len(last.past), last.future) == ({"1": (0, 60), "2": (50, 0)}, 2, [])
    undo(one, acting=cast.owner)
    tray = put(one, [Move(piece(one, 1), 0, None)], acting=cast.owner)
    assert (spots(tray), tray.future) == ({"1": (0, 0)}, [])
    with pytest.raises(Refused, match="nothing to redo"):
        redo(one, acting=cast.owner)


def test_the_same_sending_is_heard_once_and_an_old_page_is_refused(cast: Cast) -> None:
    one = begun(cast)
    first = put(one, [lay(one, 0, 0, 0)], acting=cast.owner, seen=0, key="k-1")
    again = put(one, [lay(one, 0, 0, 0)], acting=cast.owner, seen=0, key="k-1")
    assert (first.version, again.version, len(again.past)) == (1, 1, 1)
    with pytest.raises(Refused, match="changed meanwhile"):
        put(one, [lay(one, 0, 9, 9)], acting=cast.owner, seen=0, key="k-2")
    assert spots(fresh(one, cast.owner)) == {"1": (0, 0)}


def test_of_two_at_once_one_wins_and_the_other_is_told(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = begun(cast)
    newest = change._newest

    def and_somebody_else_in_between(layout: Layout) -> Layout:
        row = newest(layout)
        monkeypatch.setattr(change, "_newest", newest)
        put(one, [lay(one, 1, 50, 0)], acting=cast.owner)
        return row

    monkeypatch.setattr(change, "_newest", and_somebody_else_in_between)
    with pytest.raises(Refused, match="changed meanwhile"):
        put(one, [lay(one, 0, 0, 0)], acting=cast.owner)
    assert spots(fresh(one, cast.owner)) == {}  # the outer transaction takes its inner with it


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (lambda one: [lay(one, 0, 0, 0), lay(one, 0, 5, 0)], "only be moved once"),
        (lambda one: [lay(one, 0, 0, 0), Move("1/none", 0, None)], "no such piece"),
        (lambda one: [lay(one, 0, 0, 0, copy=1)], "no such piece"),
        (lambda one: [lay(one, 0, 0, 0, copy=-1)], "no such piece"),
        (lambda one: [lay(one, 0, 10_001, 0)], "far off"),
        (lambda one: [lay(one, 0, math.nan, 0)], "far off"),
        (lambda one: [lay(one, 0, 0, 0, math.inf)], "far off"),
        (
            lambda one: [
                Move(piece(one), 0, Placement(piece(one), 0, "CU-7", False, 0.0, 0.0, 0.0))
            ],
            "not on this table",
        ),
        (lambda one: [], "1 to 400"),
        (lambda one: [lay(one, 0, 0, 0)] * 401, "1 to 400"),
    ],
)
def test_senseless_moves_change_nothing(cast: Cast, asked: Any, words: str) -> None:
    one = begun(cast)
    put(one, [lay(one, 1, 50, 0)], acting=cast.owner)
    with pytest.raises(Refused, match=words):
        put(one, asked(one), acting=cast.owner)
    now = fresh(one, cast.owner)
    assert (now.version, spots(now)) == (1, {"2": (50, 0)})


def test_a_pinned_piece_stays_until_it_is_let_go(cast: Cast) -> None:
    one = begun(cast)
    with pytest.raises(Refused, match="tray cannot be pinned"):
        pin(one, piece(one), 0, True, acting=cast.owner)
    put(one, [lay(one, 0, 0, 0)], acting=cast.owner)
    assert pin(one, piece(one), 0, True, acting=cast.owner).pinned == [[piece(one), 0]]
    with pytest.raises(Refused, match="pinned"):
        put(one, [lay(one, 0, 5, 5)], acting=cast.owner)
    assert undo(one, acting=cast.owner).pinned == []
    assert spots(put(one, [lay(one, 0, 5, 5)], acting=cast.owner)) == {"1": (5, 5)}


def test_other_stock_pieces_send_pieces_to_the_tray_and_undo_brings_all_back(cast: Cast) -> None:
    one = begun(cast)
    stock(copper(cast), "CU-2", box(0, 0, 200, 100))
    put(one, [lay(one, 0, 2, 2), lay(one, 1, 50, 0)], acting=cast.owner)
    pin(one, piece(one), 0, True, acting=cast.owner)
    both = [Chosen("CU-2", (20.0, 0.0, 80.0, 100.0)), Chosen("CU-1")]
    on_both = use_stock(fresh(one, cast.owner), both, acting=cast.owner)
    assert used_by(on_both) == both
    assert len(spots(on_both)) == 2
    cut = job_from_json(on_both.job).stock_by_id["CU-2"]
    assert cut.outline.bounds == (20.0, 0.0, 80.0, 100.0)
    assert cut.rough_edges is not None
    assert sorted(round(line.length, 2) for line in cut.rough_edges.geoms) == [100.0, 100.0]
    on_one = use_stock(fresh(one, cast.owner), both[:1], acting=cast.owner)
    assert (spots(on_one), on_one.pinned) == ({}, [])
    back = undo(fresh(one, cast.owner), acting=cast.owner)
    assert (used_by(back), len(spots(back)), len(back.pinned)) == (both, 2, 1)
    assert used_by(redo(fresh(one, cast.owner), acting=cast.owner)) == both[:1]


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ([], "Choose 1 to 6"),
        ([Chosen("CU-1"), Chosen("CU-1")], "only once"),
        ([Chosen("CU-9")], "not on the rack"),
        ([Chosen("CU-1", (0, 0, 9, 50))], "at least 10 mm"),
        ([Chosen("CU-1", (50, 0, 0, 50))], "at least 10 mm"),
        ([Chosen("CU-1", (500, 0, 600, 50))], "no metal in this rectangle"),
        ([Chosen("CU-1", (math.nan, 0, 600, 50))], "far off"),
        ([Chosen("BR-1")], "not on the rack"),
    ],
)
def test_stock_that_is_not_offered_is_refused_in_words(
    cast: Cast, chosen: list[Chosen], words: str
) -> None:
    one = begun(cast)
    stock(copper(cast, "1.024"), "BR-1", box(0, 0, 80, 80))  # the brief does not allow it
    with pytest.raises(Refused, match=words):
        use_stock(one, chosen, acting=cast.owner)
    assert fresh(one, cast.owner).version == 0


def test_old_steps_are_forgotten_at_three_hundred(cast: Cast) -> None:
    one = begun(cast)
    step = {"moved": [[piece(one), 0, None, ["CU-1", False, 0.0, 0.0, 0.0]]]}
    Layout.objects.filter(pk=one.pk).update(past=[step] * change.MOST_STEPS)
    after = put(one, [lay(one, 1, 50, 0)], acting=cast.owner)
    assert len(after.past) == change.MOST_STEPS
    assert after.past[-1]["moved"][0][0] == piece(one, 1)


def test_a_sitting_is_told_in_one_row(cast: Cast) -> None:
    one = begun(cast)
    for x in range(5):
        put(one, [lay(one, 0, x, 0)], acting=cast.owner)
    assert one.project is not None
    told = History.objects.filter(subject=subject_of(one.project), verb="layout-changed")
    assert told.count() == 1


def test_tries_are_bounded_and_handed_in_ones_are_kept(cast: Cast) -> None:
    one = begun(cast)
    put(one, [lay(one, 0, 0, 0)], acting=cast.owner)
    one = fresh(one, cast.owner)
    two = tries.copy(one, acting=cast.owner, name="  to  the edge ")
    assert (two.name, two.placements, two.past) == ("to the edge", one.placements, [])
    tries.choose(fresh(two, cast.owner), acting=cast.owner)
    assert [row.chosen for row in Layout.objects.order_by("number")] == [False, True]
    for _ in range(MOST_TRIES - 2):
        tries.new(one, acting=cast.owner)
    with pytest.raises(Refused, match="12 tries already"):
        tries.new(one, acting=cast.owner)
    TrialLayout.objects.create(layout=one, wish="rest", key="1")
    tries.drop(one, acting=cast.owner)
    assert not Layout.objects.filter(pk=one.pk).exists()
    Layout.objects.filter(pk=two.pk).update(handed_in_at=two.created_at)
    with pytest.raises(Refused, match="handed in"):
        tries.drop(fresh(two, cast.owner), acting=cast.owner)
    with pytest.raises(Closed, match="handed in"):
        put(two, [Move(piece(two), 0, None)], acting=cast.owner)


@pytest.mark.parametrize("stage", [Project.Stage.PATTERN_APPROVED, Project.Stage.AT_BENCH])
def test_a_student_lays_out_until_the_pattern_is_approved(cast: Cast, stage: str) -> None:
    one = begun(cast)
    Project.objects.filter(pk=one.project_id).update(stage=stage)
    with pytest.raises(Closed, match="approved"):
        put(one, [lay(one, 0, 0, 0)], acting=cast.owner)


def test_where_the_server_lays_out_a_student_is_told_so_and_a_teacher_is_not(cast: Cast) -> None:
    project = drafted(cast, laid_by=Brief.LaidBy.SERVER)
    with pytest.raises(Refused, match="server lays"):
        begin(project, acting=cast.owner)
    assert begin(project, acting=cast.teacher).owner == cast.teacher


def test_a_pattern_with_stops_and_an_empty_rack_are_told(cast: Cast) -> None:
    project = drafted(cast)
    copper(cast).stock_pieces.update(state="gone")
    with pytest.raises(Refused, match="on the rack"):
        begin(project, acting=cast.owner)
    stop = {
        "code": "too-wide",
        "weight": "stop",
        "message": "too wide",
        "mend": "",
        "x_mm": 0,
        "y_mm": 0,
        "value_mm": 70,
        "limit_mm": 60,
    }
    Pattern.objects.update(findings_json=[stop])
    with pytest.raises(Refused, match="stops"):
        begin(project, acting=cast.owner)


@pytest.mark.parametrize("who", ["owner", "teacher"])
def test_nobody_changes_what_somebody_else_laid(cast: Cast, who: str) -> None:
    one = begun(cast)
    if who == "owner":
        Layout.objects.filter(pk=one.pk).update(owner=cast.teacher)
    person: User = getattr(cast, who)
    with pytest.raises(Refused, match="copy of it"):
        put(one, [lay(one, 0, 0, 0)], acting=person)
    mine = tries.copy(fresh(one, person), acting=person)
    assert put(mine, [lay(mine, 0, 0, 0)], acting=person).owner == person


def test_a_plans_try_begins_as_the_plan_lies_and_ends_when_the_metal_is_handed_out(
    cast: Cast, plan: Any
) -> None:
    made = begin_from_plan(plan, acting=cast.teacher)
    assert made.laid == plan.laid.placements
    plan.__class__.objects.filter(pk=plan.pk).update(state="issued")
    plan.refresh_from_db()
    with pytest.raises(Closed):
        put(fresh(made, cast.teacher), [Move(piece(made), 0, None)], acting=cast.teacher)
    with pytest.raises(Refused):
        begin_from_plan(plan, acting=cast.teacher)
