"""What was handed in is what the judge has seen, and stays as it was while somebody looks at it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.urls import reverse

from classroom.refusals import Refused
from studio.models import Layout, Pattern
from studio.steps.layouts import change, outcome
from studio.steps.layouts import hand_in as handing
from studio.steps.layouts import nudge as nudging
from studio.steps.layouts.change import Move
from studio.steps.layouts.judged import judged_fit
from studio.steps.patterns.answer import approve_pattern
from studio.steps.patterns.hand_in import hand_in
from tests.people import Cast, signed_in
from tests.studio.patterns.making import mine

from .laying import in_a_row

pytestmark = pytest.mark.django_db


@pytest.fixture
def waiting(draft: Pattern, own: Layout) -> Pattern:
    return mine(hand_in(mine(draft), acting=draft.project.student))


def test_looking_at_it_leaves_the_figures_that_it_was_handed_in_with(
    cast: Cast, waiting: Pattern, own: Layout
) -> None:
    own.refresh_from_db()
    before = own.figures
    assert before["metal_price"]
    for who in (cast.owner, cast.teacher):
        assert signed_in(who).get(reverse("layout", args=[own.pk])).status_code == 200
    own.refresh_from_db()
    assert own.figures == before


def lifted(own: Layout) -> Move:
    return Move(own.placements[0]["piece"], 0, None)


def test_a_move_that_meets_the_handing_in_is_refused(
    draft: Pattern, own: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    newest = change._newest

    def and_handed_in_in_between(one: Layout) -> Layout:
        row = newest(one)
        monkeypatch.setattr(change, "_newest", newest)
        hand_in(mine(draft), acting=draft.project.student)
        return row

    monkeypatch.setattr(change, "_newest", and_handed_in_in_between)
    with pytest.raises(Refused, match="meanwhile"):
        change.put(own, [lifted(own)], acting=own.owner)


def moved_while_it_is_judged(own: Layout, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though the project is held: its layouts are not."""
    now = outcome.weighed_now

    def and_moved_meanwhile(*asked: Any) -> Any:
        found = now(*asked)
        change.put(own, [lifted(own)], acting=own.owner)
        return found

    for where in (handing, nudging):
        monkeypatch.setattr(where, "weighed_now", and_moved_meanwhile)


def test_a_layout_that_is_moved_while_it_is_judged_is_not_taken_in(
    draft: Pattern, own: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    moved_while_it_is_judged(own, monkeypatch)
    with pytest.raises(Refused, match="changed meanwhile"):
        hand_in(mine(draft), acting=draft.project.student)
    assert mine(draft).state == Pattern.State.DRAFT


def test_a_nudged_one_that_is_moved_while_it_is_judged_is_not_taken(
    cast: Cast, waiting: Pattern, own: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    own.refresh_from_db()
    nudged = nudging.nudge_layout(own, acting=cast.teacher)
    nudged.placements = in_a_row(waiting, "CU-1", at=(20.0, 30.0))
    nudged.save()
    moved_while_it_is_judged(nudged, monkeypatch)
    with pytest.raises(Refused, match="changed meanwhile"):
        approve_pattern(waiting, acting=cast.teacher, layout=nudged)
    assert mine(waiting).state == Pattern.State.HANDED_IN


def test_the_judge_is_asked_before_anything_is_held(
    cast: Cast, draft: Pattern, own: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    outside = len(connection.savepoint_ids)  # a test is in a transaction of its own
    depths = []

    def noted(*asked: Any) -> Any:
        depths.append(len(connection.savepoint_ids))
        return judged_fit(*asked)

    monkeypatch.setattr(outcome, "judged_fit", noted)
    handed = mine(hand_in(mine(draft), acting=own.owner))
    own.refresh_from_db()
    nudged = nudging.nudge_layout(own, acting=cast.teacher)
    approve_pattern(handed, acting=cast.teacher, layout=nudged, place_now=False)
    assert depths == [outside, outside]
