"""Whose a layout is, which of several counts, and who may take today's rules into one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from django.urls import reverse

from classroom.refusals import Refused
from studio.models import Brief, Layout, Pattern, Project
from studio.steps.layouts import change, tries
from studio.steps.layouts.begin import begin, begin_first
from studio.steps.layouts.change import Move
from studio.steps.layouts.nudge import nudge_layout
from studio.steps.layouts.renew import renew_layout
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.take_back import take_back
from tests.people import Cast, signed_in
from tests.studio.patterns.making import mine, words

pytestmark = pytest.mark.django_db


def test_a_try_that_a_teacher_begins_counts_only_once_the_teacher_chooses_it(
    cast: Cast, draft: Pattern
) -> None:
    shown = begin(draft.project, acting=cast.teacher)
    assert not shown.chosen
    handed = mine(hand_in(mine(draft), acting=draft.project.student))
    assert handed.state == Pattern.State.HANDED_IN
    tries.choose(shown, acting=cast.teacher)
    assert Layout.objects.get(chosen=True) == shown


def test_a_student_does_not_renew_what_the_teacher_nudged(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    hand_in(mine(draft), acting=draft.project.student)
    own.refresh_from_db()
    nudged = nudge_layout(own, acting=cast.teacher)
    Brief.objects.update(kerf_mm="0.40")
    answer = signed_in(cast.owner).post(reverse("layout_renew", args=[nudged.pk]))
    assert answer.status_code == 409
    nudged.refresh_from_db()
    assert nudged.version == 0


def laid_by_server() -> None:
    Brief.objects.update(laid_by=Brief.LaidBy.SERVER)


def approved() -> None:
    Project.objects.update(stage=Project.Stage.PATTERN_APPROVED)


@pytest.mark.parametrize("closing", [laid_by_server, approved])
def test_what_can_no_longer_be_laid_is_not_renewed(
    draft: Pattern, own: Layout, closing: Any
) -> None:
    Brief.objects.update(kerf_mm="0.40")
    closing()
    with pytest.raises(Refused):
        renew_layout(Layout.objects.get(pk=own.pk), acting=own.owner)
    own.refresh_from_db()
    assert own.version == 0


def test_a_nudge_is_a_copy_of_the_students_whatever_else_the_teacher_has_tried(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    begin(draft.project, acting=cast.teacher)
    hand_in(mine(draft), acting=draft.project.student)
    own.refresh_from_db()
    nudged = nudge_layout(own, acting=cast.teacher)
    assert nudged.placements == own.placements
    assert nudge_layout(own, acting=cast.teacher) == nudged


def test_where_the_chosen_try_is_deleted_the_students_newest_counts(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    second = begin(draft.project, acting=own.owner)
    third = begin(draft.project, acting=own.owner)
    begin(draft.project, acting=cast.teacher)
    assert not second.chosen
    tries.drop(own, acting=own.owner)
    assert Layout.objects.get(chosen=True) == third


def test_a_students_table_opens_at_their_own_try_and_not_at_the_teachers(
    cast: Cast, draft: Pattern
) -> None:
    shown = begin(draft.project, acting=cast.teacher)
    there = reverse("project_layout", args=[draft.project_id])
    to_teachers = signed_in(cast.teacher).get(there)["Location"]
    assert to_teachers == reverse("layout", args=[shown.pk])
    desk = signed_in(cast.owner)
    first = desk.get(there)["Location"]
    own = Layout.objects.get(owner=cast.owner)
    assert first == reverse("layout", args=[own.pk]) == desk.get(there)["Location"]
    assert own.chosen


def test_another_state_that_is_handed_in_is_nudged_anew(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    handed = mine(hand_in(mine(draft), acting=own.owner))
    own.refresh_from_db()
    before = nudge_layout(own, acting=cast.teacher)
    desk, page = signed_in(cast.teacher), reverse("pattern_review", args=[handed.pk])
    assert "Nudge it" not in words(desk.get(page))
    take_back(handed, acting=own.owner)
    own.refresh_from_db()
    change.put(own, [Move(own.laid[0].piece, 0, replace(own.laid[0], y_mm=40.0))], acting=own.owner)
    hand_in(mine(draft), acting=own.owner)
    own.refresh_from_db()
    assert "Nudge it" in words(desk.get(page))
    after = nudge_layout(own, acting=cast.teacher)
    assert after != before
    assert after.placements == own.placements


@pytest.mark.parametrize("deed", ["rename", "drop"])
def test_a_try_that_the_other_window_has_deleted_is_told_to_be_gone(own: Layout, deed: str) -> None:
    other_window = Layout.objects.get(pk=own.pk)
    other_window.project = own.project
    tries.drop(own, acting=own.owner)
    named = {"name": "Mine"} if deed == "rename" else {}
    with pytest.raises(Refused, match="deleted meanwhile"):
        getattr(tries, deed)(other_window, acting=own.owner, **named)


def test_a_first_try_that_is_asked_for_twice_at_once_is_one(cast: Cast, draft: Pattern) -> None:
    first = begin_first(draft.project, acting=cast.owner)
    assert begin_first(draft.project, acting=cast.owner) == first
    assert first.chosen
