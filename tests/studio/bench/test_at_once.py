"""Two presses at the very same moment, on real connections: one counts."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest

from classroom.refusals import Refused
from inventory.models import ScrapEntry
from studio.core.bench.texts import BenchStepKind
from studio.models import CutPlan, Project, Quote, SignOff, StepWording, TabletDeed
from studio.steps.bench.sign import send_back, sign_done, start_step
from studio.steps.bench.tablet import open_tablet, sign_on_tablet
from studio.steps.bench.wording import reword
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.at_once import done_or_refused

from .making import World, give_permits, step_of

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_step_started_twice_at_once_is_started_once(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    steps = [step_of(project, "prepare") for _ in range(4)]
    done_or_refused(*(lambda s=s: start_step(s, acting=world.cast.owner) for s in steps))  # type: ignore[misc]
    assert SignOff.objects.filter(kind="started").count() == 1


def test_one_form_of_a_tablet_sent_four_times_at_once_is_one_deed(world: World) -> None:
    project = world.at_bench()
    cast = world.cast
    give_permits(cast, cast.owner)
    tablet, _ = open_tablet(cast.course, acting=cast.teacher)
    step, key = step_of(project, "prepare"), uuid.uuid4()

    def send() -> object:
        return sign_on_tablet(tablet, step, what="start", key=key, acting=cast.owner)

    answers = done_or_refused(send, send, send, send)
    assert [getattr(answer, "pk", answer) for answer in answers] == [step.pk] * 4
    assert TabletDeed.objects.count() == 1
    assert SignOff.objects.filter(kind="started").count() == 1


def test_two_teachers_who_reword_a_step_at_once_make_one_version(world: World) -> None:
    cast = world.cast

    def say(words: str) -> object:
        kept = {"right_when": ("It looks right.",), "mistakes": (), "seen": 0}
        return reword(cast.school, BenchStepKind.SAW, do=(words,), acting=cast.teacher, **kept)  # type: ignore[arg-type]

    answers = done_or_refused(lambda: say("Saw slowly."), lambda: say("Saw upright."))
    assert sum(isinstance(answer, Refused) for answer in answers) == 1
    assert StepWording.objects.count() == 1


def test_a_step_signed_twice_at_once_is_signed_once(world: World) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    steps = [step_of(project, "prepare") for _ in range(4)]
    done_or_refused(*(lambda s=s: sign_done(s, acting=world.cast.owner) for s in steps))  # type: ignore[misc]
    assert SignOff.objects.filter(kind="done").count() == 1


def test_a_step_is_not_sent_back_under_the_next_one(world: World) -> None:
    """Either the next step was started first, or it finds the step before it open."""
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    sign_done(step_of(project, "prepare"), acting=world.cast.owner)
    before, after = step_of(project, "prepare"), step_of(project, "adhere")
    done_or_refused(
        lambda: send_back(before, acting=world.cast.teacher, reason="dark spots"),
        lambda: start_step(after, acting=world.cast.owner),
    )
    begun = step_of(project, "adhere").started_at is not None
    done = step_of(project, "prepare").done_at is not None
    assert begun == done


def test_a_plan_closed_twice_at_once_is_closed_once(world: World) -> None:
    world.issued(world.project(world.cast.seat))
    Project.objects.update(stage=Project.Stage.MADE)
    plans = [CutPlan.objects.select_related("course", "metal").get() for _ in range(3)]
    kept = every_offcut(plans[0])

    def close(plan: CutPlan) -> object:
        return close_plan(
            plan, acting=world.cast.teacher, offcuts_kept=kept, scrap_mass_g=Decimal("1.5")
        )

    answers = done_or_refused(*(lambda p=p: close(p) for p in plans))  # type: ignore[misc]
    assert len({getattr(answer, "pk", None) for answer in answers}) == 1
    assert ScrapEntry.objects.count() == 1
    assert Quote.objects.filter(kind="settled").count() == 1
