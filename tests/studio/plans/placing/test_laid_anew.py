"""What an earlier version laid and nobody approved is laid anew; the rest keeps its rules."""

from __future__ import annotations

import pytest

from classroom.models import History, subject_of
from classroom.refusals import Refused
from inventory.models import StockPiece
from studio.models import CutPlan
from studio.running.placing.anew import lay_anew
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.place import place_again
from tests.studio.bench.making import World

pytestmark = pytest.mark.django_db

NEW = ("gap_mm", "shared_mm", "straight_min_mm", "worth", "fixed", "start")


def as_before(plan: CutPlan) -> CutPlan:
    """The plan as the version before has stored it."""
    job = {name: value for name, value in plan.job.items() if name not in NEW}
    CutPlan.objects.filter(pk=plan.pk).update(job=job | {"version": 1.1})
    return CutPlan.objects.get(pk=plan.pk)


def test_a_proposed_plan_of_earlier_rules_is_asked_for_anew_with_a_note(world: World) -> None:
    old = as_before(world.plan([world.project(world.cast.seat)]))
    assert lay_anew() == 1
    old.refresh_from_db()
    assert old.state == CutPlan.State.DROPPED
    new = CutPlan.objects.get(shares__live=True)
    assert (new.state, new.asked.hands is not None) == (CutPlan.State.PLACING, True)
    assert (new.seed, new.created_by) == (old.seed, old.created_by)
    notes = History.objects.filter(subject=subject_of(new), verb="plan-laid-anew")
    assert [note.text for note in notes] == [
        f"laid the pieces of plan {old.pk} anew: they get room for saw and file now"
    ]
    assert lay_anew() == 0


def test_what_is_approved_keeps_its_rules(world: World) -> None:
    plan = as_before(world.approved(world.project(world.cast.seat)))
    issued = as_before(
        world.issued(world.project(world.cast.classmate_seat), sheets=world.sheets[1:])
    )
    assert lay_anew() == 0
    for one in (plan, issued):
        again = CutPlan.objects.get(pk=one.pk)
        assert (again.state, again.job) == (one.state, one.job)


def test_one_that_cannot_be_asked_for_stays_and_is_not_approved(world: World) -> None:
    old = as_before(world.plan([world.project(world.cast.seat)]))
    StockPiece.objects.update(state="gone")
    assert lay_anew() == 0
    old.refresh_from_db()
    assert old.state == CutPlan.State.PROPOSED
    assert old.shares.filter(live=True).count() == 1
    StockPiece.objects.update(state="rack")
    with pytest.raises(Refused, match="Place them again"):
        approve_plan(old, acting=world.cast.teacher)
    old.refresh_from_db()
    assert place_again(old, acting=world.cast.teacher).asked.hands is not None


def test_a_shared_plan_from_before_sheets_were_shared_by_rule_is_laid_anew(world: World) -> None:
    projects = [world.project(seat) for seat in (world.cast.seat, world.cast.classmate_seat)]
    old = world.plan(projects)
    CutPlan.objects.filter(pk=old.pk).update(way="")
    with pytest.raises(Refused, match="before sheets were shared by rule"):
        approve_plan(CutPlan.objects.get(pk=old.pk), acting=world.cast.teacher)
    assert lay_anew() == 1
    new = CutPlan.objects.get(shares__live=True, shares__project=projects[0])
    assert new.pk != old.pk
    assert (new.state, new.way) == (CutPlan.State.PLACING, CutPlan.Way.SAWN)
    assert new.shares.filter(live=True).count() == 2
    (note,) = History.objects.filter(subject=subject_of(new), verb="plan-laid-anew")
    assert note.text == (
        f"laid the pieces of plan {old.pk} anew: their students get metal of their own, or a turn "
        "at the sheet, now"
    )
    assert lay_anew() == 0
