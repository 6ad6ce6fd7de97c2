"""What searches leave behind: nothing unanswered, no rows without end, nobody's try gone."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from classroom.refusals import Refused
from studio.core.confining import Ended
from studio.core.cutting import Placement
from studio.core.cutting.by_hand import placement_to_json
from studio.models import Layout, Pattern, TrialLayout
from studio.running.naming import place_of
from studio.running.trials import doing, others, reaping
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts import tries
from studio.steps.layouts.begin import MOST_TRIES, begin
from studio.steps.layouts.server_tries import MOST_SEARCHES_KEPT, ask_server

Wish = TrialLayout.Wish


@pytest.fixture
def own(pattern: Pattern) -> Layout:
    """The owner's try of two bars, one of which lies."""
    Pattern.objects.filter(pk=pattern.pk).update(copies=2)
    made = begin(pattern.project, acting=pattern.project.student)
    return moved(made, 2.0)


def moved(own: Layout, x: float) -> Layout:
    metal, piece = own.asked.metal[0].id, own.asked.pieces[0]
    x0, y0, _, _ = piece.outline.bounds
    own.placements = [
        placement_to_json(Placement(piece.id, 0, metal, False, 0.0, x - x0, 2.0 - y0))
    ]
    own.version += 1
    own.save()
    return own


@pytest.fixture
def laid(pattern: Pattern) -> TrialLayout:
    """The pattern's trial, with what would change it not yet looked at."""
    assert doing.run_first(pattern.pk, "here/1")
    return TrialLayout.objects.get()


def test_what_would_change_is_asked_again_where_its_worker_was_told_to_end(
    laid: TrialLayout, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    def ends(*_: Any) -> None:
        raise Ended

    with monkeypatch.context() as patched, django_capture_on_commit_callbacks() as queued:
        patched.setitem(others.QUESTIONS, "side", ends)
        assert not others.run(laid.pk, "here/1")
    assert len(queued) == 1
    laid.refresh_from_db()
    assert laid.others["todo"][0] == "side"


@pytest.mark.parametrize("looked_after", ["reap", "take_over"])
def test_what_would_change_goes_on_where_its_worker_was_killed(
    laid: TrialLayout, looked_after: str, django_capture_on_commit_callbacks: Any
) -> None:
    process = 4711
    assert lease.claim_others(laid.pk, f"{place_of(process)}/1")
    with django_capture_on_commit_callbacks(execute=True):
        if looked_after == "take_over":
            assert reaping.take_over(process) == 1
        else:
            assert reaping.reap() == 0  # the lease holds
            TrialLayout.objects.update(lease_until=timezone.now() - dt.timedelta(seconds=1))
            assert reaping.reap() == 1
    laid.refresh_from_db()
    assert laid.others["todo"] == []
    assert laid.lease_until is None
    assert reaping.reap() == 0


def test_a_question_that_ends_its_worker_twice_is_left_out(laid: TrialLayout) -> None:
    for number in range(lease.MOST_ATTEMPTS):
        assert lease.claim_others(laid.pk, f"gone/{number}")
        TrialLayout.objects.update(lease_until=timezone.now() - dt.timedelta(seconds=1))
        reaping.reap()
    laid.refresh_from_db()
    assert laid.others["todo"] == ["turn", "metal"]


def test_searches_of_one_layout_are_kept_in_bounds_with_those_that_made_a_try(own: Layout) -> None:
    first = ask_server(own, Wish.REST, acting=own.owner)
    assert doing.run(first.pk, "here/1")
    for number in range(MOST_SEARCHES_KEPT + 3):
        trial = ask_server(moved(own, 3.0 + number), Wish.REST, acting=own.owner)
        lease.claim(trial.pk, "here/1")
        lease.fail(trial.pk, "here/1", "Nothing.")
    kept = TrialLayout.objects.filter(layout=own)
    assert kept.count() <= MOST_SEARCHES_KEPT + 1
    assert kept.filter(pk=first.pk).exists()


def test_a_try_of_the_servers_that_somebody_has_named_is_not_deleted(
    pattern: Pattern, own: Layout
) -> None:
    trial = ask_server(own, Wish.WHOLE, acting=own.owner)
    assert doing.run(trial.pk, "here/1")
    named = Layout.objects.get(origin=Layout.Origin.SERVER)
    tries.rename(named, acting=own.owner, name="The good one")
    while Layout.objects.count() < MOST_TRIES - 1:
        begin(pattern.project, acting=own.owner)
    second = ask_server(own, Wish.REST, acting=own.owner)
    assert doing.run(second.pk, "here/1")
    assert Layout.objects.count() == MOST_TRIES
    third = ask_server(moved(own, 9.0), Wish.REST, acting=own.owner)
    second.refresh_from_db()
    assert second.made is not None  # nothing has come of the third yet
    assert doing.run(third.pk, "here/1")
    left = set(Layout.objects.filter(origin=Layout.Origin.SERVER).values_list("name", flat=True))
    assert left == {"The good one", "The rest laid by the server"}


def test_what_was_moved_off_the_metal_while_the_rest_was_waited_for_is_told(own: Layout) -> None:
    trial = ask_server(own, Wish.REST, acting=own.owner)
    moved(own, -20.0)
    assert not doing.run(trial.pk, "here/1")
    trial.refresh_from_db()
    assert trial.state == lease.FAILED
    assert "not good" in trial.error


def test_a_pinned_piece_off_the_metal_is_told_before_anything_is_searched(own: Layout) -> None:
    own.pinned = [[own.laid[0].piece, 0]]
    own = moved(own, -20.0)
    for wish in (Wish.WHOLE, Wish.IMPROVE, Wish.NEAREST):
        with pytest.raises(Refused, match="pinned stay"):
            ask_server(own, wish, acting=own.owner)
    assert not TrialLayout.objects.exists()
